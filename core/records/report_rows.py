"""The report's words and numbers, before any page: pure functions of a SessionRecord.

Values in the unit of their row with three decimals, uncertainties expanded (95 %, k = 1.96). Nothing here is rounded
twice: each number is the one of session.json, printed once.
"""

import re
from collections.abc import Iterator
from datetime import datetime

from msgspec import Struct

from core.machine import part_sentence
from core.metrology import (
    AdjustedReading,
    Characteristic,
    CharacteristicGroup,
    Estimate,
    Limits,
    Method,
    Verdict,
    conditions_sentence,
    cross_check_note,
    explanation_sentences,
    headline,
    size_sentence,
    skew_sentence,
    told_word,
    worst_sentence,
)
from core.records.events import Closed, Event
from core.records.instrument_book import WHEN_TO_CHECK, recorded_line
from core.records.session import Session
from core.records.session_record import SessionRecord
from core.said import (
    NOTHING,
    Angle,
    Length,
    Name,
    Number,
    Part,
    Said,
    Series,
    Size,
    Time,
    paragraph,
    said,
    said_in,
)

DECIMALS = 3
NONE = Name("–")
_LONGEST_FACT = 72
_WITH_PART_2 = re.compile(r"ISO 2768-[fmcv][HKL]")
_MOST_EXPLANATIONS = 3


class CharacteristicRow(Struct, frozen=True, kw_only=True):
    """One characteristic as printed; `share` and `share_u95` are deviation and U in tolerances, for the bar beside it;
    `zone` and `measured` are limits and value with its unit and U, as a customer reads them.

    Verdict and shares are None where it is for information only.
    """

    label: Part
    nominal: Part
    limits: Part
    value: Part
    u95: Part
    unit: str
    verdict: Verdict | None
    share: float | None
    share_u95: float | None
    zone: Part
    measured: Part


class ReadingRow(Struct, frozen=True, kw_only=True):
    """One feature's readings as printed."""

    label: Part
    count: Part
    mean: Part
    best_fit: Part
    residual: Part
    standardised: Part
    detectable: Part
    unit: str


def characteristic_rows(record: SessionRecord) -> tuple[CharacteristicRow, ...]:
    """Every characteristic, in the order of the evaluation; none where no value of the best fit means anything."""
    if record.evaluation.verdict is Verdict.INCONSISTENT:
        return ()
    return tuple(_characteristic_row(item) for item in record.evaluation.characteristics)


def _characteristic_row(item: Characteristic) -> CharacteristicRow:
    estimate = Estimate(value=item.value, u=item.u, nu=item.nu)
    tolerance = item.tolerance
    judged = item.group is not CharacteristicGroup.INFORMATION
    return CharacteristicRow(
        label=item.label,
        nominal=Number(item.nominal),
        limits=NONE if tolerance is None else said("± {limit}", limit=Number(tolerance, DECIMALS)),
        value=Number(item.value, DECIMALS),
        u95=Number(estimate.U95, DECIMALS),
        unit=item.unit,
        verdict=item.verdict if judged else None,
        share=None if tolerance is None else (item.value - item.nominal) / tolerance,
        share_u95=None if tolerance is None else estimate.U95 / tolerance,
        zone=_zone(item, tolerance),
        measured=_with_unit(item.value, item.unit, estimate.U95),
    )


def _zone(item: Characteristic, tolerance: float | None) -> Part:
    if tolerance is None:
        return NONE
    limit = _with_unit(tolerance, item.unit)
    return (
        said("{nominal} ± {limit}", nominal=Number(item.nominal), limit=limit)
        if item.nominal
        else said("± {limit}", limit=limit)
    )


def _with_unit(value: float, unit: str, u95: float | None = None) -> Part:
    return Length(value, 2, u_mm=u95) if unit == "mm" else Angle(value, 2, u_deg=u95)


