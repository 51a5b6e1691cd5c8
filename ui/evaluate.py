"""The command `cornerwise evaluate`: judge readings from a CSV file, as text for a person or JSON for a program.

Stage: file to exit status. Wires readings file, limits, measuring setup and evaluation together; the sentences come
from ui.wording, the JSON from core.records.results_json.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from core.errors import BadInputError, ReadingsFileError
from core.geometry.coupon import Coupon
from core.machine.gantry_correction import Correction, Refusal, gantry_correction, profile_of_span
from core.metrology.accuracy import (
    DEFAULT_CALIPER,
    DEFAULT_GAUGE,
    CouponForm,
    EdgeMethod,
    MeasuringSetup,
)
from core.metrology.evaluation import Evaluation, Scope, evaluate
from core.metrology.expansion import MATERIALS, ExpansionDifference, expansion_difference
from core.metrology.plausible_size import likely_size
from core.metrology.tolerances import Limits, limits_for_class, own_limits
from core.metrology.verdict import Verdict, combine
from core.records.readings_csv import SIMULATED_STAMP, ReadingsFile, read_readings
from core.records.results_json import result_text
from ui.accuracy_arguments import accuracy_argument, form_argument
from ui.exit_status import ExitStatus
from ui.size_argument import size_argument
from ui.verdict_text import verdict_text

DEFAULT_CLASS = "mK"
DEFAULT_SIZE_MM = (120.0, 80.0)
CORRECTION_CONDITIONS = (
    "This move is right only if the coupon was measured as it was cut, its mark readable beside NL.",
    "First: power off and unplugged, cutter out, the gap at both ends read before anything is loosened.",
    "The maker's instructions come first; local codes and licensed practice prevail.",
)


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register `evaluate` and its options."""
    parser = subparsers.add_parser(
        "evaluate",
        help="judge readings from a CSV file",
        description="Judges a coupon from a CSV file with the header feature,value,unit (optional: instrument,time). "
        "Ends with status 0 go, 1 no-go, 2 undecided, 3 inconsistent.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the readings")
    parser.add_argument("--json", action="store_true", help="print the result as JSON")
    coupon = parser.add_argument_group("coupon")
    coupon.add_argument(
        "--size", type=size_argument, default=DEFAULT_SIZE_MM, metavar="WxH", help="nominal mm; default 120x80"
    )
    coupon.add_argument(
        "--window", type=size_argument, metavar="WxH", help="nominal mm of the inner window, if it has one"
    )
    coupon.add_argument(
        "--form",
        type=form_argument(CouponForm()),
        default=CouponForm(),
        metavar="edge=,diagonal=,corner=",
        help="standard deviation of the coupon's own form, mm and degrees; default edge=0.02,diagonal=0.05,corner=0.05",
    )
    limits = parser.add_argument_group("limits", "a class of ISO 2768, or your own; your own go before the class")
    limits.add_argument("--class", dest="tolerance_class", metavar="mK", help="f, m, c or v, with or without H, K or L")
    for name, what in (
        ("edge", "edge length, plus and minus mm"),
        ("corner", "corner from 90 degrees, plus and minus degrees"),
        ("perp", "perpendicularity over the shorter side, mm"),
        ("diagonal", "difference of the diagonals, mm"),
    ):
        limits.add_argument(f"--{name}-tol", type=float, metavar="T", help=what)
    _add_measuring(parser.add_argument_group("measuring"))
    verdict = parser.add_argument_group("verdict")
    verdict.add_argument(
        "--span",
        type=float,
        metavar="MM",
        help="gantry span: adds the correction, true only if the coupon's mark was readable beside NL",
    )
    verdict.add_argument(
        "--judge",
        choices=("squareness", "all"),
        default="squareness",
        help="what the exit status covers; default squareness",
    )
    verdict.add_argument(
        "--features",
        type=Scope,
        choices=tuple(Scope),
        default=Scope.ALL,
        metavar="{all,squareness}",
        help="squareness: the quick check on two diagonals, judged by the skew",
    )
    parser.set_defaults(run=run)


