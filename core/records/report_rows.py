"""The report's words and numbers, before any page: pure functions of a SessionRecord.

Values in the unit of their row with three decimals, uncertainties expanded (95 %, k = 1.96). Nothing here is rounded
twice: each number is the one of session.json, printed once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from core.machine.correction_words import part_sentence
from core.metrology.adjustment import AdjustedReading, Estimate
from core.metrology.readings import Method
from core.metrology.sentences import (
    VERDICT_WORD,
    conditions_sentence,
    cross_check_note,
    estimate_text,
    explanation_sentences,
    headline,
    plain,
    signed,
    size_sentence,
    skew_sentence,
    worst_sentence,
)
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict
from core.records.events import Event
from core.records.instrument_book import WHEN_TO_CHECK, recorded_line
from core.records.session import Session
from core.records.session_record import SessionRecord
from core.said import Name, Part, Said, Series, Time, said

DECIMALS = 3
_LONGEST_FACT = 72
_WITH_PART_2 = re.compile(r"ISO 2768-[fmcv][HKL]")
_MOST_EXPLANATIONS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class CharacteristicRow:
    """One characteristic as printed; `share` and `share_u95` are deviation and U in tolerances, for the bar beside it.

    Verdict and shares are None where it is for information only.
    """

    label: str
    nominal: str
    limits: str
    value: str
    u95: str
    unit: str
    verdict: Verdict | None
    share: float | None
    share_u95: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """One feature's readings as printed."""

    label: str
    count: str
    mean: str
    best_fit: str
    residual: str
    standardised: str
    detectable: str
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
        nominal=f"{item.nominal:g}",
        limits="–" if tolerance is None else f"± {tolerance:.{DECIMALS}f}",
        value=plain(item.value, DECIMALS),
        u95=f"{estimate.U95:.{DECIMALS}f}",
        unit=item.unit,
        verdict=item.verdict if judged else None,
        share=None if tolerance is None else (item.value - item.nominal) / tolerance,
        share_u95=None if tolerance is None else estimate.U95 / tolerance,
    )


def reading_rows(record: SessionRecord) -> tuple[ReadingRow, ...]:
    """Every feature that was read, in the order of the adjustment."""
    return tuple(_reading_row(item) for item in record.evaluation.adjustment.readings)


def _reading_row(item: AdjustedReading) -> ReadingRow:
    detectable = item.smallest_detectable
    return ReadingRow(
        label=item.feature.label,
        count=str(item.count),
        mean=plain(item.value, DECIMALS),
        best_fit=plain(item.adjusted, DECIMALS),
        residual=signed(item.residual, DECIMALS),
        standardised=signed(item.standardised_residual, 1),
        detectable="–" if detectable is None else f"{detectable:.2f}",
        unit="mm" if item.feature.is_length else "deg",
    )


def sentences(record: SessionRecord) -> tuple[str, ...]:
    """What the verdict means, the headline first."""
    evaluation = record.evaluation
    if evaluation.verdict is Verdict.INCONSISTENT:
        return (headline(evaluation), *explanation_sentences(evaluation)[:_MOST_EXPLANATIONS])
    lines = (
        headline(evaluation),
        worst_sentence(evaluation),
        skew_sentence(evaluation),
        str(part_sentence(evaluation.adjustment.skew_deg, record.part_side_mm)),
        size_sentence(evaluation),
        cross_check_note(evaluation),
        conditions_sentence(evaluation),
    )
    return tuple(line for line in lines if line)


