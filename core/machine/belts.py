"""Two belts compared by their notes.

Stage: correction (cause). Input: two belt notes. Output: the ratio of their tensions with its uncertainty, in words.
A taut belt sounds as a string: f = sqrt(T/mu) / (2 L), so tension goes as (f L)² and mass per metre (Mersenne's law
of strings, Harmonie universelle, 1636). Belts of one kind on equal spans compare by frequency alone.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

from core.machine.belt_note import BeltNote
from core.metrology import Estimate
from core.said import NOTHING, Number, Part, Said, Series, paragraph, said


class BeltComparison(Struct, frozen=True, kw_only=True):
    """Two belts: `tension_ratio` is first over second. `tensions_n` only where the mass per metre is known."""

    tension_ratio: Estimate
    tensions_n: tuple[Estimate, Estimate] | None
    equal: bool
    text: Series


def string_tension_n(frequency_hz: float, length_mm: float, mass_kg_per_m: float) -> float:
    """Tension of a string of free length L sounding at f: T = mu (2 L f)²."""
    return mass_kg_per_m * (2.0 * length_mm / 1000.0 * frequency_hz) ** 2


def compare_belts(
    first: BeltNote, second: BeltNote, *, lengths_mm: Sequence[float] = (1.0, 1.0), mass_kg_per_m: float | None = None
) -> BeltComparison:
    """Compare two belts of one kind by their notes; `lengths_mm`: the free lengths plucked (equal ones need none)."""
    f1, f2 = first.frequency_hz, second.frequency_hz
    ratio = (f1.value * lengths_mm[0] / (f2.value * lengths_mm[1])) ** 2
    u = 2.0 * ratio * math.hypot(f1.u / f1.value, f2.u / f2.value)
    estimate = Estimate(value=ratio, u=u)
    equal = abs(ratio - 1.0) <= estimate.U95
    tensions = None
    if mass_kg_per_m is not None:
        tensions = tuple(
            Estimate(value=tension, u=2.0 * tension * note.u / note.value)
            for note, length in zip((f1, f2), lengths_mm, strict=True)
            for tension in (string_tension_n(note.value, length, mass_kg_per_m),)
        )
    return BeltComparison(
        tension_ratio=estimate,
        tensions_n=(tensions[0], tensions[1]) if tensions else None,
        equal=equal,
        text=paragraph(_comparison_text(f1, f2, estimate, equal), _newtons(tensions)),
    )


def _newtons(tensions: tuple[Estimate, ...] | None) -> Said:
    if tensions is None:
        return NOTHING
    first, second = (
        said("{tension} ± {u}", tension=Number(t.value, 1), u=Number(t.U95, 1, sign="N")) for t in tensions
    )
    return said("Tensions {first} and {second}.", first=first, second=second)


def _comparison_text(first_hz: Estimate, second_hz: Estimate, ratio: Estimate, equal: bool) -> Said:
    parts: dict[str, Part] = {
        "first": Number(first_hz.value, 1, sign="Hz"),
        "second": Number(second_hz.value, 1, sign="Hz"),
    }
    if equal:
        bound = Number(100.0 * (abs(ratio.value - 1.0) + ratio.U95), 0, sign="%")
        return said(
            "First belt {first}, second {second}: no difference in tension is proven (less than {bound}).",
            bound=bound,
            **parts,
        )
    factor = ratio.value if ratio.value > 1.0 else 1.0 / ratio.value
    parts["share"] = said(
        "{share} ± {u}",
        share=Number(100.0 * (factor - 1.0), 0),
        u=Number(100.0 * ratio.U95 * factor / ratio.value, 0, sign="%"),
    )
    if ratio.value > 1.0:
        return said("First belt {first}, second {second}: the first belt is tighter by {share}.", **parts)
    return said("First belt {first}, second {second}: the second belt is tighter by {share}.", **parts)
