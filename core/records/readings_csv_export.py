"""readings.csv of a download: the readings that count, in the columns that `cornerwise evaluate` reads back.

Values in mm and decimal degrees to the last bit, with as many decimals as the instrument resolves at least (143.80, not
143.8), point as decimal mark, whatever the locale. Voided readings stand as
remarks with their reason, so that nothing is hidden and nothing void is counted.
"""

import csv
import io
from decimal import Decimal

from core.metrology import Unit
from core.records import value_json
from core.records.readings_csv import inert
from core.records.session_record import SessionRecord


def readings_text(record: SessionRecord) -> str:
    """The file's text, lines ended by CR LF (RFC 4180)."""
    setup = record.session.setup
    resolutions = {True: setup.caliper.resolution, False: setup.gauge.resolution}
    text = io.StringIO()
    if record.session.opened.simulated:
        text.write("# SIMULATED: nothing of this was measured on a real coupon\r\n")
    writer = csv.writer(text)
    writer.writerow(("feature", "value", "unit", "instrument", "time"))
    for item in record.session.readings:
        reading, time = item.reading, item.time_utc
        unit = Unit.MM if reading.feature.is_length else Unit.DEG
        row = (
            str(reading.feature),
            value_text(reading.value, resolutions[reading.feature.is_length]),
            str(unit),
            inert(reading.instrument),
            value_json.time_text(time) if time else "",
        )
        if item.voided is None:
            writer.writerow(row)
        else:
            writer.writerow((f"# voided ({item.voided}): {row[0]}", *row[1:]))
    return text.getvalue()


def value_text(value: float, resolution: float) -> str:
    """The value exactly, filled up with zeros to the decimals of a resolution (0: as short as it is)."""
    exact = Decimal(repr(value))
    decimals = -int(Decimal(repr(resolution)).normalize().as_tuple().exponent) if resolution else 0
    shown = -int(exact.as_tuple().exponent)
    return f"{exact:f}" if shown >= decimals else f"{exact:.{decimals}f}"
