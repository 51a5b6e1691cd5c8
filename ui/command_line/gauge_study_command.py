"""The command `cornerwise gauge-study`: how much of a reading is the instrument and the hand, from a CSV file."""

from __future__ import annotations

import argparse
from pathlib import Path

from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology import (
    DEFAULT_CALIPER,
    DEFAULT_GAUGE,
    MeasuringSetup,
    Quantity,
    StudyResult,
    analysis_of_variance,
    average_and_range,
)
from core.records import StudyFile, load_setup, read_study, save_setup
from core.said import NOTHING, Column, Name, Number, Part, Series, said
from ui.command_line.data_folder import data_folder
from ui.terminal import ExitStatus
from ui.terminal.indented import indented


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Register `gauge-study`."""
    parser = subparsers.add_parser(
        "gauge-study",
        help="repeatability of an instrument in your hands, from a CSV file",
        description="Judges an instrument from a CSV file with the header operator,part,value,unit: every operator "
        "reads every part equally often, twice or more, best without seeing the readings before.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the readings")
    parser.add_argument(
        "--tolerance", type=float, required=True, metavar="T", help="plus and minus mm or degrees it must be good for"
    )
    parser.add_argument("--remember", action="store_true", help="use the repeatability found on this bench from now on")
    parser.add_argument(
        "--data", type=Path, metavar="DIR", default=argparse.SUPPRESS, help="where the bench keeps its records"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the study; raises BadInputError."""
    if not 0.0 < args.tolerance < float("inf"):
        raise BadInputError(
            said("--tolerance {tolerance}: it must be more than zero", tolerance=Number(args.tolerance))
        )
    study = read_study(args.file)
    print(args.speech.lines(_report(study, args.tolerance)))
    if args.remember:
        folder = data_folder(args.data, simulated=False)
        save_setup(folder, _with_repeatability(load_setup(folder), study))
        print(
            args.speech.say(
                indented(said("Remembered: coupons begun on this bench from now on are weighed by it."), "  ")
            )
        )
    return ExitStatus.OK


def _with_repeatability(setup: MeasuringSetup, study: StudyFile) -> MeasuringSetup:
    """The setup with the repeatability found; a reading typed in is never taken for better than one by cable."""
    found = analysis_of_variance(study.readings)
    if study.quantity is Quantity.LENGTH:
        caliper = found.applied_to(setup.caliper)
        typed_mm = max(setup.typed_repeatability_mm, caliper.repeatability)
        return replace(setup, caliper=caliper, typed_repeatability_mm=typed_mm)
    gauge = found.applied_to(setup.gauge)
    return replace(setup, gauge=gauge, typed_repeatability_deg=max(setup.typed_repeatability_deg, gauge.repeatability))


def _report(study: StudyFile, tolerance: float) -> Series:
    unit = "mm" if study.quantity is Quantity.LENGTH else "deg"
    anova, by_range = analysis_of_variance(study.readings), average_and_range(study.readings)
    made_of = said(
        "{operators} operators x {parts} parts x {trials} trials; standard deviations, {unit}",
        operators=len(study.operators),
        parts=len(study.parts),
        trials=len(study.readings[0][0]),
        unit=Name(unit),
    )
    rows: tuple[tuple[Part, Part, Part], ...] = (
        (Name(""), said("variance analysis"), said("average and range")),
        (said("repeatability"), _sd(anova.repeatability), _sd(by_range.repeatability)),
        (said("reproducibility"), _sd(anova.reproducibility), _sd(by_range.reproducibility)),
        (said("both: the gauge"), _sd(anova.gauge), _sd(by_range.gauge)),
        (said("parts"), _sd(anova.parts), _sd(by_range.parts)),
        (said("groups of parts told apart"), _groups(anova), _groups(by_range)),
    )
    return Series(
        (
            anova.text(tolerance, unit),
            NOTHING,
            indented(made_of, "  "),
            *(_row(*row) for row in rows),
            NOTHING,
            indented(said("To weigh readings by it: {option}", option=Name(_option(study, anova))), "  "),
        ),
        joint="\n",
    )


def _row(label: Part, one: Part, other: Part) -> Series:
    columns = (Column(label, 30), Column(one, 18, right=True), Column(other, 20, right=True))
    return indented(Series(columns, joint=""), "  ")


def _sd(value: float) -> Number:
    return Number(value, 4)


def _groups(result: StudyResult) -> Part:
    return said("no spread") if result.distinct_categories is None else Number(result.distinct_categories)


def _option(study: StudyFile, result: StudyResult) -> str:
    """The option of `evaluate` that feeds the repeatability found back into the weights."""
    name, accuracy = ("caliper", DEFAULT_CALIPER) if study.quantity is Quantity.LENGTH else ("gauge", DEFAULT_GAUGE)
    return f"cornerwise evaluate FILE --{name} rep={result.applied_to(accuracy).repeatability:.4f}"
