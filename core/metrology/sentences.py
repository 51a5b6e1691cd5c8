"""The verdict in words, the same on screens and in reports.

Stage: after the evaluation. In: an Evaluation. Out: sentences in plain words; numbers carry the sign that tells the
direction. Units: mm and degrees.
"""

from __future__ import annotations

from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation, Scope
from core.metrology.kerf import SizeCause
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import names_are_in_doubt
from core.said import Series, said

VERDICT_WORD = {
    Verdict.GO: "GO",
    Verdict.NO_GO: "NO-GO",
    Verdict.UNDECIDED: "UNDECIDED",
    Verdict.INCONSISTENT: "INCONSISTENT",
}

GROUP_WORD = {
    CharacteristicGroup.SQUARENESS: said("squareness"),
    CharacteristicGroup.SHAPE: said("shape"),
    CharacteristicGroup.SIZE: said("size"),
}


def groups_of(evaluation: Evaluation) -> Series:
    """What the headline's word is about: of a GO all groups that were asked for, else the one it is worst in."""
    go = evaluation.verdict is Verdict.GO
    named = [one.group for one in evaluation.asked] if go else [evaluation.verdict_of]
    return Series(tuple(GROUP_WORD[group] for group in named), joint=", ")


def estimate_text(estimate: Estimate, unit: str, decimals: int) -> str:
    """Value and expanded uncertainty: '−0.35 ± 0.06°'."""
    return f"{signed(estimate.value, decimals)} ± {estimate.U95:.{decimals}f}{unit}"


def signed(value: float, decimals: int) -> str:
    """A number that always shows its sign, with a true minus; a rounded zero has none."""
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    return ("−" if value < 0 else "+") + text


def plain(value: float, decimals: int) -> str:
    """A number with a true minus and no plus; a rounded zero has no sign."""
    return signed(value, decimals).removeprefix("+")


def headline(evaluation: Evaluation) -> str:
    """What the verdict means, in one sentence; GO names what was not measured."""
    match evaluation.verdict:
        case Verdict.GO:
            return _GO[tuple(group.group for group in evaluation.asked)]
        case Verdict.NO_GO:
            return _NO_GO[evaluation.verdict_of]
        case Verdict.UNDECIDED:
            if evaluation.too_close:
                return "Too close to the limit for this coupon: a larger one, or a second cut, tells more."
            return "Not proven either way yet."
        case Verdict.INCONSISTENT:
            return "The readings contradict each other: sort that out before touching the machine."


_SQUARENESS, _SHAPE, _SIZE = CharacteristicGroup.SQUARENESS, CharacteristicGroup.SHAPE, CharacteristicGroup.SIZE
_GO = {
    (_SQUARENESS,): "Square within the limits. Shape and size: not measured.",
    (_SHAPE,): "True in shape within the limits. Squareness and size: not measured.",
    (_SIZE,): "To size within the limits. Squareness and shape: not measured.",
    (_SQUARENESS, _SHAPE): "Square and true in shape within the limits. Size: not measured.",
    (_SQUARENESS, _SIZE): "Square and to size within the limits. Shape: not measured.",
    (_SHAPE, _SIZE): "True in shape and to size within the limits. Squareness: not measured.",
    (_SQUARENESS, _SHAPE, _SIZE): "Square, true in shape and to size within the limits.",
}
_NO_GO = {
    _SQUARENESS: "Not square: outside the limits by more than the measuring can explain.",
    _SHAPE: "Out of shape: corners beyond the skew or opposite edges, by more than the measuring can explain.",
    _SIZE: "Off size: an edge outside its limits by more than the measuring can explain.",
}


def cross_check_note(evaluation: Evaluation) -> str:
    """What still keeps a word from being settled, else empty."""
    if evaluation.settled or evaluation.verdict is Verdict.INCONSISTENT:
        return ""
    if names_are_in_doubt(evaluation):
        return (
            "Not settled: so large a skew also comes of diagonals taken for one another, or of a coupon turned over. "
            "Read the corners."
        )
    again = next((group.again for group in evaluation.asked if not group.settled and group.again), None)
    if again is None or evaluation.too_close:
        return ""
    return f"Not settled: a slip could pass unseen. Read the {again.label} again."


def worst_sentence(evaluation: Evaluation) -> str:
    """The characteristic of the headline's group that uses most of its tolerance, with its limit."""
    worst = evaluation.worst
    if worst is None:
        return "No limit was given for what was read."
    sign = "°" if worst.unit == "deg" else " mm"
    deviation = Estimate(value=worst.value - worst.nominal, u=worst.u, nu=worst.nu)
    label = worst.label[:1].upper() + worst.label[1:] + (", from 90°" if worst.nominal else "")
    return f"{label}: {estimate_text(deviation, sign, 2)}, limit ±{worst.tolerance:.2f}{sign}."


def skew_sentence(evaluation: Evaluation) -> str:
    """The skew and which corners it makes acute."""
    skew = evaluation.adjustment.skew_deg
    text = f"Skew {estimate_text(skew, '°', 2)}"
    if abs(skew.value) <= skew.U95:
        return f"{text}: not to be told from square."
    acute, longer = ("NL and FR", "NL-FR") if skew.value > 0 else ("NR and FL", "NR-FL")
    return f"{text}: corners {acute} are acute, diagonal {longer} is the longer."


def size_sentence(evaluation: Evaluation) -> str:
    """The verdict on size, and what the sizes point to where they are off or a window told more."""
    if not any(item.group is CharacteristicGroup.SIZE for item in evaluation.characteristics):
        return "Size: not judged."
    return f"Size: {VERDICT_WORD[evaluation.size_verdict]}. {size_cause(evaluation)}"


def size_cause(evaluation: Evaluation) -> str:
    """What the sizes point to: kerf, scale, or both told apart by a window; empty while nothing is proven."""
    finding = evaluation.size_finding
    return "" if finding is None or finding.cause is SizeCause.NONE else finding.text


def conditions_sentence(evaluation: Evaluation) -> str:
    """What the verdict leaves out or takes for granted; empty when nothing."""
    if evaluation.scope is Scope.SQUARENESS:
        return "Quick check: squareness alone; whether the sides run parallel was not looked at."
    warm = evaluation.expansion
    return f"Sizes are those at 20 °C, from {warm.material} at {warm.temperature_c:g} °C." if warm else ""


def explanation_sentences(evaluation: Evaluation) -> tuple[str, ...]:
    """What may be behind contradictory readings, the likeliest first, numbered."""
    texts = [explanation.text for explanation in evaluation.explanations]
    if not texts:
        return ("No single slip explains it: more than one reading is off. Measure the coupon anew.",)
    return tuple(f"{number}. {text}" for number, text in enumerate(texts, start=1))
