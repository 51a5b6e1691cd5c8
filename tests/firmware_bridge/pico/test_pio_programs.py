"""The PIO programs in an emulator, on waveforms of the published timing, through line and decoder to an indication.

Timing of the 24-bit output: clock high about 200 us, low 80 us, gap between digits 370 us; idle of 2 ms or more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from types import SimpleNamespace

import pytest

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.binary_24bit import BinaryLayout
from firmware_bridge.decoders.bridge_lines import BridgeDecoder
from tests.firmware_bridge.decoders.wire_encoders import binary_bits, spc_bits, spc_digits
from tests.firmware_bridge.pico.board import Program, board_modules

adafruit_pioasm = pytest.importorskip("adafruit_pioasm", reason="needs the PIO assembler (extra test)")
pioemu = pytest.importorskip("pioemu", reason="needs the PIO emulator (extra test)")

DATA, CK, REQ = 0, 1, 4
US = 1  # one cycle is one microsecond, as the board runs it
Edge = tuple[int, int, int]  # from this time on: DATA, CK


@pytest.fixture(scope="module")
def board() -> Iterator[SimpleNamespace]:
    with board_modules() as board:
        yield board


class Wave:
    """A waveform of DATA and CK as (time, DATA, CK) edges."""

    def __init__(self, idle_ck: int) -> None:
        self.now = 0
        self.edges: list[Edge] = [(0, 1, idle_ck)]

    def hold(self, data: int, ck: int, us: int) -> None:
        self.edges.append((self.now, data, ck))
        self.now += us

    def at(self, time: int) -> int:
        while len(self.edges) > 1 and self.edges[1][0] <= time:
            self.edges.pop(0)
        _, data, ck = self.edges[0]
        return data << DATA | ck << CK


def run(
    program: Program, wave: Wave, sent: list[int], watch: Callable[[object], None] = lambda state: None
) -> list[int]:
    assembled = adafruit_pioasm.Program(program.text)
    end, words = wave.now, []

    def level(cycle: int) -> int:
        return wave.at(cycle)

    level.__annotations__["cycle"] = int  # the emulator looks at the type itself, not at its name

    begin = pioemu.State()
    begin.transmit_fifo.extend(sent)
    for _, state in pioemu.emulate(
        list(assembled.assembled),
        stop_when=lambda opcode, state: state.clock >= end,
        initial_state=begin,
        input_source=level,
        auto_push=program.settings["autopush"],
        push_threshold=program.settings["push_thresh"],
        shift_isr_right=program.settings["in_shiftdir"] == "right",
        set_base=REQ,
        jmp_pin=CK,
        wrap_target=assembled.pio_kwargs.get("wrap_target", 0),
        wrap_top=assembled.pio_kwargs.get("wrap", 0),
    ):
        watch(state)
        while state.receive_fifo:
            words.append(state.receive_fifo.popleft())
    return words


def clock_out(wave: Wave, bits: str, idle_ck: int, jitter: int = 0) -> None:
    """A 24-bit frame: each bit stands while CK is high and is to be taken as CK falls."""
    for index, bit in enumerate(bits):
        if index and index % 4 == 0:
            wave.hold(int(bit), 0, 370 * US)
        wave.hold(int(bit), 1, 200 * US + jitter)
        wave.hold(int(bit), 0, 80 * US)
    wave.hold(1, idle_ck, 3_000 * US)


def decoded(board: SimpleNamespace, frames: list[int], bits: int, letter: str) -> list[object]:
    decoder = BridgeDecoder(BinaryLayout(), proven=True)
    sequence = board.bridge_lines.Sequence()
    lines = b"".join(board.bridge_lines.line(1, sequence.take(), frame, bits, letter) for frame in frames)
    return list(decoder.feed(lines))


def mm(shown: float, decimals: int) -> Indication:
    return Indication(shown=shown, unit=Unit.MM, decimals=decimals, channel="1")


def joined(board: SimpleNamespace, words: list[int], per_frame: int, word_bits: int) -> list[int]:
    joiner = board.bridge_lines.FrameJoiner(per_frame, word_bits, 60)
    frames = [joiner.add(word, 0) for word in words]
    return [frame for frame in frames if frame is not None]


@pytest.mark.parametrize(
    ("count", "negative", "idle_ck", "jitter"),
    [(12034, False, 0, 0), (1, True, 1, -60), (0, False, 1, 60), (262_143, True, 0, 60)],
)
def test_a_24_bit_frame_from_waveform_to_indication(
    board: SimpleNamespace, count: int, negative: bool, idle_ck: int, jitter: int
) -> None:
    wave = Wave(idle_ck)
    wave.hold(1, idle_ck, 2_500 * US)
    clock_out(wave, binary_bits(count, negative, False), idle_ck, jitter)
    words = run(board.binary_pio.program(24), wave, [board.binary_pio.IDLE_LOOPS])
    shown = (-1 if negative else 1) * count / 100
    assert decoded(board, joined(board, words, 1, 24), 24, "B") == [mm(shown, 2)]


def test_a_broken_frame_is_forgotten_at_the_next_pause(board: SimpleNamespace) -> None:
    """The cable is plugged in amid a frame: its tail must not shift the next."""
    wave = Wave(1)
    wave.hold(1, 1, 3_000 * US)
    clock_out(wave, binary_bits(5555, False, False)[9:], 1)
    clock_out(wave, binary_bits(12034, False, False), 1)
    wave.hold(0, 0, 30 * US)  # a glitch between frames
    wave.hold(1, 1, 4_000 * US)
    clock_out(wave, binary_bits(12035, False, False), 1)
    words = run(board.binary_pio.program(24), wave, [board.binary_pio.IDLE_LOOPS])
    assert decoded(board, joined(board, words, 1, 24), 24, "B") == [mm(120.34, 2), mm(120.35, 2)]


@pytest.mark.parametrize(("words_per_frame", "word_bits"), [(1, 25), (2, 24), (1, 28)])
def test_the_other_layouts_come_whole(board: SimpleNamespace, words_per_frame: int, word_bits: int) -> None:
    bits = "1001110" * 7
    bits = bits[: words_per_frame * word_bits]
    wave = Wave(1)
    wave.hold(1, 1, 3_000 * US)
    clock_out(wave, bits, 1)
    words = run(board.binary_pio.program(word_bits), wave, [board.binary_pio.IDLE_LOOPS])
    assert joined(board, words, words_per_frame, word_bits) == [int(bits[::-1], 2)]


def spc_wave(bits: str) -> Wave:
    """REQ answered after 3 ms; CK low for 120 us a bit, DATA changing shortly before CK falls."""
    wave = Wave(1)
    wave.hold(1, 1, 3_000 * US)
    for bit in bits:
        wave.hold(int(bit), 1, 100 * US)
        wave.hold(int(bit), 0, 120 * US)
    wave.hold(1, 1, 5_000 * US)
    return wave


@pytest.mark.parametrize(("count", "negative", "decimals"), [(123, False, 3), (210765, True, 4)])
def test_a_52_bit_frame_from_waveform_to_indication(
    board: SimpleNamespace, count: int, negative: bool, decimals: int
) -> None:
    wave = spc_wave(spc_bits(spc_digits(count, negative, decimals, False)))
    words = run(board.spc_pio.sample, wave, [board.spc_pio.BITS - 1])
    shown = (-1 if negative else 1) * count / 10**decimals
    assert decoded(board, joined(board, words, 2, 26), 52, "S") == [mm(shown, decimals)]


def test_req_is_pulled_low_only_until_the_first_bit_and_never_driven_high(board: SimpleNamespace) -> None:
    low_at: list[int] = []
    driven_high: list[int] = []

    def watch(state: object) -> None:
        drives = state.pin_directions >> REQ & 1  # type: ignore[attr-defined]
        if drives and state.pin_values >> REQ & 1:  # type: ignore[attr-defined]
            driven_high.append(state.clock)  # type: ignore[attr-defined]
        elif drives:
            low_at.append(state.clock)  # type: ignore[attr-defined]

    run(board.spc_pio.sample, spc_wave(spc_bits(spc_digits(123, False, 3, False))), [51], watch)
    assert driven_high == []
    assert min(low_at) < 10 * US
    assert 3_000 * US < max(low_at) < 3_200 * US


def test_without_a_request_nothing_is_asked_or_sampled(board: SimpleNamespace) -> None:
    drives: list[int] = []
    wave = spc_wave("0" * 52)
    words = run(board.spc_pio.sample, wave, [], lambda state: drives.append(state.pin_directions))  # type: ignore[attr-defined]
    assert (words, set(drives)) == ([], {0})


def test_a_scale_that_waits_for_our_clock_is_clocked_out_at_its_pace(board: SimpleNamespace) -> None:
    """About 9 kHz, as captured from such a scale's own display; each bit is taken while it stands."""
    bits = f"{2560 + 7:021b}"[::-1]
    rises: list[int] = []
    level = [0]

    def watch(state: object) -> None:
        clock = state.pin_values >> REQ & 1  # type: ignore[attr-defined]
        if clock and not level[0]:
            rises.append(state.clock)  # type: ignore[attr-defined]
        level[0] = clock

    class Scale(Wave):
        """Puts the next bit out at every rise of the clock."""

        def at(self, time: int) -> int:
            return int(bits[min(max(len(rises) - 1, 0), len(bits) - 1)]) << DATA

    scale = Scale(0)
    scale.now = 1000
    words = run(board.clocked_pio.program(21), scale, [20], watch)
    assert joined(board, words, 1, 21) == [int(bits[::-1], 2)]
    periods_us = {5 * (b - a) for a, b in pairwise(rises)}
    assert len(rises) == 21
    assert all(1e6 / 12_000 < period < 1e6 / 7_000 for period in periods_us)
