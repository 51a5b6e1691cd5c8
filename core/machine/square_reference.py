"""The machine's own square reference: a coupon's skew and the gaps at the time it was cut, remembered together.

Stage: correction without a new coupon. Input: the machine log and two gaps read now. Output: the skew the gantry would
cut with now, and the move that would make it square, as far as its uncertainty supports that. The reference is dropped
after a crash, a move of the machine, a belt or a tool change: it then no longer says where square is.
"""

import math
from collections.abc import Iterable

from msgspec import Struct

from core.machine.coupon_choice import wanted_over_span_mm
from core.machine.gantry_correction import Correction, Refusal, RefusalReason, correction_of_skew
from core.machine.machine_log import LogEntry, MachineEvent, MachineEventKind, ReferenceKept
from core.machine.move import move_of_skew
from core.machine.parallelism import GAP_U_MM, Gaps, skew_change
from core.machine.profile import MachineProfile
from core.metrology import Estimate
from core.said import Length, Name, Said, said

DROPPING_WORDS = {
    MachineEventKind.CRASH: said("a crash"),
    MachineEventKind.MOVE: said("the machine was moved"),
    MachineEventKind.BELT_CHANGE: said("a belt was changed"),
    MachineEventKind.TOOL_CHANGE: said("the tool was changed"),
    MachineEventKind.PLAY_CURED: said("play was cured"),
}


class ReferenceState(Struct, frozen=True, kw_only=True):
    """The newest reference, or why there is none: `dropped_by` is the event that cost it."""

    kept: ReferenceKept | None
    dropped_by: MachineEventKind | None

    @property
    def text(self) -> Said:
        """One sentence for the machine's screen."""
        if self.kept is not None:
            return said("Square reference kept from session {session}.", session=Name(self.kept.session))
        if self.dropped_by is not None:
            return said(
                "The square reference was dropped: {cause}. Cut and measure a coupon.",
                cause=DROPPING_WORDS[self.dropped_by],
            )
        return said(
            "No square reference yet: read both gaps when a coupon has just been cut, before anything is moved."
        )


def reference_state(entries: Iterable[LogEntry]) -> ReferenceState:
    """The reference that holds after these entries."""
    state = ReferenceState(kept=None, dropped_by=None)
    for entry in entries:
        match entry.payload:
            case ReferenceKept() as kept:
                state = ReferenceState(kept=kept, dropped_by=None)
            case MachineEvent(kind=kind) if state.kept is not None:
                state = ReferenceState(kept=None, dropped_by=kind)
    return state


def keep_reference(session: str, skew_deg: Estimate, gaps: Gaps) -> ReferenceKept:
    """The entry that remembers a coupon's skew with the gaps read when it was cut."""
    return ReferenceKept(
        session=session,
        skew_deg=skew_deg.value,
        skew_u_deg=skew_deg.u,
        first_gap_mm=gaps.first_mm,
        second_gap_mm=gaps.second_mm,
    )


def skew_now(kept: ReferenceKept, now: Gaps, profile: MachineProfile, gap_u_mm: float = GAP_U_MM) -> Estimate:
    """The skew the machine would cut with now, in degrees, by its gaps alone."""
    then = Gaps(first_mm=kept.first_gap_mm, second_mm=kept.second_gap_mm)
    change = skew_change(then, now, profile, gap_u_mm)
    return Estimate(value=kept.skew_deg + change.value, u=math.hypot(kept.skew_u_deg, change.u))


def correction_by_reference(
    state: ReferenceState, now: Gaps, profile: MachineProfile, gap_u_mm: float = GAP_U_MM
) -> Correction | Refusal:
    """The move that makes the gantry square by two gap readings, before anything is cut; or why not."""
    if state.kept is None:
        return Refusal(reason=RefusalReason.NO_REFERENCE, text=state.text)
    skew_deg = skew_now(state.kept, now, profile, gap_u_mm)
    move_mm = move_of_skew(skew_deg, profile.span_mm)
    wanted_mm = wanted_over_span_mm(profile)
    if move_mm.u > wanted_mm / 2.0:
        return Refusal(
            reason=RefusalReason.REFERENCE_TOO_COARSE,
            text=said(
                "The square reference is known to ± {known} over the span and {wanted} is wanted: too coarse to set "
                "the gantry by. Cut and measure a coupon.",
                known=Length(move_mm.U95),
                wanted=Length(wanted_mm, None),
            ),
        )
    return correction_of_skew(skew_deg, profile)
