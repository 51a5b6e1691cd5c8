"""A bit that flips in what is measured by is said; what a hand, an earlier version or a restore wrote is taken."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.accuracy import DEFAULT_CALIPER, MeasuringSetup
from core.metrology.readings import Quantity
from core.records import accuracy_file
from core.records.accuracy_file import load_setup, save_setup
from core.records.vouched_file import read_vouched, voucher_of, write_vouched
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.settings_store import FILE_NAME as INSTRUMENTS, SettingsStore

FLIPS = 300
OWN = MeasuringSetup(caliper=replace(DEFAULT_CALIPER, repeatability=0.0317))
CALIPER = InstrumentSettings(name="caliper", port="/dev/x", format_name="length-8-unit", quantity=Quantity.LENGTH)


def keep_accuracy(folder: Path) -> Callable[[], object]:
    save_setup(folder, OWN)
    return lambda: load_setup(folder)


def keep_instruments(folder: Path) -> Callable[[], object]:
    SettingsStore(folder).remember(CALIPER)
    return lambda: SettingsStore(folder).load()


def damage(file: Path, bit: int) -> None:
    """As a card does it: the file is the one that was written, by all that the system says of it."""
    written = file.stat()
    content = bytearray(file.read_bytes())
    content[bit // 8] ^= 1 << bit % 8
    file.write_bytes(content)
    os.utime(file, ns=(written.st_atime_ns, written.st_mtime_ns))


@pytest.mark.parametrize(("name", "keep"), [(accuracy_file.FILE_NAME, keep_accuracy), (INSTRUMENTS, keep_instruments)])
def test_no_flipped_bit_is_measured_by(tmp_path: Path, name: str, keep: Callable[[Path], Callable[[], object]]) -> None:
    """Without what vouches for it every fifteenth changed a number, or left one to its default, without a word."""
    read, file = keep(tmp_path), tmp_path / name
    chance = random.Random(1)
    for bit in (chance.randrange(file.stat().st_size * 8) for _ in range(FLIPS)):
        damage(file, bit)
        with pytest.raises(BadInputError):
            read()
        damage(file, bit)
    read()


def test_what_a_hand_wrote_since_is_taken(tmp_path: Path) -> None:
    file = tmp_path / "accuracy.json"
    write_vouched(file, b"0.0317")
    written = file.stat()
    file.write_bytes(b"0.0217")
    os.utime(file, ns=(written.st_atime_ns, written.st_mtime_ns + 1))
    assert read_vouched(file, 100) == b"0.0217"


@pytest.mark.parametrize("spoil", [
    Path.unlink, lambda path: damage(path, 9), lambda path: damage(path, 80 * 8), lambda path: path.write_text(""),
    lambda path: (path.unlink(), os.mkfifo(path)), lambda path: (path.unlink(), path.symlink_to("/dev/zero")),
])  # fmt: skip
def test_a_voucher_that_is_gone_or_hit_damages_nothing(tmp_path: Path, spoil: Callable[[Path], object]) -> None:
    file = tmp_path / "accuracy.json"
    write_vouched(file, b"0.0317")
    spoil(voucher_of(file))
    assert read_vouched(file, 100) == b"0.0317"