def reading_rows(record: SessionRecord) -> tuple[ReadingRow, ...]:
    """Every feature that was read, in the order of the adjustment."""
    return tuple(_reading_row(item) for item in record.evaluation.adjustment.readings)


def _reading_row(item: AdjustedReading) -> ReadingRow:
    detectable = item.smallest_detectable
    return ReadingRow(
        label=item.feature.label,
        count=Number(item.count),
        mean=Number(item.value, DECIMALS),
        best_fit=Number(item.adjusted, DECIMALS),
        residual=Number(item.residual, DECIMALS, signed=True),
        standardised=Number(item.standardised_residual, 1, signed=True),
        detectable=NONE if detectable is None else Number(detectable, 2),
        unit="mm" if item.feature.is_length else "deg",
    )


def sentences(record: SessionRecord) -> tuple[Part, ...]:
    """What the verdict means, the headline first."""
    evaluation = record.evaluation
    if evaluation.verdict is Verdict.INCONSISTENT:
        return (headline(evaluation), *explanation_sentences(evaluation)[:_MOST_EXPLANATIONS])
    lines = (
        headline(evaluation),
        worst_sentence(evaluation),
        skew_sentence(evaluation),
        part_sentence(evaluation.told_skew_deg, record.part_side_mm),
        size_sentence(evaluation),
        cross_check_note(evaluation),
        conditions_sentence(evaluation),
    )
    return tuple(line for line in lines if line)


def facts(record: SessionRecord) -> tuple[tuple[Said, Part], ...]:
    """What was measured, where, when, by whom, with what, as a customer asks: (name, value) pairs."""
    session = record.session
    opened, coupon, log = session.opened, session.opened.coupon, session.log
    size: Part = Size(coupon.width_mm, coupon.height_mm)
    if coupon.window_width_mm is not None and coupon.window_height_mm is not None:
        window = Size(coupon.window_width_mm, coupon.window_height_mm)
        measured = said("{size} (X × Y), window {window}", size=size, window=window)
    else:
        measured = said("{size} (X × Y)", size=size)
    return (
        *_label(session),
        (said("Coupon"), measured),
        (said("Limits"), _limits(opened.limits)),
        (said("Machine"), Name(shortened(opened.machine)) if opened.machine else said("not named")),
        (said("Measured by"), Name(shortened(opened.operator)) if opened.operator else said("not named")),
        (said("Measured"), _period(log)),
        *(((said("Bench"), Name(shortened(record.bench))),) if record.bench else ()),
        (said("Instruments"), _instruments(session)),
        *_certificates(session),
        (said("Last check"), _last_checks(record)),
        *(((said("Note"), Name(shortened(session.note))),) if session.note else ()),
    )


def method_facts(record: SessionRecord) -> tuple[tuple[Said, Part], ...]:
    """What the figures rest on, for whoever measures: (name, value) pairs."""
    session = record.session
    caliper, gauge = session.setup.caliper, session.setup.gauge
    span_mm = session.opened.span_mm
    return (
        (said("Gantry span"), said("not known") if span_mm is None else Length(span_mm, None)),
        (said("Mark beside NL"), said("confirmed") if session.mark_confirmed else said("not confirmed")),
        (
            said("Caliper"),
            said(
                "res {resolution}, rep {repeatability}, lin ±{linearity}",
                resolution=Number(caliper.resolution, None),
                repeatability=Number(caliper.repeatability, None),
                linearity=Length(caliper.linearity, None),
            ),
        ),
        (
            said("Angle gauge"),
            said(
                "res {resolution}, rep {repeatability}, lin ±{linearity}",
                resolution=Number(gauge.resolution, None),
                repeatability=Number(gauge.repeatability, None),
                linearity=Angle(gauge.linearity, None),
            ),
        ),
        (said("Readings"), _counts(record)),
    )


def _label(session: Session) -> Iterator[tuple[Said, Part]]:
    """What the person calls the coupon, where anything was given."""
    order, customer = session.opened.order, session.opened.customer
    if order:
        yield said("Name or order"), Name(shortened(order))
    if customer:
        yield said_in("whom the part is for", "Customer"), Name(shortened(customer))


