"""The lamp box's pins from outside: what the program drives, and what hangs on its inputs, by QEMU's qtest line.

Registers: GPFSEL0, GPSET0, GPCLR0, GPLEV0 at 0x00, 0x1C, 0x28, 0x34 of the GPIO block (BCM2835 peripherals, chapter 6).
QEMU has no wire to an input: what hangs on it sets the level as an output's for a moment, which the input then keeps.
"""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Self

from hardware.pins import BUTTONS, LAMPS, PIN_OF, Line

GPIO, SELECT, SET, CLEAR, LEVEL = 0x3F200000, 0x00, 0x1C, 0x28, 0x34
OUTPUTS = (*LAMPS, Line.BUZZER)
# A contact that closes: open and closed in turn, s; open: high, by the pull-up.
LOOK_S = 0.01  # a sound lasts 0.1 s at least
BOUNCE_S = (0.004, 0.003, 0.006, 0.002, 0.005)


class LampBox:
    """What a person beside the box sees, hears and presses."""

    def __init__(self, qtest: Path) -> None:
        self._line = socket.socket(socket.AF_UNIX)
        self._line.connect(str(qtest))
        self._words = self._line.makefile("rw")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._words.close()
        self._line.close()

    def high(self) -> frozenset[Line]:
        """Every lamp that is lit, and the buzzer while it sounds."""
        level = self._ask(f"readl {GPIO + LEVEL:#x}")
        return frozenset(line for line in OUTPUTS if level >> PIN_OF[line].gpio & 1)

    def let_go(self) -> None:
        """Nothing pressed."""
        for line in BUTTONS:
            self._drive(line, high=True)

    def turn(self, line: Line, *, closed: bool) -> None:
        """Close or open a contact, with its bounce."""
        for turn, lasts_s in enumerate(BOUNCE_S):
            self._drive(line, high=closed == bool(turn % 2))
            time.sleep(lasts_s)
        self._drive(line, high=not closed)

    def trace(self, until: Callable[[list[frozenset[Line]]], bool], limit_s: float) -> list[frozenset[Line]]:
        """What stands on the outputs, one entry a change, until it is as wished."""
        seen = [self.high()]
        until_s = time.monotonic() + limit_s
        while not until(seen) and time.monotonic() < until_s:
            if (now := self.high()) != seen[-1]:
                seen.append(now)
            time.sleep(LOOK_S)
        return seen

    def _drive(self, line: Line, *, high: bool) -> None:
        pin = PIN_OF[line].gpio
        select, shift = GPIO + SELECT + 4 * (pin // 10), 3 * (pin % 10)
        before = self._ask(f"readl {select:#x}")
        self._ask(f"writel {select:#x} {before & ~(7 << shift) | 1 << shift:#x}")
        self._ask(f"writel {GPIO + (SET if high else CLEAR):#x} {1 << pin:#x}")
        self._ask(f"writel {select:#x} {before:#x}")

    def _ask(self, words: str) -> int:
        self._words.write(words + "\n")
        self._words.flush()
        said = self._words.readline().split()
        assert said[:1] == ["OK"], said
        return int(said[1], 16) if len(said) > 1 else 0


def soundings(trace: list[frozenset[Line]]) -> int:
    """How often the buzzer began to sound."""
    return sum(Line.BUZZER in now and Line.BUZZER not in before for before, now in pairwise(trace))
