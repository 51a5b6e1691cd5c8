"""`cornerwise gauge-study`: a file in, the spread of instrument and hand out."""

import io

import numpy as np
import pytest

from core.records.accuracy_file import FILE_NAME, load_setup
from ui.command_line.cli import main
from ui.start import BenchOptions, assembled
from ui.terminal.text_bench import TextBench


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


def test_what_it_found_weighs_the_coupons_begun_from_then_on(file, tmp_path, capsys):
    folder = tmp_path / "data"
    assert main(["gauge-study", file, "--tolerance", "0.4", "--remember", "--data", str(folder)]) == 0
    assert "Remembered" in capsys.readouterr().out
    found = load_setup(folder).caliper.repeatability
    assert found == pytest.approx(0.03, rel=0.4)
    out = io.StringIO()
    with assembled(BenchOptions(folder=folder)) as bench:
        TextBench(bench, out, columns=None).run(["new 120x80", "near 119.9", "quit"], quit_at_end=True)
        assert bench.snapshot.setup.caliper.repeatability == found
        assert bench.snapshot.setup.typed_repeatability_mm == max(found, 0.02)


def test_a_damaged_file_of_accuracies_does_not_stop_the_bench(tmp_path):
    (tmp_path / FILE_NAME).write_text("{")
    out = io.StringIO()
    with assembled(BenchOptions(folder=tmp_path)) as bench:
        TextBench(bench, out, columns=None).run(["new 120x80", "near 119.9", "quit"], quit_at_end=True)
    assert "Measuring with the usual accuracies" in out.getvalue()
    assert "Accepted: near edge" in out.getvalue()
