"""The coupon's outline as the verdict draws it: how far what was judged is off, counted in limits.

Stage: screen. Input: Evaluation. Output: Outline, frozen. Counted in limits, a limit is as long on the drawing whatever
it is in millimetres: what is GO stays inside its band, and what is far off is not made to look harmless.
"""

from dataclasses import dataclass

from core.geometry.features import EDGES
from core.machine.before_after import BeforeAfter
from core.metrology.evaluation import Evaluation
from core.metrology.verdict import Characteristic, CharacteristicGroup, Verdict
from core.said import NOTHING, Angle, Length, Said, said

_SQUARE_NAMES = ("squareness", "skew", "diagonal-difference")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """What is drawn, each in limits: `lean` how far the far edge stands to the right of the near one; `longer` by how
    much the near, right, far and left edge are longer than nominal. `u` is the expanded uncertainty of what is drawn;
    `fails` paints it red; `caption` says how long a limit is, `title` which of two outlines it is."""

    lean: float = 0.0
    longer: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    u: float = 0.0
    fails: bool = False
    caption: Said = NOTHING
    title: Said = NOTHING


def outline_of(evaluation: Evaluation) -> Outline | None:
    """The headline's group as an outline, of a GO the group that uses most of its limits; None where nothing that was
    read has a limit, or where readings contradict each other."""
    worst = _most_used(evaluation)
    if worst is None or not worst.tolerance or evaluation.verdict is Verdict.INCONSISTENT:
        return None
    caption = said("The band is ± {limit}", limit=_amount(worst))
    u, fails = worst.U95 / worst.tolerance, worst.verdict is Verdict.NO_GO
    if worst.name in _SQUARE_NAMES:
        return Outline(lean=worst.share, u=u, fails=fails, caption=caption)
    return Outline(longer=_longer(evaluation, worst), u=u, fails=fails, caption=caption)


def outlines_of_proof(proof: BeforeAfter, evaluation: Evaluation) -> tuple[Outline, Outline] | None:
    """The lean of the coupon before and that of the one after, against the same limit; None where squareness was not
    judged in both."""
    change = next((item for item in proof.characteristics if item.name in _SQUARE_NAMES), None)
    now = next((item for item in evaluation.characteristics if change and item.name == change.name), None)
    if change is None or now is None or not now.tolerance:
        return None
    first, then = (
        Outline(
            lean=one.value / now.tolerance,
            u=one.U95 / now.tolerance,
            fails=abs(one.value) > now.tolerance,
            title=title,
            caption=said("The band is ± {limit}", limit=_amount(now)),
        )
        for one, title in ((change.before, said("before")), (change.after, said("now")))
    )
    return first, then


def _most_used(evaluation: Evaluation) -> Characteristic | None:
    if evaluation.verdict is not Verdict.GO:
        return evaluation.worst
    judged = [item for item in evaluation.characteristics if item.group is not CharacteristicGroup.INFORMATION]
    return max(judged, key=lambda item: abs(item.share), default=None)


def _longer(evaluation: Evaluation, worst: Characteristic) -> tuple[float, float, float, float]:
    """Of size each edge by its own limit; of shape how unequal opposite edges are, the worse pair as far off as the
    worst of the group is."""
    by_name = {item.name: item for item in evaluation.characteristics}
    if worst.group is CharacteristicGroup.SIZE:
        near, right, far, left = (by_name[f"edge-{edge.value}"].share for edge in EDGES)
        return near, right, far, left
    along_x, along_y = (by_name[name].value if name in by_name else 0.0 for name in ("taper-x", "taper-y"))
    largest = max(abs(along_x), abs(along_y))
    part = abs(worst.share) / largest if largest else 0.0
    return -along_x * part, along_y * part, along_x * part, -along_y * part


def _amount(item: Characteristic) -> Length | Angle:
    half = item.tolerance or 0.0
    return Length(half) if item.unit == "mm" else Angle(half)
