"""The verdict in words, the same on screens and in reports.

Stage: after the evaluation. In: an Evaluation. Out: sentences in plain words; numbers carry the sign that tells the
direction. Units: mm and degrees.
"""

from core.geometry import Coupon, Feature, are_keyed
from core.metrology.adjustment import Estimate
from core.metrology.evaluation import Evaluation, NextReason, Scope
from core.metrology.expansion import MATERIALS
from core.metrology.groups import GroupVerdict
from core.metrology.kerf import SizeCause
from core.metrology.verdict import CharacteristicGroup, Verdict
from core.metrology.witness import leans_by_names_alone, names_are_in_doubt, skews_say_different_words
from core.said import NOTHING, Angle, Length, Number, Part, Said, Series, paragraph, said

VERDICT_WORD = {
    Verdict.GO: said("GO"),
    Verdict.NO_GO: said("NO-GO"),
    Verdict.UNDECIDED: said("UNDECIDED"),
    Verdict.INCONSISTENT: said("INCONSISTENT"),
}

GROUP_WORD = {
    CharacteristicGroup.SQUARENESS: said("squareness"),
    CharacteristicGroup.SHAPE: said("shape"),
    CharacteristicGroup.SIZE: said("size"),
}


def told_word(judged: Evaluation | GroupVerdict) -> Said:
    """The word; of a GO or NO-GO that another reading may turn, that it is not settled in the same breath."""
    return kept_word(judged.verdict, judged.settled)


def kept_word(verdict: Verdict, settled: bool | None) -> Said:
    """The same of a word that was stored; `settled` is None where an earlier version did not keep it."""
    word = VERDICT_WORD[verdict]
    return word if lamp_of(verdict, settled) is verdict else said("{verdict}, not settled", verdict=word)


def lamp_of(verdict: Verdict, settled: bool | None) -> Verdict:
    """In whose colour and shape a word is shown: one that another reading may turn in those of an undecided one,
    finished or not, on screens and paper; `settled` is None where it was not kept."""
    may_turn = settled is False and verdict in (Verdict.GO, Verdict.NO_GO)
    return Verdict.UNDECIDED if may_turn else verdict


def groups_of(evaluation: Evaluation) -> Part:
    """What the headline's word is about: of a GO all groups that were asked for, else the one it is worst in; and
    that it is not settled, where another reading may turn it."""
    go = evaluation.verdict is Verdict.GO
    named = [one.group for one in evaluation.asked] if go else [evaluation.verdict_of]
    about = Series(tuple(GROUP_WORD[group] for group in named), joint=", ")
    if evaluation.settled or evaluation.verdict is Verdict.INCONSISTENT:
        return about
    return said("{group}, not settled", group=about)


def signed(value: float, decimals: int) -> str:
    """A number that always shows its sign, with a true minus; a rounded zero has none."""
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    return ("−" if value < 0 else "+") + text


def headline(evaluation: Evaluation) -> Said:
    """What the verdict means, in one sentence; GO names what was not measured."""
    match evaluation.verdict:
        case Verdict.GO:
            return _GO[tuple(group.group for group in evaluation.asked)]
        case Verdict.NO_GO:
            return _NO_GO[evaluation.verdict_of]
        case Verdict.UNDECIDED:
            if skews_say_different_words(evaluation):
                return said("Lengths and corners say different words.")
            if evaluation.too_close:
                return said("Too close to the limit for this coupon: a larger one, or a second cut, tells more.")
            return said("Not proven either way yet.")
        case Verdict.INCONSISTENT:
            return said("The readings contradict each other: sort that out before touching the machine.")


