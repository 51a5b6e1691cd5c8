"""What comes of correcting a design: the new file, and what in it is to be looked at before cutting."""

from msgspec import Struct

from core.errors import BadInputError
from core.said import said


class CorrectedDesign(Struct, frozen=True, kw_only=True):
    """The corrected file's bytes; how many things in it lean, become ellipses, are drawn as chains of short lines
    (`flattened`, within FLATTENED_MM), could not be corrected and stay, or are not in it for want of lines
    (`undrawn`: dimensions whose look the design leaves to its reader)."""

    content: bytes
    texts: int
    circles: int
    flattened: int = 0
    left_out: int = 0
    undrawn: int = 0


# Far below what a gantry machine repeats, and what calipers show.
FLATTENED_MM = 0.01
# Each takes about three kilobytes and a tenth of a millisecond in the libraries that read them: half a gigabyte.
MOST_IN_FILE = 200_000


def too_many_things() -> BadInputError:
    """What is said of a file with more than MOST_IN_FILE, before a library reads it."""
    return BadInputError(said("more than {most} things in the file: save the design in parts", most=MOST_IN_FILE))
