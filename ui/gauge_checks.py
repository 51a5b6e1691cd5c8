"""A check of caliper or angle gauge before measuring, from what the person held against it to an event of the session.

Pure. In: the command and the accuracies the session was opened with. Out: the event to keep, None when the instrument
must not be trusted, and the sentence for the person.
"""

from __future__ import annotations

from core.metrology.accuracy import MeasuringSetup
from core.metrology.gauge_check import check_caliper, check_gauge
from core.metrology.readings import Quantity
from core.records.events import GaugeChecked
from ui.commands import CheckCaliper, CheckGauge


def checked(command: CheckCaliper | CheckGauge, setup: MeasuringSetup) -> tuple[GaugeChecked | None, str]:
    """The event of a check that passed, and what to say; raises BadInputError for readings that cannot be a check."""
    if isinstance(command, CheckCaliper):
        check, quantity = check_caliper(setup.caliper, command.lengths), Quantity.LENGTH
        reference = ", ".join(
            "closed jaws" if not item.nominal_mm else f"{item.nominal_mm:g} mm" for item in command.lengths
        )
    else:
        check, quantity = check_gauge(setup.gauge, command.square_deg, command.turned_over_deg), Quantity.ANGLE
        reference = "square and the same turned over"
    if not check.passed:
        return None, check.text
    event = GaugeChecked(
        instrument=command.instrument,
        quantity=quantity,
        zero=check.zero.value,
        zero_sd=check.zero.u,
        reference=reference,
        found=check.found.value,
        found_sd=check.found.u,
    )
    return event, check.text
