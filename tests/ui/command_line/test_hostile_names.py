"""Every command, given names that steer a terminal: nothing printed does, and each ends with a status of ours."""

from __future__ import annotations

import json
import unicodedata
from contextlib import closing
from pathlib import Path

import pytest

from core.machine.profile import MachineProfile
from core.records.archive import Archive
from tests.endurance.bit_flips import make_archive, now
from ui.command_line.cli import build_parser, main
from ui.terminal.harmless_stream import harmless

# Clears the screen, sets the title, C1's introducer, turns the line round, hides, half a letter, a byte of no UTF-8.
HOSTILE = "\x1b[2J\x1b]0;x\x07\x9b31m\u202e\u200b\ud83d\udcff\r\x7fz"
IN_A_PATH = HOSTILE.replace("\ud83d", "")
# What each is called with; every command of the program is here.
CALLS: dict[str, list[list[str]]] = {
    "evaluate": [["FILE.csv"], ["CSV"], ["CSV", "--json"], [HOSTILE], ["CSV", "--class", HOSTILE]],
    "coupon": [["--size", HOSTILE, "OUT.svg"], ["--size", "120x80", "FILE.svg"], ["--size", "120x80", "MISSING/o.svg"]],
    "correct-design": [["FILE.svg", "OUT.svg"], ["SVG", "OUT.svg", "--size", HOSTILE]],
    "belts": [[HOSTILE, HOSTILE], ["--length", HOSTILE]],
    "bed-map": [[HOSTILE], ["--machine", HOSTILE, HOSTILE]],
    "doctor": [[], ["--json"]],
    "export": [[HOSTILE, "--to", "DIR"], ["last", "--to", "DIR"], ["last", "--to", "FILE.svg"]],
    "fault-report": [["--to", "DIR"], ["--to", "DIR", "--with-session"], ["--to", "FILE.svg"]],
    "gauge-study": [["FILE.csv"], ["CSV"], [HOSTILE]],
    "import": [["DIR"], ["MISSING"], [HOSTILE]],
    "instruments": [["--replay", "FILE.svg"], ["--port", HOSTILE], ["--forget", HOSTILE], []],
    "save-bench": [["--to", "DIR"], ["--to", "FILE.svg"]],
    "restore-bench": [["DIR"], ["MISSING"]],
    "shop": [["join", HOSTILE], ["join", "--from", "FILE.svg"], ["status"], ["send"], ["leave"]],
}
STATUSES = {0, 1, 2, 3, 64, 65, 69}


@pytest.fixture
def places(tmp_path: Path) -> dict[str, str]:
    """Files and folders with hostile names and contents, and an archive with a hostile machine."""
    data = tmp_path / "data"
    make_archive(data / "archive.sqlite", 3)
    with closing(Archive.open(data / "archive.sqlite", now)) as archive:
        archive.save_machine(MachineProfile(name="template \x1b[2Jrouter", span_mm=640.0))
    folder = tmp_path / IN_A_PATH
    folder.mkdir()
    csv = folder / "readings.csv"
    csv.write_text("feature,value,unit\nnear,\x1b[31m119.9,mm\n\x9b2J,1,mm\n", encoding="utf-8")
    hostile_csv = tmp_path / f"{IN_A_PATH}.csv"
    hostile_csv.write_text("feature,value,unit\nnl-fr,144.61,mm\nnr-fl,143.85,mm\n", encoding="utf-8")
    svg = tmp_path / f"{IN_A_PATH}.svg"
    svg.write_text("<svg><text>\x9b2J</text>", encoding="utf-8")
    return {
        "DATA": str(data), "DIR": str(folder), "CSV": str(csv), "FILE.csv": str(hostile_csv), "FILE.svg": str(svg),
        "SVG": str(svg), "OUT.svg": str(folder / "out.svg"), "MISSING": str(folder / "none"),
        "MISSING/o.svg": str(folder / "none" / "o.svg"),
    }  # fmt: skip


def test_the_walk_knows_every_command() -> None:
    (commands,) = (action for action in build_parser()._actions if action.metavar == "COMMAND")
    assert set(CALLS) == set(commands.choices or ())


@pytest.mark.parametrize("command", CALLS)
def test_no_command_prints_what_steers_a_terminal(
    command: str, places: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    for call in CALLS[command]:
        words = [places.get(word, word) for word in call]
        try:
            status = main(["--data", places["DATA"], command, *words])
        except SystemExit as ended:
            status = int(ended.code or 0)
        printed = capsys.readouterr()
        assert status in STATUSES, (call, printed.err)
        for text in (printed.out, printed.err):
            steering = {letter for letter in text if letter not in "\n\t" and not is_harmless(letter)}
            assert steering == set(), call


def is_harmless(letter: str) -> bool:
    return unicodedata.category(letter) not in {"Cc", "Cf", "Cs", "Zl", "Zp"}


def test_what_is_written_out_reads_back_as_json() -> None:
    name = "a\x9bb\u202ec\U000e0001d"
    assert json.loads(harmless(json.dumps(name, ensure_ascii=False))) == name


def test_an_option_that_is_none_is_named_harmlessly(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([f"--{HOSTILE}"])
    assert "\x1b" not in capsys.readouterr().err
