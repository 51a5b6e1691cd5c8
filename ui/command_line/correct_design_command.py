"""`cornerwise correct-design`: apply the inverse of what a machine does to a design file, SVG or DXF."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from core.errors import BadInputError
from core.geometry.design_file import correct_design
from core.machine.design_correction import WARNINGS
from core.records.whole_writing import write_file
from ui.command_line.correction_arguments import add_correction_arguments, correction_of
from ui.pages.design import leaning_words
from ui.terminal.exit_status import ExitStatus


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
    corrected = correct_design(str(args.file), _content(args.file), correction)
    if args.out.exists():
        raise BadInputError(f"{args.out}: it is there already; name a new file")
    write_file(args.out, corrected.content)
    words = ["corrected", *leaning_words(corrected.texts, corrected.circles, corrected.flattened, corrected.left_out)]
    print(args.speech.say(f"{args.out}: {', '.join(words)}"), file=sys.stderr)
    for warning in WARNINGS:
        print(args.speech.say(f"  {warning}"), file=sys.stderr)
    return ExitStatus.OK


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as exc:
        raise BadInputError(f"{file}: {os.strerror(exc.errno or 0)}") from exc