def facts(record: SessionRecord) -> tuple[tuple[str, Part | str], ...]:
    """What was measured, where, when, by whom, with what: (name, value) pairs."""
    session = record.session
    opened, coupon, log = session.opened, session.opened.coupon, session.log
    caliper, gauge = session.setup.caliper, session.setup.gauge
    window = ""
    if coupon.window_width_mm is not None and coupon.window_height_mm is not None:
        window = f", window {coupon.window_width_mm:g} × {coupon.window_height_mm:g} mm"
    return (
        ("Coupon", f"{coupon.width_mm:g} × {coupon.height_mm:g} mm (X × Y){window}"),
        ("Limits", _limits(opened.limits.source)),
        ("Machine", _given(opened.machine)),
        ("Gantry span", "not known" if opened.span_mm is None else f"{opened.span_mm:g} mm"),
        ("Operator", _given(opened.operator)),
        ("Measured", _period(log)),
        ("Instruments", _instruments(session)),
        ("Caliper", f"res {caliper.resolution:g}, rep {caliper.repeatability:g}, lin ±{caliper.linearity:g} mm"),
        ("Angle gauge", f"res {gauge.resolution:g}, rep {gauge.repeatability:g}, lin ±{gauge.linearity:g} deg"),
        ("Last check", _last_checks(record)),
        ("Mark beside NL", "confirmed" if session.mark_confirmed else "not confirmed"),
        ("Readings", _counts(record)),
    )


def _limits(source: str) -> Part | str:
    """Where they come from; of a class with a letter for squareness also what became of its standard."""
    if not _WITH_PART_2.fullmatch(source):
        return source
    return said("{source} (part 1 in force, part 2 withdrawn for ISO 22081)", source=Name(source))


def _given(name: str) -> Part:
    """What a person wrote, letter for letter."""
    return Name(shortened(name)) if name else said("not named")


def _instruments(session: Session) -> Series:
    """Those that gave a reading that counts, and whether some were typed; before the first, those on the bench."""
    typed = any(reading.method is Method.TYPED for reading in session.active)
    named = dict.fromkeys(reading.instrument for reading in session.active if reading.instrument)
    used: tuple[Part, ...] = tuple(map(Name, named))
    if typed:
        used = (*used, said("typed readings"))
    return Series(used or tuple(map(Name, session.opened.instruments)), joint=", ")


def shortened(text: str, longest: int = _LONGEST_FACT) -> str:
    """At most so many characters, by default two lines of the list of facts."""
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def _period(log: tuple[Event, ...]) -> Said:
    first, last = log[0].time_utc, log[-1].time_utc
    if first is None or last is None:
        return said("clock was not set")
    return said("{first} to {last}", first=Time(first), last=Time(last))


def _last_checks(record: SessionRecord) -> str:
    """Every instrument's last check, and when the next is due."""
    begun_utc = record.session.log[0].time_utc
    checks = "; ".join(recorded_line(history, begun_utc) for history in record.checks)
    return f"{checks}. Check again {WHEN_TO_CHECK}."


def _counts(record: SessionRecord) -> Said:
    reasons = tuple(Name(item.voided) for item in record.session.readings if item.voided is not None)
    taken = len(record.session.active)
    if not reasons:
        return said("{taken} taken", taken=taken)
    why = Series(reasons, joint="; ")
    return said("{taken} taken, {voided} voided ({reasons})", taken=taken, voided=len(reasons), reasons=why)


def correction_text(record: SessionRecord) -> Part | str:
    """The correction, or why there is none."""
    if record.correction is None:
        return "No gantry span is known for this machine, so no move can be given."
    return record.correction.text


def before_text(record: SessionRecord) -> str:
    """The coupon before this one on the same machine, and what changed."""
    before = record.before
    if before is None or before.skew_deg is None or before.skew_u95_deg is None:
        return "No earlier coupon of this machine is on record."
    when = f"{before.opened_utc:%Y-%m-%d}" if before.opened_utc else "undated"
    now = record.evaluation.adjustment.skew_deg
    word = VERDICT_WORD[Verdict(before.verdict)] if before.verdict else "not judged"
    became = f" {record.comparison.text}" if record.comparison else ""
    return (
        f"Before ({when}, session {before.id}): {word}, skew {signed(before.skew_deg, DECIMALS)} ± "
        f"{before.skew_u95_deg:.{DECIMALS}f}°. Now: {VERDICT_WORD[record.evaluation.verdict]}, skew "
        f"{estimate_text(now, '°', DECIMALS)}.{became}"
    )
