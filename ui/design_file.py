"""`cornerwise correct-design`: apply the inverse of what a machine does to a design file, SVG or DXF."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from core.errors import BadInputError
from core.geometry.affine import Affine
from core.geometry.design_file_svg import CorrectedDesign, correct_svg
from core.machine.design_correction import WARNINGS
from core.records.whole_writing import write_file
from ui.correction_arguments import add_correction_arguments, correction_of
from ui.exit_status import ExitStatus


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `correct-design` with its options."""
    parser = subparsers.add_parser(
        "correct-design",
        help="correct a design file for a machine that cannot be adjusted",
        description="Writes a copy of a design (.svg or .dxf) that comes out square when this machine cuts it. The "
        "original is never changed.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the design, .svg or .dxf")
    parser.add_argument("out", type=Path, metavar="OUT", help="file to write, same ending; must not exist yet")
    add_correction_arguments(parser, required=True)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the corrected copy; raises BadInputError for files that cannot be corrected, StorageError for the disk."""
    correction = correction_of(args)
    if correction is None:
        raise BadInputError("skew 0 and no scale: there is nothing to correct")
    if args.out.suffix.lower() != args.file.suffix.lower():
        raise BadInputError(f"{args.out}: it must end in {args.file.suffix}, as the design does")
    corrected = _corrected(args.file, correction)
    if args.out.exists():
        raise BadInputError(f"{args.out}: it is there already; name a new file")
    write_file(args.out, corrected.text.encode("utf-8"))
    print(f"{args.out}: {_summary(corrected)}", file=sys.stderr)
    for warning in WARNINGS:
        print(f"  {warning}", file=sys.stderr)
    return ExitStatus.OK


def _corrected(file: Path, correction: Affine) -> CorrectedDesign:
    try:
        text = file.read_text(encoding="utf-8")
    except UnicodeDecodeError as exc:
        raise BadInputError(f"{file}: not a text file in UTF-8; save the design as plain SVG or text DXF") from exc
    except OSError as exc:
        raise BadInputError(f"{file}: {os.strerror(exc.errno or 0)}") from exc
    try:
        match file.suffix.lower():
            case ".svg":
                return correct_svg(text, correction)
            case ".dxf":
                # Loading the library takes a third of a second, so only who wants DXF waits for it.
                from core.geometry.design_file_dxf import correct_dxf

                return correct_dxf(text, correction)
    except BadInputError as exc:
        raise BadInputError(f"{file}: {exc}") from exc
    raise BadInputError(f"{file}: the name must end in .svg or .dxf")


def _summary(corrected: CorrectedDesign) -> str:
    words = ["corrected"]
    if corrected.texts:
        words.append(f"{_counted(corrected.texts, 'text leans', 'texts lean')} in the file")
    if corrected.circles:
        words.append(f"{_counted(corrected.circles, 'circle is an ellipse', 'circles are ellipses')} in the file")
    if corrected.left_out:
        left = _counted(corrected.left_out, "thing could not be corrected and stays", "things could not be and stay")
        words.append(f"{left} as drawn: look at it before cutting")
    return ", ".join(words)


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
