"""An instrument set up by hand: everything a cable may need can be said, and what contradicts itself is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from core.metrology.readings import Quantity, Unit
from firmware_bridge.decoders.ascii_lines import AngleRange
from firmware_bridge.decoders.binary_24bit import LAYOUTS
from firmware_bridge.instrument_settings import Capture, GaugeKind, Sends
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.wire_formats import WIRE_FORMATS, Framing, Parity
from ui.command_line.cli import main


def set_up(data: Path, *options: str) -> int:
    return main(["instruments", "--data", str(data), "--set", "mine", "--port", "/dev/x", *options])


def test_every_setting_of_a_caliper_can_be_said(tmp_path: Path) -> None:
    options = (
        "--format length-3.3 --line 2400-7O1 --dtr low --rts high --unit inch --sends asked --hold 0.7 --band 0.02"
    )
    assert set_up(tmp_path, *options.split(), "--capture", "data-button") == 0
    (mine,) = SettingsStore(tmp_path).load()
    assert mine.framing == Framing(baud=2400, data_bits=7, parity=Parity.ODD, stop_bits=1, dtr=False, rts=True)
    assert (mine.options.unit, mine.sends, mine.capture) == (Unit.INCH, Sends.ASKED, Capture.DATA_BUTTON)
    assert (mine.hold.time_s, mine.hold.band) == (0.7, 0.02)
    assert mine.poll_s is not None


def test_a_tilt_gauge_and_a_multiplexer(tmp_path: Path) -> None:
    assert set_up(tmp_path, "--format", "angle-plain", "--kind", "tilt", "--range", "0-360") == 0
    (gauge,) = SettingsStore(tmp_path).load()
    assert (gauge.gauge_kind, gauge.options.angle_range, gauge.quantity) == (
        GaugeKind.TILT,
        AngleRange.TO_360,
        Quantity.ANGLE,
    )
    assert set_up(tmp_path, "--format", "channels-lettered", "--channel", "01=long", "--channel", "2=short") == 0
    (box,) = SettingsStore(tmp_path).load()
    assert dict(box.channels) == {"1": "long", "2": "short"}


def test_an_instrument_that_types_sends_on_its_button(tmp_path: Path) -> None:
    assert set_up(tmp_path, "--format", "typed-length") == 0
    (mine,) = SettingsStore(tmp_path).load()
    assert (mine.sends, mine.capture) == (Sends.BUTTON, Capture.DATA_BUTTON)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ("--format runes", "must be one of"),
        ("--format length-3.3 --line fast", "such as 9600-8N1"),
        ("--format angle-x --sends asked", "cannot be asked"),
        ("--format length-3.3 --channel one=a", "a number and a name"),
        ("--format angle-plain --kind tilt --range 0-180", "hides which way"),
        ("--format length-3.3 --hold 0", "more than zero"),
        ("--format length-3.3 --line 99-8N1", "such as"),
    ],
)
def test_what_contradicts_itself_is_refused(
    options: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert set_up(tmp_path, *options.split()) == 65
    assert words in capsys.readouterr().err
    assert SettingsStore(tmp_path).load() == ()


def test_port_and_format_are_needed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["instruments", "--data", str(tmp_path), "--set", "mine"]) == 65
    assert "--port PATH" in capsys.readouterr().err


def test_forgetting(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    set_up(tmp_path, "--format", "length-3.3")
    assert main(["instruments", "--data", str(tmp_path), "--forget", "/dev/x"]) == 0
    assert main(["instruments", "--data", str(tmp_path), "--forget", "/dev/x"]) == 65
    assert "no instrument is remembered" in capsys.readouterr().err


def test_every_format_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["instruments", "--formats"]) == 0
    said = capsys.readouterr().out
    assert all(name in said for name in WIRE_FORMATS)
    rows = said.splitlines()
    assert "  |+012.345|                  length-3.3         4800 7E2, 9600 7E2" in rows
    assert any(row.endswith("length-3.3         asked by ? CR") for row in rows)
    assert all(len(row) <= 80 for row in rows[:-1])
    # Every line as a manual prints it stands in a row of its own, with the name of its format beside it.
    for format_name, wire in WIRE_FORMATS.items():
        for line in wire.lines:
            assert any(row.startswith(f"  |{line}|") and f" {format_name}" in row for row in rows), line
    assert all(any(row.startswith(f"  --binary {layout} ") for row in rows) for layout in LAYOUTS)
