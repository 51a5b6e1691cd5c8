from __future__ import annotations

import sqlite3
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Reading, Unit
from core.metrology.tolerances import Limits
from core.records.archive import Archive
from core.records.events import Closed, Opened, ReadingAccepted
from core.records.saved_bench import ARCHIVE
from core.records.session_id import folder_name, is_session_id
from hardware.usb_gadget import show_on_cable
from hardware.usb_stick import find_sticks
from ui.command_line import export_command
from ui.command_line.cli import main
from ui.terminal.exit_status import ExitStatus

CLOSED = Closed(verdict="go", size_verdict="go", skew_deg=0.0, skew_u95_deg=0.06, software="cornerwise 0.1.0")
COUPON = Coupon(width_mm=120.0, height_mm=80.0)


@pytest.fixture
def sessions(tmp_path: Path) -> list[str]:
    """Two sessions in the archive of simulated data below tmp_path."""
    archive = Archive.open(tmp_path / "simulated" / ARCHIVE, lambda: datetime(2026, 3, 1, 14, 5, tzinfo=UTC))
    opened = Opened(
        coupon=COUPON,
        limits=Limits(source="own limits", perpendicularity_mm=0.4),
        setup=MeasuringSetup(),
        simulated=True,
        software="cornerwise 0.1.0",
    )
    ids = []
    for _ in range(2):
        ids.append(archive.begin(opened))
        for feature in TEN_FEATURES:
            unit = Unit.MM if feature.is_length else Unit.DEG
            reading = Reading(feature=feature, value=COUPON.nominal(feature), unit=unit)
            archive.append(ids[-1], ReadingAccepted(reading=reading))
        archive.append(ids[-1], CLOSED)
    archive.close()
    return ids


def test_export_then_import_on_another_bench(
    tmp_path: Path, sessions: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    bench = ["--simulate", "--data", str(tmp_path)]
    assert main([*bench, "export", "last", "--to", str(tmp_path / "out")]) == ExitStatus.OK
    folder = Path(capsys.readouterr().out.strip())
    assert folder == tmp_path / "out" / sessions[1]
    assert main(["--simulate", "--data", str(tmp_path / "b"), "import", str(folder)]) == ExitStatus.OK
    assert "taken over" in capsys.readouterr().out
    assert main(["--simulate", "--data", str(tmp_path / "b"), "import", str(folder)]) == ExitStatus.OK
    assert "already" in capsys.readouterr().out


def test_a_session_is_named_by_its_beginning(tmp_path: Path, sessions: list[str]) -> None:
    words = ["--simulate", "--data", str(tmp_path), "export", sessions[0][:-3], "--to", str(tmp_path / "out")]
    assert main(words) == ExitStatus.OK
    assert [path.name for path in (tmp_path / "out").iterdir()] == [sessions[0]]


@pytest.mark.parametrize(("named", "said"), [("2026", "several sessions begin"), ("1999", "there is no session")])
def test_a_name_that_fits_none_or_several_is_refused(
    tmp_path: Path, sessions: list[str], capsys: pytest.CaptureFixture[str], named: str, said: str
) -> None:
    status = main(["--simulate", "--data", str(tmp_path), "export", named, "--to", str(tmp_path / "out")])
    assert status == ExitStatus.BAD_INPUT
    err = capsys.readouterr().err
    assert said in err
    assert sessions[1] in err
    assert not (tmp_path / "out").exists()


def test_without_an_archive_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--data", str(tmp_path), "export", "last", "--to", str(tmp_path)]) == ExitStatus.BAD_INPUT
    assert "no archive yet" in capsys.readouterr().err


def test_without_stick_or_cable_it_says_so(
    tmp_path: Path, sessions: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever is plugged into the machine the tests run on is left alone."""
    monkeypatch.setattr(export_command, "find_sticks", lambda: find_sticks(tmp_path / "no devices"))
    monkeypatch.setattr(
        export_command, "show_on_cable", partial(show_on_cable, images=tmp_path, gadget=tmp_path / "none")
    )
    for option, said in (("--stick", "no USB stick is plugged in"), ("--cable", "use a stick")):
        assert main(["--simulate", "--data", str(tmp_path), "export", "last", option]) == ExitStatus.NOT_AVAILABLE
        assert said in capsys.readouterr().err


@pytest.mark.parametrize("stored", ["", "*", "a/b"])
def test_a_name_that_another_begins_with_is_still_one(
    tmp_path: Path, sessions: list[str], capsys: pytest.CaptureFixture[str], stored: str
) -> None:
    """Earlier releases let any name in, the empty one too, which each other begins with."""
    with sqlite3.connect(tmp_path / "simulated" / ARCHIVE) as connection:
        for number, name in enumerate((stored, f"{stored}-2")):
            for table, column in (("session", "id"), ("event", "session_id"), ("log_head", "log")):
                connection.execute(f"UPDATE {table} SET {column} = ? WHERE {column} = ?", (name, sessions[number]))
    connection.close()
    export = ["--simulate", "--data", str(tmp_path), "export", "--to", str(tmp_path / "out"), "--", stored]
    assert main(export) == ExitStatus.OK
    assert [path.name for path in (tmp_path / "out").iterdir()] == [folder_name(stored)]


def test_names_that_earlier_releases_let_in_steer_no_terminal(
    tmp_path: Path, sessions: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "simulated" / ARCHIVE
    with sqlite3.connect(path) as connection:
        for table, column in (("session", "id"), ("event", "session_id")):
            connection.execute(f"UPDATE {table} SET {column} = '\x1b[2J\u202e../x' WHERE {column} = ?", (sessions[1],))
    connection.close()
    bench = ["--simulate", "--data", str(tmp_path)]
    assert main([*bench, "export", "nothing such", "--to", str(tmp_path / "out")]) == ExitStatus.BAD_INPUT
    told = capsys.readouterr().err
    assert r"\x1b[2J\u202e../x" in told
    assert told.replace("\n", "").isprintable()
    assert main([*bench, "export", "last", "--to", str(tmp_path / "out")]) == ExitStatus.OK
    (folder,) = (tmp_path / "out").iterdir()
    assert is_session_id(folder.name)
