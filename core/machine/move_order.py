"""A move of the gantry as it is told: end, amount and direction, and in the same breath what comes before hands go in.

Stage: correction. Input: a move. Output: sentences. The move is worded here and nowhere else, so that no screen, no
terminal, no command and no paper can say it without its caution.
"""

from msgspec import Struct

from core.machine.cautions import BEFORE_HANDS
from core.machine.directions import Direction, Side
from core.machine.holding import TurnedPart
from core.said import NOTHING, Length, Name, Part, Said, Series, paragraph, said, said_in

_COARSE_MM = 1.0  # from here on a tenth is what a hand can set

_END_IN_LARGE = {
    Side.LEFT: said_in("in large", "LEFT"),
    Side.RIGHT: said_in("in large", "RIGHT"),
    Side.NEAR: said_in("in large", "NEAR"),
    Side.FAR: said_in("in large", "FAR"),
}
_WAY_IN_LARGE = {
    Direction.LEFT: said_in("way in large", "LEFT"),
    Direction.RIGHT: said_in("way in large", "RIGHT"),
    Direction.NEARER: said_in("way in large", "NEARER"),
    Direction.FARTHER: said_in("way in large", "AWAY"),
}


class MoveOrder(Struct, frozen=True, kw_only=True):
    """One move, as seen from the front. `either`: the other end could be moved the other way instead.

    `condition` is what the move rests on, where it is not proven (said between the move and its caution).
    """

    end: Side
    direction: Direction
    move: Length
    part: TurnedPart = TurnedPart.GANTRY
    either: bool = False
    front_words: str = ""
    condition: Part = NOTHING

    @property
    def told(self) -> Series:
        """Everything, for a page or a terminal: the move, what it rests on, its caution."""
        return paragraph(self._sentence(), self.condition, BEFORE_HANDS)

    @property
    def caption(self) -> Series:
        """The same in a line, beside a drawing."""
        move = said("{end} end {move} {way}.", end=self.end.word, move=self.move, way=self.direction.words)
        return paragraph(move, self.condition, BEFORE_HANDS)

    @property
    def in_large(self) -> tuple[Said, Said]:
        """The same to be read from afar, in two sizes of type: the move, and directly below it what comes first."""
        decimals = 1 if self.move.mm >= _COARSE_MM else 2
        parts: dict[str, Part] = {
            "end": _END_IN_LARGE[self.end],
            "move": Length(self.move.mm, decimals),
            "way": _WAY_IN_LARGE[self.direction],
        }
        if self.condition:
            return said("Trial: {end} end {move} {way}", **parts), BEFORE_HANDS
        return said("{end} end {move} {way}", **parts), BEFORE_HANDS

    def _sentence(self) -> Said:
        """End, amount and direction in a fixed order: it is what gets done."""
        parts: dict[str, Part] = {
            "front": Name(self.front_words),
            "end": self.end.word,
            "part": self.part.word,
            "move": self.move,
            "way": self.direction.words,
            "other": self.end.opposite.word,
            "back": self.direction.opposite.words,
        }
        if self.front_words and self.either:
            return said(
                "Standing at the front (the front is {front}), move the {end} end of the {part} by {move} {way}, or "
                "the {other} end {back} by as much.",
                **parts,
            )
        if self.front_words:
            return said(
                "Standing at the front (the front is {front}), move the {end} end of the {part} by {move} {way}.",
                **parts,
            )
        if self.either:
            return said(
                "Standing at the front, move the {end} end of the {part} by {move} {way}, or the {other} end {back} by "
                "as much.",
                **parts,
            )
        return said("Standing at the front, move the {end} end of the {part} by {move} {way}.", **parts)
