"""A check of caliper or angle gauge before measuring, from what the person held against it to an event of the session.

Pure. In: the command and the accuracies the session was opened with. Out: the event to keep, None when the instrument
must not be trusted, and the sentence for the person.
"""

from msgspec.structs import replace

from core.metrology import CheckedLength, MeasuringSetup, Quantity, check_caliper, check_gauge
from core.records import KIND_NAME, QUESTION_CHANGED, GaugeChecked, InstrumentChange, UsedInstrument
from core.said import Part, Said, said
from firmware_bridge import InstrumentSettings
from ui.state import Command, Question, Snapshot


class CheckCaliper(Command, frozen=True, kw_only=True):
    """The caliper was closed, or held against setting blocks, before measuring."""

    lengths: tuple[CheckedLength, ...]
    instrument: str = ""


class CheckGauge(Command, frozen=True, kw_only=True):
    """The angle gauge was held against a square, and the same square turned over; readings in degrees."""

    square_deg: tuple[float, ...]
    turned_over_deg: tuple[float, ...]
    instrument: str = ""


class AskWhatHappened(Command, frozen=True, kw_only=True):
    """Something happened to the caliper or the angle gauge since its check: ask what."""

    quantity: Quantity


NOTHING_HAPPENED = "nothing"
ZERO_UNKNOWN: Said = said("Its zero is not known any more: check it again before measuring on.")
ANOTHER_ON_LINE: Said = said("Another instrument is on this line than was checked: its zero is not known, check it.")


def what_happened(quantity: Quantity) -> Question:
    """The question after which the zero that a check found may hold no longer."""
    return Question(
        name=QUESTION_CHANGED[quantity],
        text=said("What happened to it since it was checked?"),
        choices=(
            (InstrumentChange.DROPPED, said("It fell")),
            (InstrumentChange.BATTERY, said("Battery changed")),
            (InstrumentChange.ANOTHER, said("It is another one")),
            (NOTHING_HAPPENED, said("Nothing")),
        ),
    )


def checked(
    command: CheckCaliper | CheckGauge, setup: MeasuringSetup, identity: str
) -> tuple[GaugeChecked | None, Part]:
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
        identity=identity,
    )
    return event, check.text


def named(command: CheckCaliper | CheckGauge, snapshot: Snapshot) -> CheckCaliper | CheckGauge:
    """The command with the instrument it is of: the one of its kind on the bench; else it goes by its kind."""
    quantity = Quantity.LENGTH if isinstance(command, CheckCaliper) else Quantity.ANGLE
    there = [status.name for status in snapshot.instruments if status.quantity is quantity]
    return replace(command, instrument=command.instrument or (there[0] if len(there) == 1 else KIND_NAME[quantity]))


def used_instrument(
    name: str, settings: InstrumentSettings, setup: MeasuringSetup, *, simulated: bool
) -> UsedInstrument:
    """What is used under a name, in plain values."""
    return UsedInstrument(
        name=name,
        quantity=settings.quantity,
        wire_format=str(settings.speaks),
        port_kind="keyboard" if settings.format.typed else "serial line",
        accuracy=setup.caliper if settings.quantity is Quantity.LENGTH else setup.gauge,
        simulated=simulated,
    )
