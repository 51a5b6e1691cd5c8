"""Leave a reference archive of the present schema; run once for every release that changes it, and never again.

    python tests/old_archives/make_archive.py

Writes schema_N.sqlite and, beside it, schema_N.json with what must be found in it for ever.
"""

from __future__ import annotations

import json
import sqlite3
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.geometry.seats import keyed_seats
from core.machine.directions import Side
from core.machine.holding import HowHeld
from core.machine.machine_log import GapPhase, GapRead, MachineEvent, MachineEventKind
from core.machine.profile import MachineProfile
from core.machine.reversal_check import Overhang, StepGauge
from core.metrology.accuracy import DEFAULT_CALIPER, MeasuringSetup
from core.metrology.readings import Method, Quantity, Reading, Unit
from core.metrology.tolerances import Limits
from core.records import events_json, value_json
from core.records.archive import Archive
from core.records.events import (
    Closed,
    GaugeChecked,
    MarkConfirmed,
    Note,
    Opened,
    Payload,
    QuestionAnswered,
    ReadingAccepted,
    ReadingVoided,
    ReversalFound,
)
from core.records.instrument_book import UsedInstrument
from core.records.migrations import SCHEMA_VERSION

FOLDER = Path(__file__).parent
MACHINE = "template router"
CALIPER = UsedInstrument(
    name="caliper",
    quantity=Quantity.LENGTH,
    wire_format="sign and 3.3 digits, 4800 7E2",
    port_kind="serial line",
    accuracy=DEFAULT_CALIPER,
    simulated=True,
)


def payloads() -> list[Payload]:
    """One of every kind; reading 2 voided."""
    coupon = Coupon(
        width_mm=120.0,
        height_mm=80.0,
        window_width_mm=60.0,
        window_height_mm=40.0,
        seats=keyed_seats(120.0, 80.0),
    )
    readings = []
    for place, feature in enumerate(TEN_FEATURES):
        unit = Unit.MM if feature.is_length else Unit.DEG
        value = coupon.nominal(feature) + 0.01 * place
        readings.append(ReadingAccepted(reading=Reading(feature=feature, value=value, unit=unit, method=Method.TYPED)))
    return [
        Opened(
            coupon=coupon,
            limits=Limits(source="ISO 2768-mK", width_edge_mm=0.3, height_edge_mm=0.3, perpendicularity_mm=0.4),
            setup=MeasuringSetup(),
            machine=MACHINE,
            instruments=("caliper", "angle gauge"),
            operator="Ana",
            span_mm=640.0,
            software="cornerwise 0.1.0",
            simulated=True,
        ),
        ReadingAccepted(reading=Reading(feature=Feature.NEAR, value=12.0, unit=Unit.INCH)),
        ReadingVoided(number=2, reason="inch for mm"),
        GaugeChecked(
            instrument="caliper",
            quantity=Quantity.LENGTH,
            zero=0.02,
            zero_sd=0.004,
            reference="blocks",
            found=0.024,
            found_sd=0.0045,
        ),
        MarkConfirmed(),
        *readings,
        ReversalFound(length_mm=120.0, step_mm=1.4, overhang=Overhang.LOWER, gauge=StepGauge.FEELER),
        QuestionAnswered(question="front", answer="operator side", feature=Feature.NEAR),
        Note(text="birch, “sheet” 3"),
        Closed(
            verdict="go",
            size_verdict="undecided",
            skew_deg=-0.012,
            skew_u95_deg=0.06,
            software="cornerwise 0.1.0",
            scale_x=-0.0004,
            scale_x_u95=0.0003,
            scale_y=-0.0006,
            scale_y_u95=0.0004,
            settled=False,
        ),
    ]


def main() -> int:
    path = FOLDER / f"schema_{SCHEMA_VERSION}.sqlite"
    if path.exists():
        raise SystemExit(f"{path} is there already: a reference archive is never written again")
    times = iter(datetime(2026, 3, 1, 14, 5, tzinfo=UTC) + timedelta(seconds=second) for second in range(1000))
    archive = Archive.open(path, lambda: next(times))
    archive.save_machine(MachineProfile(name=MACHINE, span_mm=640.0, held=HowHeld.SCREWS, screw_pitch_mm=0.75))
    archive.append_machine_event(MACHINE, GapRead(end=Side.LEFT, gap_mm=40.12, phase=GapPhase.UNTOUCHED))
    archive.append_machine_event(MACHINE, MachineEvent(kind=MachineEventKind.CRASH, note="clamp"))
    archive.note_instrument(CALIPER)
    opened, *rest = payloads()
    assert isinstance(opened, Opened)
    finished = archive.begin(opened)
    for payload in rest:
        archive.append(finished, payload)
    archive.append(archive.begin(opened), rest[0])
    expected = {
        "sessions": {
            summary.id: [events_json.event_to_json(event) for event in archive.events(summary.id)]
            for summary in archive.sessions()
        },
        "machines": [value_json.to_json(profile) for profile in archive.machines()],
        "instruments": [
            value_json.to_json(used) for used in archive.instrument_book(simulated=True, on_bench=True).used
        ],
        "machine_events": [value_json.to_json(entry) for entry in archive.machine_log(MACHINE)],
    }
    archive.close()
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA journal_mode = DELETE")  # one file, with no write-ahead log beside it
    connection.close()
    path.with_suffix(".json").write_text(json.dumps(expected, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
