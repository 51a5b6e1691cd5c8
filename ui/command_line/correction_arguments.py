"""The machine's errors as options of a command, and the map that undoes them."""

import argparse

from core.errors import BadInputError
from core.geometry import Affine, cut_by
from core.said import Angle, Name, Number, said

MAX_SKEW_DEG = 10.0
MAX_SCALE_PER_CENT = 10.0


def add_correction_arguments(parser: argparse.ArgumentParser, *, required: bool) -> None:
    """Add --skew, --scale-x and --scale-y, as a verdict shows them."""
    parser.add_argument(
        "--skew",
        type=float,
        default=None if required else 0.0,
        required=required,
        metavar="DEG",
        help="take out this skew, as measured (positive: NL and FR acute)",
    )
    for axis in ("x", "y"):
        parser.add_argument(
            f"--scale-{axis}",
            type=float,
            default=0.0,
            metavar="PERCENT",
            help=f"take out this {axis.upper()} scale as well; only where a window told it from kerf",
        )


def correction_of(args: argparse.Namespace) -> Affine | None:
    """The map to apply to a design; None when there is nothing to take out. Raises BadInputError beyond reason."""
    if not abs(args.skew) <= MAX_SKEW_DEG:
        raise BadInputError(
            said(
                "skew {skew}: it must lie within ±{most}",
                skew=Angle(args.skew, None),
                most=Angle(MAX_SKEW_DEG, None),
            )
        )
    for axis, scale in (("X", args.scale_x), ("Y", args.scale_y)):
        if not abs(scale) <= MAX_SCALE_PER_CENT:
            raise BadInputError(
                said(
                    "{axis} scale {scale}: it must lie within ±{most}",
                    axis=Name(axis),
                    scale=Number(scale, None, "%"),
                    most=Number(MAX_SCALE_PER_CENT, None, "%"),
                )
            )
    if args.skew == args.scale_x == args.scale_y == 0.0:
        return None
    return cut_by(args.skew, args.scale_x / 100.0, args.scale_y / 100.0).inverse
