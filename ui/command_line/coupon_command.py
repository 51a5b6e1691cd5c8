"""`cornerwise coupon`: write the file to cut coupons from, as SVG or DXF by the name's ending, and the card for it."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from core.errors import BadInputError
from core.geometry import Coupon, CutPlan, LineStyle, corrected, coupon_text, coupon_title, draw, keyed_seats
from core.records import write_file
from core.said import Name, Number, said
from ui.command_line.correction_arguments import add_correction_arguments, correction_of
from ui.terminal import ExitStatus, seats_argument, seats_of, size_argument


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `coupon` with its options."""
    parser = subparsers.add_parser(
        "coupon",
        help="write the cut file of a coupon",
        description="Writes the file to cut coupons from (.svg or .dxf, true millimetres), with the orientation mark "
        "beside the near-left corner.",
        epilog="Before cutting: hands and tools out, covers on. Laser: never leave it alone, extraction on, "
        "extinguisher at hand, eyewear for its wavelength, no PVC and no unknown plastic. Router: eye and hearing "
        "protection, dust extraction, the piece held down. The maker's instructions, local codes and licensed practice "
        "come first.",
    )
    parser.add_argument("out", type=Path, metavar="OUT", help="file to write, ending in .svg or .dxf")
    parser.add_argument("--size", type=size_argument, required=True, metavar="WxH", help="width along X by height, mm")
    parser.add_argument("--window", type=size_argument, metavar="WxH", help="inner window, tells kerf from scale")
    parser.add_argument("--kerf", type=float, default=0.0, metavar="MM", help="width of cut to make up for")
    parser.add_argument("--lead-in", type=float, default=2.0, metavar="MM", help="start this far off the edge (2)")
    parser.add_argument("--tabs", type=float, default=0.0, metavar="MM", help="bridges of this width hold the coupon")
    parser.add_argument(
        "--seats",
        type=seats_argument,
        metavar="MM",
        help="flats across the corners for the jaws: 0 none, 5 equal, 8,5 keyed (keyed, by the size)",
    )
    parser.add_argument("--grid", type=size_argument, default=(1.0, 1.0), metavar="CxR", help="columns by rows")
    parser.add_argument("--spacing", type=float, default=15.0, metavar="MM", help="between coupons of a grid (15)")
    style = LineStyle()
    parser.add_argument("--cut-colour", default=style.cut, metavar="#RRGGBB", help=f"of the cut's lines ({style.cut})")
    parser.add_argument("--mark-colour", default=style.mark, metavar="#RRGGBB", help=f"of the marks ({style.mark})")
    parser.add_argument(
        "--hairline", type=float, default=style.hairline_mm, metavar="MM", help="width of the lines in SVG (0.1)"
    )
    parser.add_argument("--card", type=Path, metavar="PDF", help="write the page to take to the machine as well")
    add_correction_arguments(parser, required=False)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the file; raises BadInputError for sizes that cannot be cut, StorageError when it cannot be written."""
    plan = _plan(args)
    correction = correction_of(args)
    title = coupon_title(plan, corrected=correction is not None)
    drawing = draw(plan)
    style = LineStyle(cut=args.cut_colour, mark=args.mark_colour, hairline_mm=args.hairline)
    text = coupon_text(args.out, corrected(drawing, correction) if correction else drawing, str(title), style)
    if args.card is not None and args.card.suffix.lower() != ".pdf":
        raise BadInputError(said("{file}: the name of the card must end in .pdf", file=Name(str(args.card))))
    write_file(args.out, text.encode("utf-8"))
    if args.card is not None:
        # The PDF library takes long to load, so only who wants the page waits for it.
        from core.records.coupon_card import coupon_card

        write_file(args.card, coupon_card(plan.coupon, args.speech.on_paper))
    done = said("{file}: {drawing}; the mark L lies at the near-left corner", file=Name(str(args.out)), drawing=title)
    print(args.speech.say(done), file=sys.stderr)
    return ExitStatus.OK


def _plan(args: argparse.Namespace) -> CutPlan:
    window = args.window or (None, None)
    columns, rows = args.grid
    if columns != int(columns) or rows != int(rows):
        raise BadInputError(
            said(
                "grid {columns}x{rows}: it must be whole numbers, such as 3x2",
                columns=Number(columns),
                rows=Number(rows),
            )
        )
    return CutPlan(
        coupon=Coupon(
            width_mm=args.size[0],
            height_mm=args.size[1],
            window_width_mm=window[0],
            window_height_mm=window[1],
            seats=keyed_seats(*args.size) if args.seats is None else seats_of(args.seats),
        ),
        kerf_mm=args.kerf,
        lead_in_mm=args.lead_in,
        tab_mm=args.tabs,
        columns=int(columns),
        rows=int(rows),
        spacing_mm=args.spacing,
    )
