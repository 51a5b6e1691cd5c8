"""`cornerwise instruments`: on the simulated workshop, on captures, on strange ports, and with nothing there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from core.metrology.readings import Quantity
from firmware_bridge.discovery import Port
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from ui.command_line import instruments_command
from ui.command_line.cli import main


def test_the_simulated_instruments_say_what_they_speak_and_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    captures = tmp_path / "captures"
    assert main(["instruments", "--simulate", "--listen", "1", "--record", str(captures)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("SIMULATED")
    assert "speaks: angle, X= or Y=, 9600 8E1" in said
    assert "a second)" in said
    assert "cable: up" in said
    assert sorted(file.name for file in captures.iterdir()) == ["angle-gauge.capture", "caliper.capture"]

    assert main(["instruments", "--replay", str(captures / "caliper.capture")]) == 0
    replayed = capsys.readouterr().out
    assert replayed.startswith("REPLAY")
    assert "mm\n" in replayed
    assert "meant" not in replayed  # every line was the answer to a request

    assert main(["instruments", "--simulate", "--listen", "1", "--record", str(captures)]) == 65
    assert "not written over" in capsys.readouterr().err


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[PseudoTerminal]:
    cable = PseudoTerminal(tmp_path / "port")
    cable.plug()
    yield cable
    cable.pull()


def test_a_remembered_instrument_is_heard_with_its_faults(
    tmp_path: Path, cable: PseudoTerminal, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(instruments_command, "plugged_in", lambda: ())
    for name, path in (("caliper", cable.path), ("old caliper", tmp_path / "gone")):
        settings = InstrumentSettings(name=name, port=str(path), format_name="length-3.3", quantity=Quantity.LENGTH)
        SettingsStore(tmp_path / "data").remember(settings)

    class Talking:
        """Speaks as soon as the link has opened the port."""

        def __init__(self) -> None:
            self._make_link = instruments_command.make_link

        def __call__(self, settings: InstrumentSettings, tap: object = None) -> object:
            link = self._make_link(settings)
            start = link.start

            def start_and_speak(post: object) -> None:
                def heard(event: object) -> None:
                    post(event)  # type: ignore[operator]
                    if "up" in str(getattr(event, "state", "")):
                        cable.write(b"+012.345\rERR1\r+012.350\r")

                start(heard)

            link.start = start_and_speak  # type: ignore[method-assign]
            return link

    monkeypatch.setattr(instruments_command, "make_link", Talking())
    assert main(["instruments", "--data", str(tmp_path / "data"), "--listen", "0.5"]) == 0
    said = capsys.readouterr().out
    assert "12.350 mm (2 indications" in said
    assert "refused 1: the instrument reports an error" in said
    assert "old caliper" in said
    assert "cable: not plugged in" in said


def test_nothing_plugged_in_is_status_69(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(instruments_command, "plugged_in", lambda: ())
    assert main(["instruments", "--data", str(tmp_path)]) == 69
    assert "no serial port is plugged in" in capsys.readouterr().err


def test_a_strange_port_is_listened_to_when_wanted_and_a_built_in_one_is_not(
    tmp_path: Path, cable: PseudoTerminal, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    ports = (
        Port(path=str(cable.path), device=str(cable.path), description="adapter", by_socket=True),
        Port(path="/dev/ttyS0", device="/dev/ttyS0", description="uart", built_in=True),
    )
    monkeypatch.setattr(instruments_command, "plugged_in", lambda: ports)
    with monkeypatch.context() as closed:
        closed.setattr(instruments_command, "recognise", None)
        assert main(["instruments", "--data", str(tmp_path / "data")]) == 0
    assert "not opened: with --open it is listened to" in capsys.readouterr().out
    assert main(["instruments", "--open", "--data", str(tmp_path / "data")]) == 0
    said = capsys.readouterr().out
    assert "silent: press its data button" in said
    assert "known by the socket" in said
    assert "not listened to without --ask" in said


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "inf", "soon"])
def test_listening_for_no_time_is_bad_usage(seconds: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["instruments", "--listen", seconds])
    assert ended.value.code == 64


def test_a_file_that_is_no_capture_is_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x").write_text("1\n")
    assert main(["instruments", "--replay", str(tmp_path / "x")]) == 65
    assert "line 1" in capsys.readouterr().err
