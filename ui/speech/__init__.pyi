from .language import Language as Language, catalogue_of as catalogue_of
from .notation import (
    AS_KEPT as AS_KEPT,
    AngleStyle as AngleStyle,
    DecimalMark as DecimalMark,
    LengthUnit as LengthUnit,
    Notation as Notation,
)
from .speech import AS_WORDED as AS_WORDED, LINE_WIDTH as LINE_WIDTH, Speech as Speech