def _add_measuring(measuring: argparse._ArgumentGroup) -> None:
    for name, default, example in (
        ("caliper", DEFAULT_CALIPER, "res=0.01,rep=0.02,lin=0.02,zero=0.01"),
        ("gauge", DEFAULT_GAUGE, "res=0.1,rep=0.1,lin=0.1,zero=0.2"),
    ):
        measuring.add_argument(
            f"--{name}",
            type=accuracy_argument(default),
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
    measuring.add_argument("--temperature", type=float, metavar="C", help="of the bench, degrees Celsius")
    measuring.add_argument("--material", choices=sorted(MATERIALS), help="of the coupon; with --temperature")


def run(args: argparse.Namespace) -> int:
    """Judge the file, print the result, return the exit status; raises BadInputError."""
    coupon = _coupon(args)
    limits = _limits(args, coupon)
    expansion = _expansion(args)
    profile = None if args.span is None else profile_of_span(args.span)
    setup = MeasuringSetup(caliper=args.caliper, gauge=args.gauge, form=args.form, edge_method=args.edge_method)
    file = read_readings(args.file)
    _check_against_coupon(file, coupon)
    evaluation = evaluate(coupon, file.readings, limits, setup, scope=args.features, expansion=expansion)
    correction = None if profile is None else gantry_correction(evaluation, profile, mark_confirmed=True, setup=setup)
    if args.json:
        print(result_text(evaluation, correction, simulated=file.simulated))
    else:
        print(_report(evaluation, correction, args.features, simulated=file.simulated))
    return ExitStatus.of_verdict(_judged(evaluation, args.judge))


def _report(evaluation: Evaluation, correction: Correction | Refusal | None, scope: Scope, *, simulated: bool) -> str:
    """The verdict as text, with what has to be said about a file: what it was judged as, and on what condition."""
    coupon = evaluation.coupon
    lines = [SIMULATED_STAMP] if simulated else []
    lines.append(verdict_text(evaluation, correction))
    if isinstance(correction, Correction):
        lines += ["", *(f"  {sentence}" for sentence in CORRECTION_CONDITIONS)]
    lines += ["", f"  Judged as a coupon of {coupon.width_mm:g} x {coupon.height_mm:g} mm."]
    if scope is Scope.SQUARENESS:
        lines.append("  Quick check: squareness by the skew alone; whether the sides run parallel was not looked at.")
    return "\n".join(lines)


def _judged(evaluation: Evaluation, judge: str) -> Verdict:
    return combine((evaluation.verdict, evaluation.size_verdict)) if judge == "all" else evaluation.verdict


def _coupon(args: argparse.Namespace) -> Coupon:
    width_mm, height_mm = args.size
    window_width_mm, window_height_mm = args.window or (None, None)
    return Coupon(
        width_mm=width_mm, height_mm=height_mm, window_width_mm=window_width_mm, window_height_mm=window_height_mm
    )


def _limits(args: argparse.Namespace, coupon: Coupon) -> Limits:
    """The class's limits, the person's own, or the class's with some of the person's own in their place."""
    own = {
        "edge_mm": args.edge_tol,
        "perpendicularity_mm": args.perp_tol,
        "corner_deg": args.corner_tol,
        "diagonal_mm": args.diagonal_tol,
    }
    given = {name: limit for name, limit in own.items() if limit is not None}
    if not given:
        return limits_for_class(coupon, args.tolerance_class or DEFAULT_CLASS)
    if args.tolerance_class is None:
        return own_limits(**given)
    by_class = limits_for_class(coupon, args.tolerance_class)
    edge_mm = given.pop("edge_mm", None)
    if edge_mm is not None:
        given |= {"width_edge_mm": edge_mm, "height_edge_mm": edge_mm}
    return replace(by_class, source=f"{by_class.source} with own limits", **given)


def _expansion(args: argparse.Namespace) -> ExpansionDifference | None:
    if (args.temperature is None) is not (args.material is None):
        raise BadInputError("--temperature and --material belong together: give both or neither")
    return None if args.temperature is None else expansion_difference(args.material, args.temperature)


def _check_against_coupon(file: ReadingsFile, coupon: Coupon) -> None:
    """Refuse readings of a window the coupon has not, and those of a coupon of clearly another size."""
    for reading, line in zip(file.readings, file.lines, strict=True):
        try:
            coupon.nominal(reading.feature)
        except BadInputError as exc:
            raise ReadingsFileError(file.file, line, f"{exc}; give its nominal size with --window WxH") from exc
    likely = likely_size(coupon, file.readings)
    if likely is not None:
        raise ReadingsFileError(
            file.file,
            file.line_of(likely.feature),
            f"{likely.feature.label}: the edges fit a coupon of about {likely.width_mm:.0f}x{likely.height_mm:.0f} mm, "
            f"not {coupon.width_mm:g}x{coupon.height_mm:g} mm; give its nominal size with --size WxH, or mend the unit",
        )
