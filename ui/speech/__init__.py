"""A sentence in the person's language, units, decimal mark and time zone. Below, what others may use."""

from ui.speech.language import Language, catalogue_of, said_in
from ui.speech.notation import AS_KEPT, AngleStyle, DecimalMark, LengthUnit, Notation, value_text
from ui.speech.speech import AS_WORDED, Speech
