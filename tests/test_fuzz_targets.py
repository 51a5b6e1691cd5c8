"""What comes from elsewhere is refused in a sentence or read, whatever was done to it.

The small version of tests/endurance/fuzz.py, whose fuzzer looks for ways through the program: here the house's own
files are spoilt by chance.
"""

from __future__ import annotations

import random

import pytest

from tests.endurance.fuzz_targets import TARGETS

SPOILT = 60
WORDS = (
    b"NaN", b"1e999", b"-0", b"null", b"\x00", b"\xff\xfe", b"\"", b"[" * 200, b"9" * 40,
    b"\r\n", b"</", b"\xed\xa0\x80",
)  # fmt: skip


def spoilt(content: bytes, chance: random.Random) -> bytes:
    """One to six accidents: a bit, a cut, a doubling, a word of those that programs stumble over."""
    body = bytearray(content)
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(body) + 1)
        match chance.randrange(4):
            case 0 if place < len(body):
                body[place] ^= 1 << chance.randrange(8)
            case 1:
                del body[place : place + chance.randint(1, 80)]
            case 2:
                body[place:place] = body[place : place + chance.randint(1, 400)]
            case _:
                body[place : place + chance.randint(0, 8)] = chance.choice(WORDS)
    return bytes(body)


@pytest.mark.parametrize("name", TARGETS)
def test_whatever_was_done_to_it_nothing_but_a_refusal_escapes(name: str) -> None:
    target, chance = TARGETS[name], random.Random(16)
    corpus = target.corpus()
    for content in (*corpus, b""):
        target.eats(content)
    for _ in range(SPOILT):
        target.eats(spoilt(chance.choice(corpus), chance))
