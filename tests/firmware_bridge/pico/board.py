"""Off the board: the assembler's words, machine and rp2, enough to load the board's own files unchanged.

The PIO programs are not rewritten here: each word of the assembler that the board's file uses becomes a line of
PIO assembly, which is assembled and emulated by libraries of others (adafruit_pioasm, rp2040-pio-emulator).
"""

from __future__ import annotations

import importlib.util
import sys
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

PICO = Path(__file__).resolve().parents[3] / "firmware_bridge" / "pico"


class Program:
    """A PIO program as text, with the settings it was decorated with."""

    def __init__(self, function: Callable[[], None], settings: dict[str, Any]) -> None:
        self.settings = settings
        self.lines: list[str] = [f".program {function.__name__}"]
        words = _assembler_words(self.lines)
        function.__globals__.update(words)
        try:
            function()
        finally:
            for word in words:
                del function.__globals__[word]

    @property
    def text(self) -> str:
        return "\n".join(self.lines)


class _Delayable:
    """An instruction that `[n]` after it delays."""

    def __init__(self, lines: list[str]) -> None:
        self._lines = lines

    def __getitem__(self, cycles: int) -> None:
        self._lines[-1] += f" [{cycles}]"


def _assembler_words(lines: list[str]) -> dict[str, Any]:
    def emit(text: str) -> _Delayable:
        lines.append(text)
        return _Delayable(lines)

    def jmp(first: str, target: str = "") -> _Delayable:
        return emit(f"jmp {first}, {target}" if target else f"jmp {first}")

    return {
        "wrap_target": lambda: emit(".wrap_target"),
        "wrap": lambda: emit(".wrap"),
        "label": lambda name: emit(f"{name}:"),
        "pull": lambda mode: emit(f"pull {mode}"),
        "mov": lambda target, source: emit(f"mov {target}, {source}"),
        "set": lambda target, value: emit(f"set {target}, {value}"),
        "wait": lambda level, kind, index: emit(f"wait {level} {kind} {index}"),
        "in_": lambda source, bits: emit(f"in {source}, {bits}"),
        "jmp": jmp,
        "block": "block",
        "x": "x",
        "y": "y",
        "osr": "osr",
        "isr": "isr",
        "null": "null",
        "pins": "pins",
        "pin": "pin",
        "pindirs": "pindirs",
        "x_dec": "x--",
        "y_dec": "y--",
    }


class StateMachine:
    """Keeps what the board's code does to it; tests fill `received`."""

    made: list[StateMachine] = []  # noqa: RUF012 - the history of one test, cleared by board_modules

    def __init__(self, number: int, program: Program, **settings: Any) -> None:
        self.number, self.program, self.settings = number, program, settings
        self.running: list[int] = []
        self.sent: list[int] = []
        self.received: deque[int] = deque()
        StateMachine.made.append(self)

    def active(self, on: int) -> None:
        self.running.append(on)

    def put(self, word: int) -> None:
        self.sent.append(word)

    def rx_fifo(self) -> int:
        return len(self.received)

    def get(self) -> int:
        return self.received.popleft()


@contextmanager
def board_modules() -> Iterator[SimpleNamespace]:
    """The board's files, loaded from where they are, with stand-ins for what only the board has."""
    rp2 = ModuleType("rp2")
    rp2.PIO = SimpleNamespace(IN_LOW="in-low", OUT_LOW="out-low", SHIFT_RIGHT="right")  # type: ignore[attr-defined]
    rp2.asm_pio = lambda **settings: lambda function: Program(function, settings)  # type: ignore[attr-defined]
    rp2.StateMachine = StateMachine  # type: ignore[attr-defined]
    machine = ModuleType("machine")
    machine.Pin = _pin()  # type: ignore[attr-defined]
    machine.mem32 = dict.fromkeys(range(0x40014000, 0x40014100, 4), 0x1F)  # type: ignore[attr-defined]
    StateMachine.made = []
    stand_ins = {"rp2": rp2, "machine": machine}
    names = ("bridge_lines", "spc_pio", "binary_pio", "clocked_pio", "main")
    before = {name: sys.modules.pop(name, None) for name in (*stand_ins, *names)}
    try:
        sys.modules.update(stand_ins)
        loaded = {name: _load(name) for name in names}
        yield SimpleNamespace(**loaded, machines=StateMachine.made, mem32=machine.mem32)
    finally:
        for name, module in before.items():
            sys.modules.pop(name, None)
            if module is not None:
                sys.modules[name] = module


def _pin() -> Any:
    class Pin:
        IN, OUT, PULL_UP = "in", "out", "pull-up"

        def __init__(self, number: int, *modes: str) -> None:
            self.number, self.modes = number, modes

    return Pin


def _load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, PICO / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
