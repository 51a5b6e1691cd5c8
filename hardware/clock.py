"""Whether the time of day can be believed: a Pi without network and without a clock chip starts in the past.

Stage: hardware. Input: what the system left in /run and /sys. Output: True or False. Records are ordered by sequence,
never by time; this only decides whether a time is written beside them.
"""

from datetime import UTC, datetime
from pathlib import Path

from core.said import NOTHING, Said, said
from hardware.checkup import board_model, read_text
from hardware.root_verbs import RootPlaces

# No bench is older than its software: an earlier date is a clock that was never set.
NOT_BEFORE = datetime(2026, 1, 1, tzinfo=UTC)
SYNCHRONISED = "run/systemd/timesync/synchronized"  # touched by systemd-timesyncd after its first answer
CLOCK_CHIP = "sys/class/rtc/rtc0/since_epoch"


def why_clock_is_set(root: Path, now: datetime) -> Said:
    """Who set the clock: 'the network', 'a person', 'the clock chip', 'this computer'; empty where nobody did."""
    if now < NOT_BEFORE:
        return NOTHING
    if not board_model(root):
        return said("this computer")
    if (root / SYNCHRONISED).exists():
        return said("the network")
    if (root / RootPlaces().clock_was_set.relative_to("/")).exists():
        return said("a person")
    chip = read_text(root / CLOCK_CHIP)
    believed = chip.isdecimal() and int(chip) >= NOT_BEFORE.timestamp()
    return said("the clock chip") if believed else NOTHING
