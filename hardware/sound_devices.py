"""What can sound on this board, the speaker that is meant first.

Source: the kernel's list of sound devices, /proc/asound/pcm (Documentation/sound/designs/procfile.rst): a line a
device, with "playback" on it where it can sound.
"""

from pathlib import Path

from msgspec import Struct

from hardware.checkup import read_text

ROOT = Path("/")
# What the kernel's driver for them calls every device of theirs.
_USB = "USB Audio"


class SoundDevice(Struct, frozen=True, kw_only=True):
    """A device that can sound, by the numbers of its card and of itself on that card."""

    card: int
    number: int
    name: str


def sound_devices(root: Path = ROOT) -> tuple[SoundDevice, ...]:
    """A speaker that somebody plugged in before those that a board has anyhow: its first card is often the cable of a
    screen that has none."""
    lines = read_text(root / "proc/asound/pcm").splitlines()
    found = [_device(line) for line in lines if "playback" in line]
    return tuple(sorted(found, key=lambda device: not device.name.startswith(_USB)))


def _device(line: str) -> SoundDevice:
    numbers, name, *_rest = line.split(":")
    card, _, number = numbers.partition("-")
    return SoundDevice(card=int(card), number=int(number), name=name.strip())
