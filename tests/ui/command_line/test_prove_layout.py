"""`cornerwise instruments --prove`: two openings, and the layout is known by its frames."""

from __future__ import annotations

from pathlib import Path

import pytest

from core.errors import BadInputError
from core.metrology.readings import Quantity
from firmware_bridge.decoders.binary_24bit import LAYOUTS
from firmware_bridge.decoders.packet_lines import PacketLayout, packet_line
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.firmware_bridge.decoders.wire_encoders import binary_bits
from tests.firmware_bridge.test_discovery import speaking
from ui.command_line import prove_layout
from ui.command_line.prove_layout import prove
from ui.speech.speech import Speech
from ui.terminal.exit_status import ExitStatus


class Jaws:
    """A caliper whose frames begin with a bit that is always one; its person reads the display."""

    def __init__(self, displays: float) -> None:
        self.hundredths, self.displays = 0, displays

    def speak(self, cable: PseudoTerminal) -> None:
        cable.write(b"1" + binary_bits(self.hundredths, False, False)[:23].encode() + b"\r\n")

    def answer(self, question: str) -> str:
        if question.startswith("Close"):
            return "0,00"
        self.hundredths = 1234
        return f"{self.displays:.2f}"


def proving(tmp_path: Path, jaws: Jaws, monkeypatch: pytest.MonkeyPatch) -> tuple[int, InstrumentSettings]:
    monkeypatch.setattr(prove_layout, "LISTEN_S", 0.3)
    with speaking(tmp_path, jaws.speak) as cable:
        settings = InstrumentSettings(
            name="caliper", port=str(cable.path), format_name="binary-24", quantity=Quantity.LENGTH
        )
        store = SettingsStore(tmp_path)
        store.remember(settings)
        status = prove(store, "caliper", Speech(), jaws.answer)
        (after,) = store.load()
    return status, after


def test_the_layout_that_reads_as_the_display_is_remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    status, after = proving(tmp_path, Jaws(displays=12.34), monkeypatch)
    assert status == ExitStatus.OK
    assert after.options.binary == LAYOUTS["leading-one-inside"]
    assert after.options.binary_proven


def test_a_display_that_no_layout_reads_proves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    status, after = proving(tmp_path, Jaws(displays=9.99), monkeypatch)
    assert status == ExitStatus.NOT_AVAILABLE
    assert not after.options.binary_proven


def test_an_instrument_without_such_frames_is_refused(tmp_path: Path) -> None:

    with pytest.raises(BadInputError, match="no instrument of that name"):
        prove(SettingsStore(tmp_path), "caliper", Speech())


class PacketJaws:
    """A caliper that says its number in the middle of a packet; its person does what is asked."""

    def __init__(self) -> None:
        self.hundredths = 0

    def speak(self, cable: PseudoTerminal) -> None:
        number = self.hundredths.to_bytes(3, "big", signed=True)
        cable.write(packet_line(b"\x3a\x01" + number + b"\x00"))

    def answer(self, question: str) -> str:
        self.hundredths = 0 if question.startswith("Close") else 1002 if question.startswith("Open") else -1002
        return f"{self.hundredths / 100:.2f}".replace(".", ",")


def test_the_place_of_a_number_in_packets_is_found_at_three_openings(tmp_path: Path) -> None:
    jaws = PacketJaws()
    with speaking(tmp_path, jaws.speak) as cable:
        settings = InstrumentSettings(
            name="caliper", port=str(cable.path), format_name="packets-length", quantity=Quantity.LENGTH
        )
        store = SettingsStore(tmp_path)
        store.remember(settings)
        assert prove(store, "caliper", Speech(), jaws.answer) == ExitStatus.OK
        (after,) = store.load()
    assert after.options.binary_proven
    assert after.options.packet == PacketLayout(first_byte=2, byte_count=3, big_endian=True, same="3A01......00")
