"""`cornerwise bed-map`: what the coupons of one grid say of the bed, and their picture."""

from __future__ import annotations

import argparse
from pathlib import Path

from core.records import grid_map, shape_svg, write_file
from core.records.bed_picture import bed_picture
from core.said import Angle, Column, Name, said
from ui.command_line.data_folder import kept_archive
from ui.terminal import ExitStatus
from ui.terminal.indented import indented


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `bed-map` with its options."""
    parser = subparsers.add_parser(
        "bed-map",
        help="skew over the bed: what the coupons of a grid have in common, and what is local",
        description="Reads the closed sessions that belong to one grid (cut from a file of cornerwise coupon --grid) "
        "and says what they have in common and what changes over the bed.",
    )
    parser.add_argument("grid", metavar="GRID", help="the grid's name, as given when its coupons were opened")
    parser.add_argument("--svg", type=Path, metavar="OUT", help="write the picture as well")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the map; raises BadInputError where the archive has no such grid, StorageError for the picture's disk."""
    with kept_archive(args, "bed-map") as archive:
        grid = grid_map(archive, args.grid)
    if grid.simulated:
        print(args.speech.say(said("SIMULATED")))
    print(args.speech.lines(grid.bed.whole_text))
    for place, left_deg in zip(grid.places, grid.bed.left_deg, strict=True):
        skew = place.skew_deg
        row = said(
            "{place} {skew}, {left} from the fit",
            place=Column(Name(place.name), 3),
            skew=Column(Angle(skew.value, 3, skew.U95, signed=True), 16, right=True),
            left=Column(Angle(left_deg, 3, signed=True), 7, right=True),
        )
        print(args.speech.say(indented(row, "  ")))
    if args.svg:
        write_file(args.svg, shape_svg(bed_picture(grid), simulated=grid.simulated).encode("utf-8"))
    return ExitStatus.OK
