"""Ten million bytes of garbage through every decoder, and what damage each lets through. Prints its figures.

    .venv/bin/pytest tests/endurance/test_fuzz_decoders.py -s

The suite holds a small seeded version of the first (tests/firmware_bridge/decoders/test_every_format.py) and the
exhaustive one- and two-bit damage of a line with checksum (test_bridge_lines.py).
"""

from __future__ import annotations

import random
import re
import resource

import pytest

from core.metrology.readings import Indication, Quantity
from firmware_bridge.instrument_settings import HoldSettings
from firmware_bridge.steady_hold import SteadyHold
from firmware_bridge.wire_formats import WIRE_FORMATS, DecoderOptions
from tests.firmware_bridge.decoders.garbage import garbage
from tests.firmware_bridge.decoders.wire_encoders import WRITE

GARBAGE_BYTES = 10_000_000
DAMAGED_FRAMES = 100_000
NAMES = sorted(WIRE_FORMATS)
WITH_CRC = {"bridge"}  # no damaged line of theirs is a number
# The range the bench believes for the 120 mm edge of the house coupon, and for a corner.
RANGE = {Quantity.LENGTH: (117.0, 123.0), Quantity.ANGLE: (85.0, 95.0)}


@pytest.fixture(scope="module")
def ten_million_bytes() -> list[bytes]:
    return list(garbage(seed=20, size=GARBAGE_BYTES))


@pytest.mark.timeout(600)
@pytest.mark.parametrize("name", NAMES)
def test_ten_million_bytes_of_garbage(name: str, ten_million_bytes: list[bytes]) -> None:
    decoder = WIRE_FORMATS[name].make_decoder(DecoderOptions(binary_proven=True))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    counts = {"indications": 0, "faults": 0}
    for piece in ten_million_bytes:
        for item in decoder.feed(piece):
            counts["indications" if isinstance(item, Indication) else "faults"] += 1
    grown_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    print(f"\n{name:18s} {sum(map(len, ten_million_bytes))} bytes {counts} grown {grown_kb} kB")
    assert grown_kb < 4096
    if name in WITH_CRC:
        assert counts["indications"] == 0


def damaged(frame: bytes, rng: random.Random) -> bytes:
    """One accident: a flipped bit, a lost, doubled or replaced byte, or two bytes exchanged; the line end stays."""
    body = bytearray(frame.rstrip(b"\r\n"))
    place = rng.randrange(len(body))
    match rng.randrange(5):
        case 0:
            body[place] ^= 1 << rng.randrange(8)
        case 1:
            del body[place]
        case 2:
            body.insert(place, body[place])
        case 3:
            body[place] = rng.randrange(256)
        case _:
            body[place - 1], body[place] = body[place], body[place - 1]
    return bytes(body) + b"\r\n"


def shape(frame: bytes) -> bytes:
    """A line as a decoder that counts digits would demand it: every digit any digit, all else as it is."""
    return re.sub(rb"[0-9]", b"0", frame.rstrip(b"\r\n"))


@pytest.mark.timeout(600)
@pytest.mark.parametrize("name", NAMES)
def test_damaged_frames(name: str) -> None:
    """Every second frame of a stream is damaged once: how many wrong numbers pass decoder, range and steady hold; and
    how many of them would pass one that counts digits too: the rest is what the tolerance costs."""
    rng = random.Random(f"damage {name}")
    decoder = WIRE_FORMATS[name].make_decoder(DecoderOptions(binary_proven=True))
    low, high = RANGE[WIRE_FORMATS[name].quantity]
    hold = SteadyHold(HoldSettings())
    wrong = in_range = counted_wrong = counted_in_range = held_wrong = taken = 0
    now_s = 0.0
    for _ in range(DAMAGED_FRAMES // 20):
        frame = WRITE[name](rng.randrange(round(low * 100) + 10, round(high * 100) - 10))
        truth = [item for item in decoder.feed(frame + frame) if isinstance(item, Indication)]
        true = truth[-1].value if truth else None
        for _ in range(20):
            bad = damaged(frame, rng)
            values = [item.value for item in decoder.feed(bad) if isinstance(item, Indication)]
            for value in values:
                odd = true is None or abs(value - true) > 1e-9
                wrong += odd
                in_range += odd and low <= value <= high
                same_shape = shape(bad) == shape(frame)
                counted_wrong += odd and same_shape
                counted_in_range += odd and same_shape and low <= value <= high
            for value in values + [item.value for item in decoder.feed(frame) if isinstance(item, Indication)]:
                now_s += 0.05
                step = hold.feed(value, now_s, (low, high))
                if step.value is not None:
                    taken += 1
                    held_wrong += true is None or abs(step.value - true) > 1e-9
        hold.feed(0.0, now_s, (low, high))
    share = 100.0 / DAMAGED_FRAMES
    print(
        f"\n{name:18s} wrong {wrong * share:5.1f} % (digits counted {counted_wrong * share:4.1f} %), in range "
        f"{in_range * share:4.1f} % ({counted_in_range * share:3.1f} %), steady holds wrong {held_wrong} of {taken}"
    )
    assert held_wrong == 0
    if name in WITH_CRC:
        assert wrong == 0
