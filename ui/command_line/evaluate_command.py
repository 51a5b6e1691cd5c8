"""The command `cornerwise evaluate`: judge readings from a CSV file, as text for a person or JSON for a program.

Stage: file to exit status. Wires readings file, limits, measuring setup and evaluation together; the sentences come
from core.metrology.sentences, the JSON from core.records.results_json.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from core.errors import ReadingsFileError
from core.geometry import Coupon
from core.machine import Correction, Refusal, profile_of_span
from core.machine.gantry_correction import gantry_correction
from core.metrology import Evaluation, evaluate, likely_size, seats_sentence
from core.records import ReadingsFile, read_readings, result_text
from core.said import NOTHING, Part, Series, Size, paragraph, said
from ui.bench import limits_of
from ui.command_line.evaluate_options import (
    add_options,
    answers_of,
    coupon_of,
    expansion_of,
    groups_of,
    own_limits_of,
    setup_of,
)
from ui.terminal import ExitStatus, verdict_text
from ui.terminal.indented import indented

MARK_CONDITION = said(
    "This move is right only if the corner with the mark lay nearest to you on the left as it was cut: a design turned "
    "in the cutting software turns the mark with it."
)
# The move above says what comes before hands go in; the zero that a loosened machine loses is said here.
GAPS_CONDITION = said("The gap at both ends is read before anything is loosened.")


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
    add_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Judge the file, print the result, return the exit status; raises BadInputError."""
    coupon = coupon_of(args)
    limits = limits_of(coupon, args.tolerance_class, own_limits_of(args))
    expansion = expansion_of(args)
    profile = None if args.span is None else profile_of_span(args.span)
    setup = setup_of(args)
    file = read_readings(args.file)
    _check_against_coupon(file, coupon)
    evaluation = evaluate(coupon, file.readings, limits, setup, groups=groups_of(args), expansion=expansion)
    correction = (
        None if profile is None else gantry_correction(evaluation, profile, answers=answers_of(args), setup=setup)
    )
    if args.json:
        print(result_text(evaluation, correction, simulated=file.simulated))
    else:
        report = _report(evaluation, correction, simulated=file.simulated, mark_told=args.mark is not None)
        print(args.speech.lines(report))
    return ExitStatus.of_verdict(evaluation.verdict)


def _report(
    evaluation: Evaluation, correction: Correction | Refusal | None, *, simulated: bool, mark_told: bool
) -> Series:
    """The verdict as text, with what has to be said about a file: what it was judged as, and on what condition."""
    coupon = evaluation.coupon
    told: list[Part] = [said("SIMULATED")] if simulated else []
    told.append(verdict_text(evaluation, correction))
    if isinstance(correction, Correction):
        conditions = (GAPS_CONDITION,) if mark_told else (MARK_CONDITION, GAPS_CONDITION)
        told += [NOTHING, *(indented(sentence, "  ") for sentence in conditions)]
    size = Size(coupon.width_mm, coupon.height_mm)
    judged_as = paragraph(said("Judged as a coupon of {size}.", size=size), seats_sentence(coupon))
    told += [NOTHING, indented(judged_as, "  ")]
    return Series(tuple(told), joint="\n")


def _check_against_coupon(file: ReadingsFile, coupon: Coupon) -> None:
    """Refuse readings of a window the coupon has not, and those of a coupon of clearly another size."""
    for reading, line in zip(file.readings, file.lines, strict=True):
        if not coupon.has(reading.feature):
            no_window = said(
                "{feature}: this coupon has no window; give its nominal size with --window WxH",
                feature=reading.feature.label,
            )
            raise ReadingsFileError(file.file, line, no_window)
    likely = likely_size(coupon, file.readings)
    if likely is not None:
        raise ReadingsFileError(
            file.file,
            file.line_of(likely.feature),
            said(
                "{feature}: the edges fit a coupon of about {likely}, "
                "not {given}; give its nominal size with --size WxH, or mend the unit",
                feature=likely.feature.label,
                likely=Size(round(likely.width_mm), round(likely.height_mm)),
                given=Size(coupon.width_mm, coupon.height_mm),
            ),
        )
