"""How the layers of a cut file look: what tells cut from mark beside their names, in every format it is written in."""

import re

from msgspec import Struct

from core.errors import BadInputError
from core.geometry.cut_file import Layer
from core.said import Length, Name, said

_COLOUR = re.compile(r"#[0-9a-fA-F]{6}")


class LineStyle(Struct, frozen=True, kw_only=True):
    """How cut and mark are told apart beside the names of their layers: colours as #rrggbb and, in SVG, the width of
    the line. The defaults are no program's palette; a program that goes by colour or width is given its own."""

    cut: str = "#7a3b12"
    mark: str = "#1f6f6b"
    hairline_mm: float = 0.1

    def __post_init__(self) -> None:
        for colour in (self.cut, self.mark):
            if not _COLOUR.fullmatch(colour):
                raise BadInputError(
                    said("colour '{colour}': it must be written as #rrggbb, such as #7a3b12", colour=Name(colour))
                )
        if not 0.0 < self.hairline_mm <= 1.0:
            raise BadInputError(
                said(
                    "hairline {hairline}: it must be more than 0 and at most {most}",
                    hairline=Length(self.hairline_mm, None),
                    most=Length(1.0, None),
                )
            )

    def colour(self, layer: Layer) -> str:
        """The colour of a layer's lines."""
        return self.cut if layer is Layer.CUT else self.mark


DEFAULT_STYLE = LineStyle()
