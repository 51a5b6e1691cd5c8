"""The ten features of a coupon, and the two of an inner window.

Corners run counter-clockwise as the coupon lay when cut, seen by the operator at the front of the machine:
NL near-left, NR near-right, FR far-right, FL far-left. X points right, Y points away.
"""

from enum import StrEnum

from core.said import Angle, Length, Said, said


class FeatureKind(StrEnum):
    """What sort of thing is measured; decides instrument, unit and accuracy."""

    EDGE = "edge"
    DIAGONAL = "diagonal"
    CORNER = "corner"
    WINDOW = "window"

    __hash__ = str.__hash__  # as Feature's

    @property
    def is_length(self) -> bool:
        """True for what calipers measure, in mm; False for corners, in degrees."""
        return self is not FeatureKind.CORNER


class Feature(StrEnum):
    """One thing to measure. The value is the text used in files."""

    NEAR = "near"
    RIGHT = "right"
    FAR = "far"
    LEFT = "left"
    NL_FR = "nl-fr"
    NR_FL = "nr-fl"
    NL = "nl"
    NR = "nr"
    FR = "fr"
    FL = "fl"
    WINDOW_WIDTH = "window-width"
    WINDOW_HEIGHT = "window-height"

    __hash__ = str.__hash__  # the enumeration's own is ten times slower, and features are looked up all the time

    @property
    def kind(self) -> FeatureKind:
        """Edge, diagonal, corner or window."""
        return _KIND[self]

    @property
    def is_length(self) -> bool:
        """True when the value is in mm, False when it is in degrees."""
        return self.kind.is_length

    @property
    def label(self) -> Said:
        """The name on screens and in sentences, such as 'near edge', 'diagonal NL-FR', 'corner NL'."""
        return _LABEL[self]

    @property
    def in_words(self) -> Said:
        """The same without letters, such as 'corner near left'."""
        return _IN_WORDS.get(self, _LABEL[self])

    def measured(self, value: float, decimals: int = 2) -> Length | Angle:
        """A value of this feature, mm or degrees, to be said."""
        return Length(value, decimals) if self.is_length else Angle(value, decimals)


_KIND = {
    Feature.NEAR: FeatureKind.EDGE,
    Feature.RIGHT: FeatureKind.EDGE,
    Feature.FAR: FeatureKind.EDGE,
    Feature.LEFT: FeatureKind.EDGE,
    Feature.NL_FR: FeatureKind.DIAGONAL,
    Feature.NR_FL: FeatureKind.DIAGONAL,
    Feature.NL: FeatureKind.CORNER,
    Feature.NR: FeatureKind.CORNER,
    Feature.FR: FeatureKind.CORNER,
    Feature.FL: FeatureKind.CORNER,
    Feature.WINDOW_WIDTH: FeatureKind.WINDOW,
    Feature.WINDOW_HEIGHT: FeatureKind.WINDOW,
}
_LABEL = {
    Feature.NEAR: said("near edge"),
    Feature.RIGHT: said("right edge"),
    Feature.FAR: said("far edge"),
    Feature.LEFT: said("left edge"),
    Feature.NL_FR: said("diagonal NL-FR"),
    Feature.NR_FL: said("diagonal NR-FL"),
    Feature.NL: said("corner NL"),
    Feature.NR: said("corner NR"),
    Feature.FR: said("corner FR"),
    Feature.FL: said("corner FL"),
    Feature.WINDOW_WIDTH: said("window width"),
    Feature.WINDOW_HEIGHT: said("window height"),
}
# Never by their letters: FL and FR read as front left and front right to whoever stands at the front.
_IN_WORDS = {
    Feature.NL_FR: said("diagonal near left to far right"),
    Feature.NR_FL: said("diagonal near right to far left"),
    Feature.NL: said("corner near left"),
    Feature.NR: said("corner near right"),
    Feature.FR: said("corner far right"),
    Feature.FL: said("corner far left"),
    Feature.WINDOW_WIDTH: said("window along X"),
    Feature.WINDOW_HEIGHT: said("window along Y"),
}

EDGES = (Feature.NEAR, Feature.RIGHT, Feature.FAR, Feature.LEFT)
DIAGONALS = (Feature.NL_FR, Feature.NR_FL)
CORNERS = (Feature.NL, Feature.NR, Feature.FR, Feature.FL)
WINDOW = (Feature.WINDOW_WIDTH, Feature.WINDOW_HEIGHT)
# The order in which a coupon is walked round when nothing better is known.
TEN_FEATURES = EDGES + DIAGONALS + CORNERS
