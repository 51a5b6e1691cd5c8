"""Which layout do the frames of a binary instrument have? Pure: frames at two openings of the jaws, and what the
instrument's own display shows there, against every layout there is.

Input: raw bytes heard with the jaws closed and opened to about 10 mm, and the number on the display then. Output: the
names of the layouts that read it so, and the one that is proven by it. Those of sign and magnitude with as many counts
to the mm refuse each other's negative and inch frames, so the first of them may stand for all; any others that remain
together could part later, and nothing is proven.
"""

import re
from collections.abc import Sequence
from statistics import median

from msgspec import Struct

from core.metrology import Indication
from firmware_bridge.decoders import bridge_lines
from firmware_bridge.decoders.binary_24bit import FRAME_LENGTHS, LAYOUTS, BinaryKind, read_word
from firmware_bridge.decoders.bit_lines import word_from_bits
from firmware_bridge.decoders.fault import Fault
from firmware_bridge.decoders.line_buffer import LineBuffer

# The last digit may stand between two, and flicker.
AGREES_MM = 0.03
# Below this a factor between two layouts could hide in the last digit.
LEAST_OPENING_MM = 2.0


class Frame(Struct, frozen=True, kw_only=True):
    """One frame: `bits` of them, the first on the wire being bit 0 of `word`; on a bridge's channel."""

    word: int
    bits: int
    channel: str = ""


def frames_in(data: bytes) -> tuple[Frame, ...]:
    """The binary frames in what was heard: lines of bits, or of the bridge."""
    found = []
    for line in LineBuffer().feed(data):
        if isinstance(line, Fault):
            continue
        if re.fullmatch(rb"[01]+", line) and len(line) in FRAME_LENGTHS:
            found.append(Frame(word=word_from_bits(line), bits=len(line)))
        elif raw := bridge_lines.binary_frame(line):
            found.append(Frame(word=raw[0], bits=raw[1], channel=raw[2]))
    return tuple(found)


def proven_layouts(
    closed: Sequence[Frame], opened: Sequence[Frame], closed_mm: float, opened_mm: float
) -> tuple[str, ...]:
    """The layouts that read both openings as the display does; none where an opening is too small to tell."""
    if abs(opened_mm - closed_mm) < LEAST_OPENING_MM:
        return ()
    return tuple(name for name in LAYOUTS if _reads(name, closed, closed_mm) and _reads(name, opened, opened_mm))


def the_proven_one(remaining: Sequence[str]) -> str | None:
    """The layout to be set, None where those that remain could part later."""
    layouts = [LAYOUTS[name] for name in remaining]
    alike = {(layout.kind, layout.leading_one, layout.counts_per_mm, layout.bits) for layout in layouts}
    safe = len(remaining) == 1 or (len(alike) == 1 and layouts[0].kind is BinaryKind.MAGNITUDE)
    return remaining[0] if safe else None


def _reads(name: str, frames: Sequence[Frame], display_mm: float) -> bool:
    items = [read_word(frame.word, frame.bits, LAYOUTS[name]) for frame in frames]
    values = [item.value for item in items if isinstance(item, Indication)]
    # One damaged frame among several does not speak against a layout.
    if not values or len(values) * 4 < len(items) * 3:
        return False
    return abs(median(values) - display_mm) <= AGREES_MM
