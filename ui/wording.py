"""Sentences for the person at the bench: pure functions of values, shared by screens, text bench and command line.

On screens the adjustment is called best fit. Numbers carry the sign that tells direction and as many digits as mean
something. Units: mm and degrees.
"""

from __future__ import annotations

from core.geometry.features import Feature
from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation, NextReading, NextReason
from core.metrology.verdict import Characteristic, Verdict

VERDICT_WORD = {
    Verdict.GO: "GO",
    Verdict.NO_GO: "NO-GO",
    Verdict.UNDECIDED: "UNDECIDED",
    Verdict.INCONSISTENT: "INCONSISTENT",
}


def value_text(feature: Feature, value: float) -> str:
    """A reading with its unit: '119.85 mm', '89.6°'."""
    return f"{value:.2f} mm" if feature.is_length else f"{value:.2f}°"


def estimate_text(estimate: Estimate, unit: str, decimals: int) -> str:
    """Value and expanded uncertainty: '−0.35 ± 0.06°'."""
    return f"{signed(estimate.value, decimals)} ± {estimate.U95:.{decimals}f}{unit}"


def signed(value: float, decimals: int) -> str:
    """A number that always shows its sign, with a true minus; a rounded zero has none."""
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    return ("−" if value < 0 else "+") + text


def headline(evaluation: Evaluation) -> str:
    """What the verdict means, in one sentence."""
    match evaluation.verdict:
        case Verdict.GO:
            return "Square within the limits."
        case Verdict.NO_GO:
            return "Not square: outside the limits by more than the measuring can explain."
        case Verdict.UNDECIDED:
            return "Not proven either way yet."
        case Verdict.INCONSISTENT:
            return "The readings contradict each other: sort that out before touching the machine."


def cross_check_note(evaluation: Evaluation) -> str:
    """A warning while a misread diagonal could pass unseen, else empty."""
    if evaluation.cross_checked or evaluation.verdict is Verdict.INCONSISTENT:
        return ""
    return "Not cross-checked: a misread diagonal would pass unseen. Read the corners, or both diagonals again."


def skew_sentence(evaluation: Evaluation) -> str:
    """The skew and which corners it makes acute."""
    skew = evaluation.adjustment.skew_deg
    text = f"Skew {estimate_text(skew, '°', 2)}"
    if abs(skew.value) <= skew.U95:
        return f"{text}: not to be told from square."
    acute, longer = ("NL and FR", "NL-FR") if skew.value > 0 else ("NR and FL", "NR-FL")
    return f"{text}: corners {acute} are acute, diagonal {longer} is the longer."


def next_reading_sentence(request: NextReading | None) -> str:
    """What to measure next and why."""
    if request is None:
        return "Nothing more to measure."
    match request.reason:
        case NextReason.FIRST:
            return f"Next: {request.feature.label}."
        case NextReason.AGAIN:
            return (
                f"Read the {request.feature.label} again, opened and closed anew: a misreading there could pass unseen."
            )
        case NextReason.SUSPECT:
            return f"Read the {request.feature.label} again: it does not fit the others."


def characteristic_line(characteristic: Characteristic) -> str:
    """One row: name, value ± U, limits, verdict; for terminals and reports."""
    decimals = 2
    estimate = Estimate(value=characteristic.value, u=characteristic.u)
    if characteristic.lower is None or characteristic.upper is None:
        limits, word = "no limit", "information"
    else:
        limits = f"{characteristic.lower:.{decimals}f} to {characteristic.upper:.{decimals}f}"
        word = VERDICT_WORD[characteristic.verdict]
    value = f"{estimate.value:.{decimals}f} ± {estimate.U95:.{decimals}f} {characteristic.unit}"
    return f"{characteristic.label:<26}{value:>22}   {limits:<20}{word}"
