"""The coupon's outline as every drawing shows it, on the screen and on paper: how far it is off, counted in limits.

Stage: screen, report, files. Input: Evaluation. Output: Outline, and its corners in any unit. Counted in limits, a
limit is as long on the drawing whatever it is in millimetres: what is GO stays inside its band, and what is far off is
not made to look harmless.
"""

from msgspec import Struct

from core.geometry import EDGES
from core.machine import BeforeAfter
from core.metrology import Characteristic, CharacteristicGroup, Evaluation, Verdict, lamp_of
from core.said import NOTHING, Angle, Length, Part, Said, Series, said

Point = tuple[float, float]
Polygon = tuple[Point, Point, Point, Point]

# What is far off is drawn so many limits off at most: beyond it a drawing says no more than that it is.
MOST_LIMITS = 2.2
_SQUARE_NAMES = ("squareness", "skew", "diagonal-difference")


class Outline(Struct, frozen=True, kw_only=True):
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
    if worst is None or not worst.tolerance or evaluation.told_skew_deg is None:
        return None
    caption = said("The band is ± {limit}", limit=_amount(worst))
    u, fails = worst.U95 / worst.tolerance, lamp_of(worst.verdict, evaluation.settled) is Verdict.NO_GO
    if worst.name in _SQUARE_NAMES:
        return Outline(lean=worst.share, u=u, fails=fails, caption=caption)
    return Outline(longer=_longer(evaluation, worst), u=u, fails=fails, caption=caption)


def whole_outline(evaluation: Evaluation) -> Outline | None:
    """Lean and lengths at once, each in limits of its own, and the farthest corner as far off as the worst of all that
    is judged: two that are within their limits are not drawn as one that is not, and what is outside is never drawn
    inside. `caption` says what the limit is of each. None where nothing that was read has a limit, or where
    readings contradict each other."""
    if evaluation.told_skew_deg is None:
        return None
    by_name = {item.name: item for item in evaluation.characteristics if item.tolerance}
    square = next((by_name[name] for name in _SQUARE_NAMES if name in by_name), None)
    edges = [by_name.get(f"edge-{edge.value}") for edge in EDGES]
    longer = tuple(edge.share if edge else 0.0 for edge in edges)
    along_x, along_y = edges[0] or edges[2], edges[1] or edges[3]
    limits: list[Part] = [] if square is None else [said("squareness {limit}", limit=_amount(square))]
    lengths = dict.fromkeys(_amount(edge) for edge in (along_x, along_y) if edge)
    if lengths:
        limits.append(said("edges {limit}", limit=Series(tuple(lengths), joint=" / ")))
    if not limits:
        return None
    lean = square.share if square else 0.0
    farthest = max(abs(lean) + max(abs(longer[0]), abs(longer[2])), *map(abs, longer))
    judged = [item for item in by_name.values() if item.group is not CharacteristicGroup.INFORMATION]
    part = max(abs(item.share) for item in judged) / farthest if farthest else 1.0
    near, right, far, left = (part * share for share in longer)
    return Outline(
        lean=part * lean,
        longer=(near, right, far, left),
        u=square.U95 / square.tolerance if square and square.tolerance else 0.0,
        fails=lamp_of(evaluation.verdict, evaluation.settled) is Verdict.NO_GO,
        caption=said("The band is ± the limit: {limits}", limits=Series(tuple(limits), joint=", ")),
    )


def place_outline(outline: Outline, box: tuple[float, float, float, float], limit: float) -> Polygon:
    """The corners NL, NR, FR, FL on a nominal box (left, bottom, width, height), a limit being so long. At its limit a
    lean moves the far edge to the right and the near edge to the left by `limit` each, an edge too long both of its
    ends."""
    x, y, width, height = box
    lean = held_on(outline.lean) * limit
    near, right, far, left = (held_on(share) * limit for share in outline.longer)
    return (
        (x - lean - near, y - left),
        (x + width - lean + near, y - right),
        (x + width + lean + far, y + height + right),
        (x + lean - far, y + height + left),
    )


def place_band(outline: Outline, box: tuple[float, float, float, float], limit: float) -> list[Polygon]:
    """The limit on either side of the upright edges; of lengths beside the level ones too."""
    x, y, width, height = box
    bands = [_rectangle(side - limit, y, 2 * limit, height) for side in (x, x + width)]
    if any(outline.longer):
        bands += [_rectangle(x, side - limit, width, 2 * limit) for side in (y, y + height)]
    return bands


def place_u(outline: Outline, shape: Polygon, limit: float) -> list[Polygon]:
    """How far the upright edges of the placed shape could be off: a band along each."""
    nl, nr, fr, fl = shape
    half = min(outline.u, MOST_LIMITS) * limit
    return [
        ((low[0] - half, low[1]), (low[0] + half, low[1]), (high[0] + half, high[1]), (high[0] - half, high[1]))
        for low, high in ((nl, fl), (nr, fr))
    ]


def held_on(share: float) -> float:
    """So many limits, as far as a drawing goes."""
    return max(-MOST_LIMITS, min(MOST_LIMITS, share))


def _rectangle(x: float, y: float, width: float, height: float) -> Polygon:
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


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
