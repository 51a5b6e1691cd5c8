"""What a screen says while something is done with a stick: download, saving, a design, an update. Pure.

Output: a page with the state as a lamp, sentences below it, and what may be touched; the lamps that several share.
"""

from collections.abc import Mapping

from msgspec import Struct

from core.said import NOTHING, Part, said
from ui.pages.theme import Shape

Lamp = tuple[Shape, Part, Part]

LOOKING: Lamp = (Shape.HALF_DIAMOND, said("LOOKING"), said("leave the stick in"))
WRITING: Lamp = (Shape.HALF_DIAMOND, said("WRITING"), said("leave the stick in"))
CHECKING: Lamp = (Shape.HALF_DIAMOND, said("CHECKING"), said("leave the stick in"))
SAFE: Lamp = (Shape.DISC, said("SAFE TO REMOVE"), said("written and read back"))
FAILED: Lamp = (Shape.CROSSED_SQUARE, said("FAILED"), said("nothing half-written counts"))
NOT_ASKED: Lamp = (Shape.RING, said("READY"), said("asks before it acts"))
# By the stage that an errand has come to; whose stages say something else there has a lamp of its own.
LAMPS: Mapping[str, Lamp] = {
    "idle": NOT_ASKED,
    "looking": LOOKING,
    "writing": WRITING,
    "checking": CHECKING,
    "safe": SAFE,
    "failed": FAILED,
}


class ErrandPage(Struct, frozen=True, kw_only=True):
    """`lamp` is shape, word, caption; `choices` are (stable name, words) of what may be touched, the way on first.
    Where that `replaces` what is here, it does not stand where the wish for it was touched."""

    lamp: Lamp = (Shape.RING, NOTHING, NOTHING)
    text: Part = NOTHING
    choices: tuple[tuple[str, Part], ...] = ()
    replaces: bool = False

    @property
    def shape(self) -> Shape:
        """Of the lamp."""
        return self.lamp[0]

    @property
    def word(self) -> Part:
        """In the lamp."""
        return self.lamp[1]

    @property
    def caption(self) -> Part:
        """Below the word."""
        return self.lamp[2]