_SQUARENESS, _SHAPE, _SIZE = CharacteristicGroup.SQUARENESS, CharacteristicGroup.SHAPE, CharacteristicGroup.SIZE
_GO = {
    (_SQUARENESS,): said("Square within the limits. Shape and size: not measured."),
    (_SHAPE,): said("True in shape within the limits. Squareness and size: not measured."),
    (_SIZE,): said("To size within the limits. Squareness and shape: not measured."),
    (_SQUARENESS, _SHAPE): said("Square and true in shape within the limits. Size: not measured."),
    (_SQUARENESS, _SIZE): said("Square and to size within the limits. Shape: not measured."),
    (_SHAPE, _SIZE): said("True in shape and to size within the limits. Squareness: not measured."),
    (_SQUARENESS, _SHAPE, _SIZE): said("Square, true in shape and to size within the limits."),
}
_NO_GO = {
    _SQUARENESS: said("Not square: outside the limits by more than the measuring can explain."),
    _SHAPE: said("Out of shape: corners beyond the skew or opposite edges, by more than the measuring can explain."),
    _SIZE: said("Off size: an edge outside its limits by more than the measuring can explain."),
}


def cross_check_note(evaluation: Evaluation) -> Part:
    """What still keeps a word from being settled, else empty."""
    if evaluation.settled or evaluation.verdict is Verdict.INCONSISTENT:
        return NOTHING
    if evaluation.do_first:
        return evaluation.explanations[0].text
    if names_are_in_doubt(evaluation):
        doubt = said(
            "Not settled: so large a skew also comes of diagonals taken for one another, or of a coupon turned over."
        )
        return paragraph(doubt, said("Read the corners."))
    following = evaluation.next_reading
    if skews_say_different_words(evaluation):
        return said("Not settled: by the lengths alone the word is another than by the corners. A second coupon tells.")
    if following is not None and following.reason is NextReason.SUSPECT:
        return paragraph(said("Not settled: a reading does not fit the others."), _again(following.feature))
    apart = evaluation.adjustment.learned.disagreeing
    if apart:
        far = said(
            "Not settled: the readings of the {feature} lie farther apart than any hand explains.",
            feature=apart[0].label,
        )
        return paragraph(far, said("Look whether jaws or coupon are loose, then measure it anew."))
    again = next((group.again for group in evaluation.asked if not group.settled and group.again), None)
    if again is None or evaluation.too_close:
        return NOTHING
    # Nobody is told two things to do at once: where something else comes first, the next reading says so.
    first = following is None or following.feature is again
    return paragraph(said("Not settled: a slip could pass unseen."), _again(again) if first else NOTHING)


def seats_sentence(coupon: Coupon) -> Said:
    """Where the jaws lie for its diagonals."""
    if coupon.seats is None:
        return said("No seats: the diagonals are read from corner to corner.")
    if coupon.seats.nl_fr_mm == coupon.seats.nr_fl_mm:
        return said("Seats {width}.", width=Length(coupon.seats.nl_fr_mm, None))
    return said(
        "Seats {nl_fr} on NL-FR, {nr_fl} on NR-FL.",
        nl_fr=Length(coupon.seats.nl_fr_mm, None),
        nr_fl=Length(coupon.seats.nr_fl_mm, None),
    )


def _again(feature: Feature) -> Said:
    return said("Read the {feature} again.", feature=feature.label)


def worst_sentence(evaluation: Evaluation) -> Said:
    """The characteristic of the headline's group that uses most of its tolerance, with its limit."""
    worst = evaluation.worst
    if worst is None:
        return said("No limit was given for what was read.")
    deviation, tolerance = worst.value - worst.nominal, worst.tolerance or 0.0
    parts: dict[str, Part] = {"label": worst.label}
    if worst.unit == "mm":
        parts |= {"off": Length(deviation, u_mm=worst.U95, signed=True), "limit": Length(tolerance)}
        nominal: Part = Length(worst.nominal, None)
    else:
        parts |= {"off": Angle(deviation, u_deg=worst.U95, signed=True), "limit": Angle(tolerance)}
        nominal = Angle(worst.nominal, None)
    if worst.nominal:
        return said("{label:capital}, from {nominal}: {off}, limit ±{limit}.", nominal=nominal, **parts)
    return said("{label:capital}: {off}, limit ±{limit}.", **parts)


def _lean(skew_deg: Estimate) -> Angle:
    return Angle(skew_deg.value, u_deg=skew_deg.U95, signed=True)


