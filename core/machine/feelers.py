"""Feeler leaves and paper: a distance made up from what lies in the drawer.

Stage: correction. Input: a distance in mm. Output: a block (for gaps) and leaves, or sheets of paper.
Source: a set of 20 leaves 0.05 to 1.00 mm by 0.05 mm (from memory); 80 g/m² paper about 0.1 mm a sheet and setting
blocks of 25.4, 50.8 and 76.2 mm (common practice).
"""

import math

from msgspec import Struct

from core.said import Length, Said, Series, said, said_counted

LEAF_STEP_MM = 0.05
LEAVES_MM = tuple(round(LEAF_STEP_MM * number, 2) for number in range(1, 21))
PAPER_MM = 0.1
# More leaves than this no longer lie flat on one another, more sheets are miscounted (common practice).
MOST_LEAVES = 5
MOST_SHEETS = 20
BLOCKS_MM = (25.4, 50.8, 76.2)


class FeelerStack(Struct, frozen=True, kw_only=True):
    """A block (0 without one) and leaves of one set, each used once; `left_mm` = asked - made, in mm."""

    block_mm: float
    leaves_mm: tuple[float, ...]
    left_mm: float

    @property
    def handy(self) -> bool:
        """Whether it can be held: every leaf more adds burr and air."""
        return len(self.leaves_mm) <= MOST_LEAVES

    @property
    def text(self) -> Said:
        """Such as 'block 25.40 mm + leaves 1.00 + 0.35 mm'; 'no leaf' when nothing is needed."""
        block = said("block {block}", block=Length(self.block_mm))
        if not self.leaves_mm:
            return block if self.block_mm else said("no leaf")
        last = len(self.leaves_mm) - 1
        sizes = Series(tuple(Length(leaf, unit=n == last) for n, leaf in enumerate(self.leaves_mm)), joint=" + ")
        leaves = said_counted("leaf {sizes}", "leaves {sizes}", count=len(self.leaves_mm), sizes=sizes)
        return said("{block} + {leaves}", block=block, leaves=leaves) if self.block_mm else leaves


def leaves_for(thickness_mm: float) -> FeelerStack | None:
    """The fewest leaves of one set nearest to a thickness; None when the whole set is not thick enough."""
    count = max(0, math.floor(thickness_mm / LEAF_STEP_MM + 0.5))
    leaves: list[float] = []
    for number in range(len(LEAVES_MM), 0, -1):  # thickest first: every rest below it can be made from the others
        if number <= count:
            leaves.append(LEAVES_MM[number - 1])
            count -= number
    if count:
        return None
    return FeelerStack(block_mm=0.0, leaves_mm=tuple(leaves), left_mm=thickness_mm - sum(leaves))


def block_and_leaves(gap_mm: float) -> FeelerStack | None:
    """The thickest block that fits into a gap, and leaves for the rest; None when the set cannot fill it."""
    block_mm = max((block for block in BLOCKS_MM if block <= gap_mm + LEAF_STEP_MM / 2.0), default=0.0)
    leaves = leaves_for(max(0.0, gap_mm - block_mm))
    if leaves is None:
        return None
    return FeelerStack(block_mm=block_mm, leaves_mm=leaves.leaves_mm, left_mm=gap_mm - block_mm - sum(leaves.leaves_mm))


def paper_sheets(thickness_mm: float) -> int:
    """The number of sheets of ordinary office paper nearest to a thickness."""
    return max(0, math.floor(thickness_mm / PAPER_MM + 0.5))
