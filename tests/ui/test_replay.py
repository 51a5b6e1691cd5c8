"""A capture from a workshop played on the bench: the same presses become the same readings, stamped as simulated."""

from __future__ import annotations

import threading
from pathlib import Path

from core.geometry.features import Feature
from core.metrology.readings import Quantity
from firmware_bridge.instrument_settings import Capture, InstrumentSettings, Sends
from firmware_bridge.recording import Recorder
from tests.patience import WAIT_S
from ui.command_line.cli import main
from ui.start import BenchOptions, assembled


def capture(folder: Path) -> Path:
    settings = InstrumentSettings(
        name="caliper",
        port="/dev/x",
        format_name="length-3.3",
        quantity=Quantity.LENGTH,
        sends=Sends.BUTTON,
        capture=Capture.DATA_BUTTON,
    )
    recorder = Recorder(folder / "caliper.capture", settings, None)
    recorder.received(b"\xffnoise\r+143.620\r", 10.0)
    recorder.close()
    return folder / "caliper.capture"


def test_a_press_in_the_capture_becomes_a_reading(tmp_path: Path) -> None:
    woken = threading.Event()
    with assembled(BenchOptions(folder=tmp_path, replay=capture(tmp_path))) as bench:
        bench.subscribe(woken.set)
        while not bench.pump().readings:
            assert woken.wait(WAIT_S), "nothing came of the capture"
            woken.clear()
        snapshot = bench.snapshot
    assert [(item.reading.feature, item.reading.value) for item in snapshot.readings] == [(Feature.NL_FR, 143.62)]
    assert snapshot.simulated
    assert [(one.name, one.faults) for one in snapshot.instruments] == [("caliper", 1)]


def test_a_file_that_is_no_capture_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("1\n")
    assert main(["--text", "--replay", str(tmp_path / "x"), "--data", str(tmp_path)]) == 65