def acute_corners(skew_deg: Estimate) -> Said:
    """A skew that is proven, and which corners it makes acute."""
    amount = _lean(skew_deg)
    if skew_deg.value > 0.0:
        return said("Skew {amount}: corners NL and FR are acute.", amount=amount)
    return said("Skew {amount}: corners NR and FL are acute.", amount=amount)


def skew_sentence(evaluation: Evaluation) -> Said:
    """The skew and which corners it makes acute, as far as more than the diagonals' names says so."""
    if evaluation.seats_in_doubt:
        return said("Skew: not to be told before it is sure which seats the coupon has.")
    skew, by = evaluation.adjustment.skew_deg, evaluation.skew_by
    value = _lean(skew)
    if by.disagree and by.lengths is not None and by.corners is not None:
        return said(
            "The lengths say a skew of {lengths}, the corners {corners}: they do not agree.",
            lengths=_lean(by.lengths),
            corners=_lean(by.corners),
        )
    if abs(skew.value) <= skew.U95:
        return said("Skew {skew}: not to be told from square.", skew=value)
    if leans_by_names_alone(evaluation) and evaluation.coupon.seats is None:
        # From corner to corner burning feigns a skew of any size, and nothing in the lengths shows it.
        if skew.value > 0.0:
            return said(
                "Skew {skew}: corners NL and FR are acute, if the diagonals were not taken for one another and no "
                "corners are burnt more than others.",
                skew=value,
            )
        return said(
            "Skew {skew}: corners NR and FL are acute, if the diagonals were not taken for one another and no corners "
            "are burnt more than others.",
            skew=value,
        )
    if leans_by_names_alone(evaluation):
        if skew.value > 0.0:
            return said(
                "Skew {skew}: corners NL and FR are acute, if the diagonals were not taken for one another.", skew=value
            )
        return said(
            "Skew {skew}: corners NR and FL are acute, if the diagonals were not taken for one another.", skew=value
        )
    coupon = evaluation.coupon
    if coupon.seats is not None and are_keyed(coupon.width_mm, coupon.height_mm, coupon.seats):
        # What is read from seat to seat is longer on the narrow seats, whichever diagonal the skew stretches.
        return acute_corners(skew)
    if skew.value > 0:
        return said("Skew {skew}: corners NL and FR are acute, diagonal NL-FR is the longer.", skew=value)
    return said("Skew {skew}: corners NR and FL are acute, diagonal NR-FL is the longer.", skew=value)


def size_sentence(evaluation: Evaluation) -> Part:
    """The verdict on size, and what the sizes point to where they are off or a window told more."""
    if not any(item.group is CharacteristicGroup.SIZE for item in evaluation.characteristics):
        return said("Size: not judged.")
    word = told_word(evaluation.group(CharacteristicGroup.SIZE))
    return paragraph(said("Size: {word}.", word=word), size_cause(evaluation))


def size_cause(evaluation: Evaluation) -> Part:
    """What the sizes point to: kerf, scale, or both told apart by a window; empty while nothing is proven."""
    finding = evaluation.size_finding
    return NOTHING if finding is None or finding.cause is SizeCause.NONE else finding.text


def conditions_sentence(evaluation: Evaluation) -> Said:
    """What the verdict leaves out or takes for granted; empty when nothing."""
    if evaluation.scope is Scope.SQUARENESS:
        return said("Quick check: squareness alone; whether the sides run parallel was not looked at.")
    warm = evaluation.expansion
    if warm is None:
        return NOTHING
    return said(
        "Sizes are those at 20 °C, from {material} at {temperature}.",
        material=MATERIALS[warm.material].label,
        temperature=Number(warm.temperature_c, sign="°C"),
    )


def explanation_sentences(evaluation: Evaluation) -> tuple[Part, ...]:
    """What may be behind contradictory readings, the likeliest first, numbered."""
    texts = [explanation.text for explanation in evaluation.explanations]
    if not texts:
        several = said("No single slip explains it: more than one reading is off.")
        return (paragraph(several, said("Measure the coupon anew.")),)
    return tuple(said("{number}. {what}", number=number, what=text) for number, text in enumerate(texts, start=1))
