"""`cornerwise doctor`: its text, its JSON, its status."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from core.said import Name
from hardware.checkup import Check, Standing
from hardware.doctor import is_well
from ui.command_line.cli import main
from ui.command_line.doctor_command import as_text

GOOD = Check(name="disk", standing=Standing.OK, says=Name("/data: 12.0 GB free"))
GONE = Check(name="gpio", standing=Standing.ABSENT, says=Name("no pins on this machine"))
BAD = Check(name="clock", standing=Standing.NOT_OK, says=Name("1970-01-01, but nobody set it"), to_do=Name("set it"))


def test_what_is_absent_is_not_wrong() -> None:
    assert is_well([GOOD, GONE])
    assert not is_well([GOOD, GONE, BAD])


def test_each_check_has_its_line_and_its_remedy() -> None:
    text = as_text([GOOD, GONE, BAD])
    assert str(text).splitlines() == [
        "ok      disk   /data: 12.0 GB free",
        "-       gpio   no pins on this machine",
        "NOT OK  clock  1970-01-01, but nobody set it",
        "               to do: set it",
        "",
        "Not ok: clock.",
    ]


def test_on_this_machine_it_names_everything_and_ends_with_its_verdict(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main(["doctor", "--json", "--data", str(tmp_path)])
    said = json.loads(capsys.readouterr().out)
    names = [check["name"] for check in said["checks"]]
    for name in ("display", "touch", "fonts", "gpio", "disk", "clock", "usb cable", "power", "watchdog", "helper"):
        assert name in names
    assert any(name.startswith("port") for name in names)
    wrong = [check for check in said["checks"] if check["standing"] == "not ok"]
    assert said["ok"] is (not wrong)
    assert status == (69 if wrong else 0)
    assert all(check["to_do"] for check in wrong)


@pytest.mark.parametrize(("uid", "looks"), [(0, "an instrument's"), (1000, "their own")])
def test_who_looks_after_an_instrument_by_sudo_is_told_of_its_records(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], uid: int, looks: str
) -> None:
    """The doctor told root of the room in its home, and of a bench that was alone whatever it had joined."""
    folders = {"an instrument's": tmp_path / "instrument", "their own": tmp_path / "own"}
    for folder in folders.values():
        folder.mkdir()
    monkeypatch.delenv("CORNERWISE_DATA", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(folders["their own"]))
    monkeypatch.setattr("ui.command_line.data_folder.INSTRUMENT", folders["an instrument's"])
    monkeypatch.setattr("os.geteuid", lambda: uid)
    main(["doctor", "--json"])
    disk = next(one for one in json.loads(capsys.readouterr().out)["checks"] if one["name"] == "disk")
    assert disk["says"].startswith(f"{folders[looks]}:")
    main(["fault-report", "--to", str(tmp_path)])
    (report,) = tmp_path.glob("*report*")
    assert f"{folders[looks]}:" in (report / "doctor.json").read_text()
