"""The one helper through which every wire vector goes: whole, byte by byte, with trailing bytes, and after noise."""

from __future__ import annotations

from collections.abc import Callable

from core.metrology.readings import Indication
from firmware_bridge.decoders.fault import Decoder, Fault

Item = Indication | Fault


def good(items: list[Item]) -> list[Indication]:
    return [item for item in items if isinstance(item, Indication)]


def check_vector(
    make: Callable[[], Decoder],
    wire: bytes,
    expected: list[Indication],
    *,
    settle: bytes = b"",
    noise: bytes = b"",
    trailing: bytes = b"",
) -> None:
    """`wire` must give exactly `expected`, whatever way it is cut. `settle` is what a decoder that cannot trust its
    very first frame is given before; `noise` comes before the frame and may cost faults, never an indication;
    `trailing` is the beginning of a next frame, which must say nothing yet."""

    def fed(*pieces: bytes) -> list[Item]:
        decoder = make()
        decoder.feed(settle)
        return [item for piece in pieces for item in decoder.feed(piece)]

    assert fed(wire) == expected, "whole"
    assert fed(*(bytes([byte]) for byte in wire)) == expected, "byte by byte"
    for cut in range(1, len(wire)):
        assert fed(wire[:cut], wire[cut:]) == expected, f"cut after byte {cut}"
    assert fed(wire + trailing) == expected, "with the beginning of the next frame behind it"
    assert fed(wire, wire) == expected * 2, "twice"
    assert good(fed(noise, wire)) == expected, "after noise"
    assert good(fed(noise + wire)) == expected, "after noise in one piece"
    decoder = make()
    decoder.feed(settle + wire[: len(wire) // 2])
    decoder.reset()
    decoder.feed(settle)
    assert decoder.feed(wire) == expected, "after half a frame and a reset"
