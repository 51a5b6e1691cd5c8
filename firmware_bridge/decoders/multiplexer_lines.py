"""Line formats of multiplexers: the channel stands in the line. Rows of the one grammar of ascii_lines.

Where sources disagree which of two numbers is the channel, there is a row for each and the person chooses. Makers print
the value as floating point in different widths (`+00001.75`, `+0000.123`), so digits are not counted here either.
"""

from core.metrology import Quantity
from core.said import said
from firmware_bridge.decoders.ascii_lines import (
    LENGTH_UNIT,
    MM_OR_INCH,
    NUMBER,
    SEPARATORS,
    LineGrammar,
    decimal_line,
)

LETTERED = LineGrammar(
    # Behind the channel one letter, or those of a counter's mode (N: its current value), unit (mm) and judgement: then
    # always a sign, or the tail of any number would have a channel.
    pattern=decimal_line(rb"(?P<channel>\d{2})(?:[A-Z]|(?:NM[UGL]?)?(?=[+-]))", LENGTH_UNIT + b"?"),
    # The tail of one such line has one digit before its letter or sign at most; without either it is none.
    anchored=True,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
    errors=(
        (rb"91.", said("the multiplexer reports an error: look at the instrument on the channel asked")),
        (rb"(?P<channel>\d{2})[A-Z]{0,3} *Error *", said("the counter reports an alarm on this channel")),
    ),
)
WORDED = LineGrammar(
    pattern=decimal_line(rb"(?P<channel>\d{1,2}) ?MW *", LENGTH_UNIT),
    # The tail of channel 12's line would be a whole line of channel 2.
    anchored=False,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
    always_unit=True,
    errors=((rb"(?P<channel>\d{1,2}) TO .*", said("the instrument on this channel did not answer in time")),),
)
# A receiver of several senders by radio: the sender's number behind the value, then perhaps the strength of its signal.
SENDER_BEHIND = LineGrammar(
    pattern=decimal_line(rb"(?P<lead> *)", LENGTH_UNIT + b"?", rb"(?<=[ ,;\t])(?P<channel>\d{1,2})(?: +\d{1,2})?"),
    anchored=False,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
)
_NORMAL = NUMBER + rb", *NRM, *"
_NOT_NORMAL = rb"\d{2,3}, *[+-]? *\d{1,5}\.\d{0,5}, *(?!NRM)[A-Z+-]{2,4}, *\d{2,3}"
_STATUS_ERROR = ((_NOT_NORMAL, said("the multiplexer's status for this line is not normal")),)
STATUS_CHANNEL_FIRST = LineGrammar(
    pattern=rb"(?P<channel>\d{3}), *" + _NORMAL + rb"\d{2}" + SEPARATORS,
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=_STATUS_ERROR,
)
STATUS_CHANNEL_LAST = LineGrammar(
    pattern=rb"\d{3}, *" + _NORMAL + rb"(?P<channel>\d{2})" + SEPARATORS,
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=_STATUS_ERROR,
)
