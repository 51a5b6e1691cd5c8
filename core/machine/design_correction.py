"""When the machine cannot be adjusted: the inverse of what it does, for the design file.

Stage: correction. Input: an evaluated coupon. Output: the affine map to apply to a design, in numbers and words, or the
reason why not. Skew is always taken out, scales only when an inner window told them from kerf (kerf is for the tool
offset to take out, not for a scale). A taper is no affine map and stays.
"""

from msgspec import Struct
from msgspec.structs import replace

from core.geometry import Affine, cut_by
from core.machine.gantry_correction import Refusal, RefusalReason, refusal_of
from core.machine.profile import MachineProfile
from core.metrology import Answers, Estimate, Evaluation, MarkSeen, MoveHeld, SizeCause, move_evidence
from core.said import Angle, Number, Said, Series, paragraph, said


class DesignCorrection(Struct, frozen=True, kw_only=True):
    """The map to apply to a design, axes as on the machine. Scales are None where they are left alone."""

    matrix: Affine
    skew_deg: Estimate
    scale_x: Estimate | None
    scale_y: Estimate | None
    sentences: tuple[Said, ...]

    @property
    def options(self) -> str:
        """The options of `cornerwise correct-design` and `cornerwise coupon` that mean this correction."""
        said = f"--skew {self.skew_deg.value:.3f}"
        if self.scale_x and self.scale_y:
            said += f" --scale-x {100.0 * self.scale_x.value:.3f} --scale-y {100.0 * self.scale_y.value:.3f}"
        return said

    @property
    def text(self) -> Series:
        """Everything there is to say, in one paragraph."""
        return paragraph(*self.sentences)


def design_correction(
    evaluation: Evaluation, profile: MachineProfile | None, *, answers: Answers
) -> DesignCorrection | Refusal:
    """The inverse of what this coupon shows, or why none can be given."""
    evidence = move_evidence(evaluation, replace(answers, names_confirmed=False))
    if evidence.held not in (None, MoveHeld.NOT_SIGNIFICANT):
        return refusal_of(evidence)
    if profile is not None and profile.controller_skew_set:
        return Refusal(
            reason=RefusalReason.CORRECTED_ELSEWHERE,
            text=said(
                "A squareness compensation is set in the controller: change that instead. A design corrected on top of "
                "it is corrected twice as soon as somebody changes either."
            ),
        )
    skew_deg = evidence.skew_deg
    scale_x, scale_y = _known_scales(evaluation)
    if answers.mark in (
        MarkSeen.NR,
        MarkSeen.FL,
    ):  # the design lay turned by a quarter: its width along the machine's Y
        scale_x, scale_y = scale_y, scale_x
    if not skew_deg.sign_is_sure and scale_x is None:
        return Refusal(
            reason=RefusalReason.NOT_SIGNIFICANT,
            text=said(
                "No correction of the design: neither the skew nor, with a window, the scales are proven to be off."
            ),
        )
    done = cut_by(skew_deg.value, scale_x.value if scale_x else 0.0, scale_y.value if scale_y else 0.0)
    matrix = done.inverse
    return DesignCorrection(
        matrix=matrix,
        skew_deg=skew_deg,
        scale_x=scale_x,
        scale_y=scale_y,
        sentences=(
            _map_sentence(matrix, skew_deg),
            _scale_sentence(evaluation, scale_x, scale_y),
            *WARNINGS,
        ),
    )


def _known_scales(evaluation: Evaluation) -> tuple[Estimate | None, Estimate | None]:
    """Scales that a window told from kerf, where at least one of them is proven to be off."""
    sizes = evaluation.size_finding
    if sizes is None or sizes.cause is not SizeCause.SEPARATED or sizes.contradictory:
        return None, None
    if not any(scale and abs(scale.value) > scale.U95 for scale in (sizes.scale_x, sizes.scale_y)):
        return None, None
    return sizes.scale_x, sizes.scale_y


def _map_sentence(matrix: Affine, skew_deg: Estimate) -> Said:
    return said(
        "Correct the design by x' = {xx} x {xy} y, y' = {yx} x {yy} y (skew {skew}).",
        xx=Number(matrix.xx, 6),
        xy=Number(matrix.xy, 6, signed=True),
        yx=Number(matrix.yx, 6),
        yy=Number(matrix.yy, 6, signed=True),
        skew=Angle(skew_deg.value, 3, u_deg=skew_deg.U95, signed=True),
    )


def _scale_sentence(evaluation: Evaluation, scale_x: Estimate | None, scale_y: Estimate | None) -> Said:
    """Whether scales are taken out, and why not."""
    if scale_x and scale_y:
        return said(
            "Scales are taken out: X {x} ± {x_u}, Y {y} ± {y_u}.",
            x=Number(100.0 * scale_x.value, 3, signed=True),
            x_u=Number(100.0 * scale_x.U95, 3, sign="%"),
            y=Number(100.0 * scale_y.value, 3, signed=True),
            y_u=Number(100.0 * scale_y.U95, 3, sign="%"),
        )
    sizes = evaluation.size_finding
    if sizes is None or sizes.cause is not SizeCause.SEPARATED:
        return said("Scales are left as they are: without an inner window they cannot be told from kerf.")
    if sizes.contradictory:
        return said("Scales are left as they are: X and Y of the window do not agree on one kerf.")
    return said("Scales are left as they are: the window proves none.")


WARNINGS = (
    said(
        "In the corrected file letters lean and circles are ellipses: they come out right when this machine cuts them."
    ),
    said(
        "It is right for this machine as it stands, and wrong for any other: keep the original, and go back to it when "
        "the machine has been set."
    ),
    said(
        "Cut the corrected coupon to prove it. Never correct from that one: it shows only what the correction leaves."
    ),
)
