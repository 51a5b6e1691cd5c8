"""The options of `cornerwise evaluate`: what is judged, against which limits, and how well it was measured.

In: an argparse parser, then the parsed arguments. Out: coupon, limits, measuring setup, expansion.
"""

import argparse
from collections.abc import Callable
from typing import TypeVar

from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry import Coupon
from core.metrology import (
    DEFAULT_CALIPER,
    DEFAULT_GAUGE,
    DEFAULT_JAW_DEPTH_MM,
    GROUPS,
    MATERIALS,
    Answers,
    CharacteristicGroup,
    CouponForm,
    EdgeMethod,
    ExpansionDifference,
    InstrumentAccuracy,
    MarkSeen,
    MeasuringSetup,
    expansion_difference,
)
from core.said import said
from ui.bench import OwnLimits
from ui.terminal import seats_argument, seats_of, size_argument

DEFAULT_SIZE_MM = (120.0, 80.0)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add all options, in the groups a person thinks in."""
    _add_coupon(parser.add_argument_group("coupon"))
    _add_limits(
        parser.add_argument_group("limits", "a class of ISO 2768, or your own; your own go before those of a class")
    )
    _add_measuring(parser.add_argument_group("measuring"))
    _add_verdict(parser.add_argument_group("verdict"))


def _add_coupon(coupon: argparse._ArgumentGroup) -> None:
    coupon.add_argument(
        "--size", type=size_argument, default=DEFAULT_SIZE_MM, metavar="WxH", help="nominal mm; default 120x80"
    )
    coupon.add_argument(
        "--window", type=size_argument, metavar="WxH", help="nominal mm of the inner window, if it has one"
    )
    coupon.add_argument(
        "--seats",
        type=seats_argument,
        metavar="8,5",
        help="widths in mm of the seats of NL-FR and NR-FL, one for equal ones; default 0: corner to corner",
    )
    coupon.add_argument(
        "--form",
        type=numbers_argument(CouponForm()),
        default=CouponForm(),
        metavar="edge=,diagonal=,seat=,corner=",
        help="standard deviation of the coupon's own form, mm and degrees; default "
        "edge=0.02,diagonal=0.05,seat=0.02,corner=0.05",
    )


def _add_limits(limits: argparse._ArgumentGroup) -> None:
    limits.add_argument(
        "--class", dest="tolerance_class", metavar="mK", help="f, m, c or v, with or without H, K or L; default mK"
    )
    for name, what in (
        ("edge", "edge length, plus and minus mm"),
        ("corner", "corner from 90 degrees, plus and minus degrees"),
        ("perp", "perpendicularity over the shorter side, mm"),
        ("diagonal", "difference of the diagonals, mm"),
    ):
        limits.add_argument(f"--{name}-tol", type=float, metavar="T", help=what)


def _add_measuring(measuring: argparse._ArgumentGroup) -> None:
    for name, default, example in (
        ("caliper", DEFAULT_CALIPER, "res=0.01,rep=0.02,lin=0.02,zero=0.01"),
        ("gauge", DEFAULT_GAUGE, "res=0.1,rep=0.1,lin=0.1,zero=0.2"),
    ):
        measuring.add_argument(
            f"--{name}",
            type=numbers_argument(default),
            default=default,
            metavar="res=,rep=,lin=,zero=",
            help=f"resolution, repeatability, linearity, sd of the zero; default {example}",
        )
    measuring.add_argument(
        "--edge-method",
        type=EdgeMethod,
        choices=tuple(EdgeMethod),
        default=EdgeMethod.SEATED,
        metavar="{seated,tips}",
        help="jaws seated on the neighbouring edges, or tip to tip at the corners; default seated",
    )
    measuring.add_argument(
        "--jaw-depth",
        type=float,
        default=DEFAULT_JAW_DEPTH_MM,
        metavar="MM",
        help=f"how far the jaws reach along an edge beyond its seat; default {DEFAULT_JAW_DEPTH_MM:g}",
    )
    measuring.add_argument("--temperature", type=float, metavar="C", help="of the bench, degrees Celsius")
    measuring.add_argument("--material", choices=sorted(MATERIALS), help="of the coupon; with --temperature")


def _add_verdict(verdict: argparse._ArgumentGroup) -> None:
    verdict.add_argument(
        "--span",
        type=float,
        metavar="MM",
        help="gantry span: adds the correction, true only if the coupon's mark was readable beside NL",
    )
    verdict.add_argument(
        "--mark",
        type=MarkSeen,
        choices=tuple(MarkSeen),
        metavar="{nl,nr,fr,fl,mirrored,unknown}",
        help="which corner carried the mark as the coupon lay on the bed; without it the correction says on what "
        "condition it is right",
    )
    verdict.add_argument(
        "--groups",
        type=groups_argument,
        metavar="squareness,shape,size",
        help="what is judged; without it whatever the readings bear on",
    )
    for older in ("--features", "--judge"):
        verdict.add_argument(
            older, choices=("squareness", "all"), default="all", help="older name: squareness alone, or what is read"
        )


def groups_argument(text: str) -> tuple[CharacteristicGroup, ...]:
    """Groups by name, such as `squareness,size`, for argparse."""
    known = {group.value: group for group in GROUPS}
    names = [name.strip() for name in text.split(",")]
    if not all(name in known for name in names):
        raise argparse.ArgumentTypeError(f"{text!r}: it must be one or more of {','.join(known)}")
    return tuple(known[name] for name in names)


def groups_of(args: argparse.Namespace) -> tuple[CharacteristicGroup, ...] | None:
    """The groups asked for by name; None for those that the readings bear on."""
    if args.groups is not None:
        named: tuple[CharacteristicGroup, ...] = args.groups
        return named
    return (CharacteristicGroup.SQUARENESS,) if "squareness" in (args.features, args.judge) else None


def answers_of(args: argparse.Namespace) -> Answers:
    """What a file cannot say of a move: without `--mark` it lay as it should, and the report says on that condition."""
    return Answers(mark=args.mark or MarkSeen.NL)


def coupon_of(args: argparse.Namespace) -> Coupon:
    """The coupon as designed; raises BadInputError for sizes no coupon has."""
    width_mm, height_mm = args.size
    window_width_mm, window_height_mm = args.window or (None, None)
    return Coupon(
        width_mm=width_mm,
        height_mm=height_mm,
        window_width_mm=window_width_mm,
        window_height_mm=window_height_mm,
        seats=seats_of(args.seats) if args.seats else None,
    )


def own_limits_of(args: argparse.Namespace) -> OwnLimits:
    """The person's own limits."""
    return OwnLimits(
        edge_mm=args.edge_tol,
        perpendicularity_mm=args.perp_tol,
        corner_deg=args.corner_tol,
        diagonal_mm=args.diagonal_tol,
    )


