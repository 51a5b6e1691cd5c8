"""readings.csv of a download: the readings that count, in the columns that `cornerwise evaluate` reads back.

Values in mm and decimal degrees to the last bit, point as decimal mark, whatever the locale. Voided readings stand as
remarks with their reason, so that nothing is hidden and nothing void is counted.
"""

from __future__ import annotations

import csv
import io

from core.metrology.readings import Unit
from core.records import dataclass_json
from core.records.readings_csv import inert
from core.records.session_record import SessionRecord


def readings_text(record: SessionRecord) -> str:
    """The file's text, lines ended by CR LF (RFC 4180)."""
    times = {event.sequence: event.time_utc for event in record.session.log}
    text = io.StringIO()
    if record.session.opened.simulated:
        text.write("# SIMULATED: nothing of this was measured on a real coupon\r\n")
    writer = csv.writer(text)
    writer.writerow(("feature", "value", "unit", "instrument", "time"))
    for item in record.session.readings:
        reading, time = item.reading, times[item.number]
        unit = Unit.MM if reading.feature.is_length else Unit.DEG
        row = (
            str(reading.feature),
            repr(reading.value),
            str(unit),
            inert(reading.instrument),
            dataclass_json.time_text(time) if time else "",
        )
        if item.voided is None:
            writer.writerow(row)
        else:
            writer.writerow((f"# voided ({item.voided}): {row[0]}", *row[1:]))
    return text.getvalue()