def _certificates(session: Session) -> Iterator[tuple[Said, Part]]:
    """Number and last calibration of the instruments, where the person gave them."""
    if session.opened.caliper:
        yield said("Caliper"), Name(shortened(session.opened.caliper))
    if session.opened.gauge:
        yield said("Angle gauge"), Name(shortened(session.opened.gauge))


def _limits(limits: Limits) -> Part:
    """Where they come from; of a class with a letter for squareness also what became of its standard."""
    if not _WITH_PART_2.fullmatch(limits.source):
        return limits.whence
    return said("{source} (part 1 in force, part 2 withdrawn for ISO 22081)", source=limits.whence)


def _instruments(session: Session) -> Series:
    """Those that gave a reading that counts, and whether some were typed; before the first, those on the bench."""
    typed = any(reading.method is Method.TYPED for reading in session.active)
    named = [reading.instrument for reading in session.active if reading.instrument]
    used: list[Part] = [Name(name) for name in dict.fromkeys(named)]
    if typed:
        used.append(said("typed readings"))
    return Series(tuple(used) or tuple(map(Name, session.opened.instruments)), joint=", ")


def shortened(text: str, longest: int = _LONGEST_FACT) -> str:
    """At most so many characters, by default two lines of the list of facts."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def _period(log: tuple[Event, ...]) -> Said:
    first, last = log[0].time_utc, _measured_until(log)
    if first is None or last is None:
        return said("clock was not set")
    return said("{first} to {last}", first=Time(first), last=Time(last, after=first))


def _measured_until(log: tuple[Event, ...]) -> datetime | None:
    """When the coupon was finished; what was added to it later is no measuring."""
    closed = [event.time_utc for event in log if isinstance(event.payload, Closed)]
    return closed[-1] if closed else log[-1].time_utc


def _last_checks(record: SessionRecord) -> Said:
    """Every instrument's last check, and when the next is due."""
    begun_utc = record.session.log[0].time_utc
    checked = tuple(recorded_line(history, begun_utc) for history in record.checks if history.last is not None)
    if not checked:
        return said("Check again {when}.", when=WHEN_TO_CHECK)
    return said("{checks}. Check again {when}.", checks=Series(checked, joint="; "), when=WHEN_TO_CHECK)


def _counts(record: SessionRecord) -> Said:
    reasons = tuple(Name(item.voided) for item in record.session.readings if item.voided is not None)
    taken = len(record.session.active)
    if not reasons:
        return said("{taken} taken", taken=taken)
    return said(
        "{taken} taken, {voided} voided ({reasons})",
        taken=taken,
        voided=len(reasons),
        reasons=Series(reasons, joint="; "),
    )


def correction_text(record: SessionRecord) -> Part:
    """The correction, or why there is none."""
    if record.correction is None:
        return said("No gantry span is known for this machine, so no move can be given.")
    return record.correction.text


def before_text(record: SessionRecord) -> Part:
    """The coupon before this one on the same machine, and what changed."""
    before = record.before
    if before is None or before.skew_deg is None or before.skew_u95_deg is None:
        return said("No earlier coupon of this machine is on record.")
    when = Time(before.opened_utc, clock=False) if before.opened_utc else said("undated")
    now = record.evaluation.told_skew_deg
    word = before.word or said("not judged")
    sentence = said(
        "Before ({when}, session {session}): {word}, skew {skew}. Now: {now}, skew {now_skew}.",
        when=when,
        session=Name(before.id),
        word=word,
        skew=Angle(before.skew_deg, DECIMALS, before.skew_u95_deg, signed=True),
        now=told_word(record.evaluation),
        now_skew=said("not known") if now is None else Angle(now.value, DECIMALS, now.U95, signed=True),
    )
    return paragraph(sentence, record.comparison.text if record.comparison else NOTHING)
