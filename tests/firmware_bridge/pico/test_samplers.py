"""The board's own Python around the state machines: asking, pausing, giving up, joining words, printing lines."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace

import pytest

from core.metrology.readings import Indication
from firmware_bridge.decoders.binary_24bit import LAYOUTS, BinaryLayout
from firmware_bridge.decoders.bridge_lines import BridgeDecoder
from tests.firmware_bridge.decoders.wire_encoders import binary_bits, bridge_line, spc_bits, spc_digits
from tests.firmware_bridge.pico.board import board_modules

SPC = spc_bits(spc_digits(120340, False, 3, False))
BINARY = binary_bits(12034, False, False)


def fifo_words(bits: str, word_bits: int) -> list[int]:
    """As the state machine leaves them: shifted right, so at the upper end of 32 bits."""
    pieces = [bits[start : start + word_bits] for start in range(0, len(bits), word_bits)]
    return [int(piece[::-1], 2) << (32 - word_bits) for piece in pieces]


@pytest.fixture
def board() -> Iterator[SimpleNamespace]:
    with board_modules() as board:
        yield board


def test_both_channels_print_lines_the_host_reads(board: SimpleNamespace) -> None:
    samplers, sequence, written = board.main.channels(), board.bridge_lines.Sequence(), bytearray()
    spc, binary = board.machines
    board.main.turn(samplers, sequence, 0, written.extend)
    spc.received.extend(fifo_words(SPC, 26))
    binary.received.extend(fifo_words(BINARY, 24))
    board.main.turn(samplers, sequence, 1, written.extend)
    assert bytes(written) == bridge_line(1, 0, SPC, "S52") + bridge_line(2, 1, BINARY, "B24")
    items = BridgeDecoder(BinaryLayout(), proven=True).feed(bytes(written))
    assert [(item.value, item.channel) for item in items if isinstance(item, Indication)] == [
        (120.34, "1"),
        (120.34, "2"),
    ]


def test_an_spc_instrument_is_asked_again_only_after_its_frame_and_a_pause(board: SimpleNamespace) -> None:
    sampler = board.spc_pio.SpcSampler(0, 2, 4)
    (machine,) = board.machines
    for now_ms in range(50):
        assert sampler.take(now_ms) is None
    assert machine.sent == [51]
    machine.received.extend(fifo_words(SPC, 26))
    assert sampler.take(50) == int(SPC[::-1], 2)
    sampler.take(149)
    assert machine.sent == [51]
    sampler.take(150)
    assert machine.sent == [51, 51]


def test_an_instrument_that_never_answers_is_begun_again(board: SimpleNamespace) -> None:
    """Switched off amid a frame: the half must not be joined to the next."""
    sampler = board.spc_pio.SpcSampler(0, 2, 4)
    sampler.take(0)
    board.machines[0].received.append(fifo_words(SPC, 26)[0])
    for now_ms in range(1, 2600, 7):
        assert sampler.take(now_ms) is None
    first, second = board.machines
    assert first.running == [1, 0]
    assert second.running == [1]
    sampler.take(2800)
    second.received.extend(fifo_words(SPC, 26))
    assert sampler.take(2810) == int(SPC[::-1], 2)


def test_a_group_without_its_second_is_dropped(board: SimpleNamespace) -> None:
    sampler = board.binary_pio.BinarySampler(4, 6, words=2, word_bits=24)
    (machine,) = board.machines
    assert machine.sent == [board.binary_pio.IDLE_LOOPS]
    first, second = fifo_words("10" * 24, 24)
    machine.received.append(first)
    assert sampler.take(0) is None
    machine.received.append(first)
    assert sampler.take(200) is None
    machine.received.append(second)
    assert sampler.take(205) == int(("10" * 24)[::-1], 2)


def test_inverted_lines_are_turned_back_at_the_pads(board: SimpleNamespace) -> None:
    board.binary_pio.BinarySampler(4, 6)
    control = {pin: board.mem32[0x40014000 + 8 * pin + 4] for pin in (5, 6, 7, 8)}
    assert control == {5: 0x1F, 6: 0x1001F, 7: 0x1001F, 8: 0x1F}


def test_the_sequence_wraps_with_the_hosts(board: SimpleNamespace) -> None:
    sequence = board.bridge_lines.Sequence()
    numbers = [sequence.take() for _ in range(65537)]
    assert (numbers[0], numbers[65535], numbers[65536]) == (0, 65535, 0)


def test_a_scale_at_our_clock_is_read_fifty_times_a_second(board: SimpleNamespace) -> None:
    sampler = board.clocked_pio.ClockedSampler(5, 8, 9)
    (machine,) = board.machines
    bits = f"{2560:021b}"[::-1]
    for now_ms in range(100):
        assert sampler.take(now_ms) is None
    assert machine.sent == [20] * 5
    machine.received.extend(fifo_words(bits, 21))
    frame = sampler.take(100)
    line = bridge_line(3, 0, bits, f"{sampler.letter}{sampler.bits}")
    assert board.bridge_lines.line(3, 0, frame, sampler.bits, sampler.letter) == line
    items = BridgeDecoder(LAYOUTS["host-clocked"], proven=True).feed(line)
    assert [item.value for item in items if isinstance(item, Indication)] == [25.4]
