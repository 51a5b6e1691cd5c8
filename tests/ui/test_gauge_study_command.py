"""`cornerwise gauge-study`: a file in, the spread of instrument and hand out."""

import numpy as np
import pytest

from ui.cli import main


@pytest.fixture
def file(tmp_path):
    random = np.random.default_rng(4)
    parts = random.normal(120.0, 0.2, 6)
    lines = [
        f"{operator},{part},{size + random.normal(0.0, 0.03):.2f},mm"
        for operator in ("Ana", "Ben")
        for part, size in enumerate(parts)
        for _ in range(3)
    ]
    path = tmp_path / "study.csv"
    path.write_text("\n".join(["operator,part,value,unit", *lines]))
    return str(path)


def test_it_says_what_the_instrument_is_good_for_and_how_to_use_it(file, capsys):
    assert main(["gauge-study", file, "--tolerance", "0.4"]) == 0
    text = capsys.readouterr().out
    assert "2 operators x 6 parts x 3 trials" in text
    assert "of a tolerance of ±0.4 mm" in text
    repeatability = float(text.split("--caliper rep=")[1])
    assert repeatability == pytest.approx(0.03, rel=0.4)


def test_bad_input_is_one_line(file, tmp_path, capsys):
    assert main(["gauge-study", str(tmp_path / "no.csv"), "--tolerance", "0.4"]) == 65
    assert main(["gauge-study", file, "--tolerance", "-1"]) == 65
    one = tmp_path / "one.csv"
    one.write_text("operator,part,value,unit\nAna,1,120,mm\n")
    assert main(["gauge-study", str(one), "--tolerance", "0.4"]) == 65
    assert capsys.readouterr().out == ""
