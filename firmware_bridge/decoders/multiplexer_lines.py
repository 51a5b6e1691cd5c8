"""Line formats of multiplexers: the channel stands in the line. Rows of the one grammar of ascii_lines.

Where sources disagree which of two numbers is the channel, there is a row for each and the person chooses.
"""

from __future__ import annotations

import re

from core.metrology.readings import Quantity
from firmware_bridge.decoders.ascii_lines import MM_OR_INCH, LineGrammar

LETTERED = LineGrammar(
    pattern=re.compile(rb"(?P<channel>\d{2})A(?P<sign>[+-])(?P<number>\d{3}\.\d{4})"),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=((re.compile(rb"91."), "the multiplexer reports an error: look at the instrument on the channel asked"),),
)
WORDED = LineGrammar(
    pattern=re.compile(rb"(?P<channel>\d{1,2}) MW(?P<sign>[+-])(?P<number>\d{3}\.\d{2,4}) (?P<unit>mm|inch)"),
    # The tail of channel 12's line would be a whole line of channel 2.
    anchored=False,
    quantity=Quantity.LENGTH,
    units=MM_OR_INCH,
    errors=((re.compile(rb"(?P<channel>\d{1,2}) TO .*"), "the instrument on this channel did not answer in time"),),
)
_NORMAL = rb"(?P<sign>[+-]?)(?P<number>\d{1,4}\.\d{2,4}), NRM, "
_NOT_NORMAL = re.compile(rb"\d{2,3}, *[+-]?\d{1,4}\.\d{2,4}, (?!NRM)[A-Z+-]{2,4}, \d{2,3}")
_STATUS_ERROR = ((_NOT_NORMAL, "the multiplexer's status for this line is not normal"),)
STATUS_CHANNEL_FIRST = LineGrammar(
    pattern=re.compile(rb"(?P<channel>\d{3}), *" + _NORMAL + rb"\d{2}"),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=_STATUS_ERROR,
)
STATUS_CHANNEL_LAST = LineGrammar(
    pattern=re.compile(rb"\d{3}, *" + _NORMAL + rb"(?P<channel>\d{2})"),
    anchored=True,
    quantity=Quantity.LENGTH,
    errors=_STATUS_ERROR,
)
