"""`cornerwise correct-design`: apply the inverse of what a machine does to a design file, SVG or DXF."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from core.errors import BadInputError
from core.geometry import MOST_BYTES, correct_design
from core.machine import WARNINGS
from core.records import write_file
from core.regular_file import read_regular_file
from core.said import Name, said
from ui.command_line.correction_arguments import add_correction_arguments, correction_of
from ui.pages.design import leaning_sentences, unlike_sentences
from ui.terminal import ExitStatus
from ui.terminal.indented import indented
from ui.terminal.waiting import waiting


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
        raise BadInputError(said("skew 0 and no scale: there is nothing to correct"))
    if args.file.suffix and args.out.suffix.lower() != args.file.suffix.lower():
        ending = Name(args.file.suffix)
        raise BadInputError(
            said("{file}: it must end in {ending}, as the design does", file=Name(str(args.out)), ending=ending)
        )
    with waiting(sys.stderr, args.speech, said("correcting the design")):
        corrected = correct_design(str(args.file), read_regular_file(args.file, MOST_BYTES), correction)
    if args.out.exists():
        raise BadInputError(said("{file}: it is there already; name a new file", file=Name(str(args.out))))
    write_file(args.out, corrected.content)
    leaning = [*leaning_sentences(corrected), *unlike_sentences(corrected)]
    print(args.speech.say(said("{file}: corrected.", file=Name(str(args.out)))), file=sys.stderr)
    for sentence in (*leaning, *WARNINGS):
        print(args.speech.say(indented(sentence, "  ")), file=sys.stderr)
    return ExitStatus.OK
