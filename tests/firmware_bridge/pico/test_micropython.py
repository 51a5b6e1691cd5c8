"""The pure part of the board's code under real MicroPython (on node), line by line against the host's encoder."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.firmware_bridge.decoders.wire_encoders import binary_bits, bridge_line, spc_bits, spc_digits

HERE = Path(__file__).resolve().parent
PICO = HERE.parents[2] / "firmware_bridge" / "pico"
RUNTIME = HERE / "node_modules" / "@micropython"

pytestmark = pytest.mark.skipif(
    shutil.which("node") is None or not RUNTIME.is_dir(),
    reason=f"needs node and MicroPython for it: npm ci --prefix {HERE}",
)


def micropython(script: str, tmp_path: Path, *modules: Path) -> list[str]:
    file = tmp_path / "script.py"
    file.write_text(script)
    command = ["node", "run.mjs", str(file), *map(str, modules)]
    done = subprocess.run(command, cwd=HERE, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_it_prints_the_lines_the_host_expects(tmp_path: Path) -> None:
    frames = [
        (channel, sequence, bits, letter)
        for sequence, (channel, bits, letter) in enumerate(
            [
                (1, spc_bits(spc_digits(123, False, 3, False)), "S"),
                (1, spc_bits(spc_digits(999999, True, 5, True)), "S"),
                (12, binary_bits(0, False, False), "B"),
                (2, binary_bits(1048575, True, True), "B"),
                (2, binary_bits(12034, False, False, leading_one=True), "B"),
                (2, "01" * 24, "B"),
            ],
            start=65530,
        )
    ]
    calls = [
        f"print(line({channel}, {sequence}, {int(bits[::-1], 2)}, {len(bits)}, {letter!r}))"
        for channel, sequence, bits, letter in frames
    ]
    script = "from bridge_lines import line, xmodem\nprint(hex(xmodem(b'123456789')))\n" + "\n".join(calls)
    first, *printed = micropython(script, tmp_path, PICO / "bridge_lines.py")
    assert first == "0x31c3"
    assert printed == [
        str(bridge_line(channel, sequence, bits, f"{letter}{len(bits)}")) for channel, sequence, bits, letter in frames
    ]


def test_the_main_loops_turn_runs_there(tmp_path: Path) -> None:
    """main.py itself, with samplers that have a frame each; the board's own modules stay outside."""
    script = """
from bridge_lines import Sequence, FrameJoiner
import main

class Sampler:
    bits, letter = 24, "B"
    def __init__(self):
        self.joiner = FrameJoiner(1, 24, 60)
    def take(self, now_ms):
        return self.joiner.add(3080704, now_ms) if now_ms == 5 else None

sequence = Sequence()
for now_ms in range(10):
    main.turn(((3, Sampler()), (4, Sampler())), sequence, now_ms, print)
"""
    for name, cls in (("spc_pio", "SpcSampler"), ("binary_pio", "BinarySampler")):
        (tmp_path / f"{name}.py").write_text(f"class {cls}:\n    pass\n")
    lines = micropython(
        script,
        tmp_path,
        PICO / "bridge_lines.py",
        PICO / "main.py",
        tmp_path / "spc_pio.py",
        tmp_path / "binary_pio.py",
    )
    bits = binary_bits(12034, False, False)
    assert lines == [str(bridge_line(channel, channel - 3, bits, "B24")) for channel in (3, 4)]