def expansion_of(args: argparse.Namespace) -> ExpansionDifference | None:
    """What the bench's temperature does to sizes, None where it was not given; raises BadInputError."""
    if (args.temperature is None) is not (args.material is None):
        raise BadInputError(said("--temperature and --material belong together: give both or neither"))
    return None if args.temperature is None else expansion_difference(args.material, args.temperature)


def setup_of(args: argparse.Namespace) -> MeasuringSetup:
    """The accuracies of instruments and coupon, and how the jaws met the edges."""
    return MeasuringSetup(
        caliper=args.caliper,
        gauge=args.gauge,
        form=args.form,
        edge_method=args.edge_method,
        jaw_depth_mm=args.jaw_depth,
    )


_Numbers = TypeVar("_Numbers", InstrumentAccuracy, CouponForm)
_FIELDS = {
    InstrumentAccuracy: {"res": "resolution", "rep": "repeatability", "lin": "linearity", "zero": "zero_sd"},
    CouponForm: {"edge": "edge_mm", "diagonal": "diagonal_mm", "seat": "seat_mm", "corner": "corner_deg"},
}


def numbers_argument(default: _Numbers) -> Callable[[str], _Numbers]:
    """Parser of accuracies such as `res=0.01,rep=0.02`, in mm or degrees; what is not named keeps its default."""

    def parse(text: str) -> _Numbers:
        try:
            return replace(default, **_numbers(text, _FIELDS[type(default)]))
        except BadInputError as exc:
            raise argparse.ArgumentTypeError(str(exc)) from exc

    return parse


def _numbers(text: str, fields: dict[str, str]) -> dict[str, float]:
    numbers: dict[str, float] = {}
    for part in text.split(","):
        name, _, number = (word.strip() for word in part.partition("="))
        if name not in fields:
            raise argparse.ArgumentTypeError(f"{part.strip()!r}: write {'=,'.join(fields)}= with numbers")
        if fields[name] in numbers:
            raise argparse.ArgumentTypeError(f"{name} stands here twice")
        try:
            numbers[fields[name]] = float(number)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{name}={number}: {number!r} is not a number") from None
    return numbers
