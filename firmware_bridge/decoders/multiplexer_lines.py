"""Line formats of multiplexers: the channel stands in the line. Rows of the one grammar of ascii_lines.

Where sources disagree which of two numbers is the channel, there is a row for each and the person chooses. Makers print
the value as floating point in different widths (`+00001.75`, `+0000.123`), so digits are not counted here either.
"""

from __future__ import annotations

import re

from core.metrology.readings import Quantity
from core.said import said
from firmware_bridge.decoders.ascii_lines import MM_OR_INCH, NUMBER, SEPARATORS, LineGrammar, decimal_line

LETTERED = LineGrammar(
    pattern=decimal_line(rb"(?P<channel>\d{2})[A-Z]", rb"(?P<unit>mm|MM|inch|INCH|in|IN)?"),
    # The tail of one such line has one digit before its letter at most.
    anchored=True,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
    errors=(
        (re.compile(rb"91."), said("the multiplexer reports an error: look at the instrument on the channel asked")),
    ),
)
WORDED = LineGrammar(
    pattern=decimal_line(rb"(?P<channel>\d{1,2}) ?MW *", rb"(?P<unit>mm|MM|inch|INCH|in|IN)"),
    # The tail of channel 12's line would be a whole line of channel 2.
    anchored=False,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
    always_unit=True,
    errors=(
        (re.compile(rb"(?P<channel>\d{1,2}) TO .*"), said("the instrument on this channel did not answer in time")),
    ),
)
_NORMAL = NUMBER + rb", *NRM, *"
_NOT_NORMAL = re.compile(rb"\d{2,3}, *[+-]? *\d{1,5}\.\d{0,5}, *(?!NRM)[A-Z+-]{2,4}, *\d{2,3}")
_STATUS_ERROR = ((_NOT_NORMAL, said("the multiplexer's status for this line is not normal")),)
STATUS_CHANNEL_FIRST = LineGrammar(
    pattern=re.compile(rb"(?P<channel>\d{3}), *" + _NORMAL + rb"\d{2}" + SEPARATORS),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=_STATUS_ERROR,
)
STATUS_CHANNEL_LAST = LineGrammar(
    pattern=re.compile(rb"\d{3}, *" + _NORMAL + rb"(?P<channel>\d{2})" + SEPARATORS),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=_STATUS_ERROR,
)
