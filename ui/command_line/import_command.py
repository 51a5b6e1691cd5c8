"""`cornerwise import`: take a downloaded session folder over into this bench's archive."""

from __future__ import annotations

import argparse
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from core.records import ARCHIVE, Archive
from core.records.import_folder import import_folder
from core.said import Name, said
from ui.command_line.data_folder import data_folder
from ui.terminal import ExitStatus
from ui.terminal.waiting import waiting


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `import` with its options."""
    parser = subparsers.add_parser("import", help="take over a session folder that another bench exported")
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="a folder written by export or download")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Check the folder, take its session over, and say whether it was new."""
    path = data_folder(args.data, simulated=args.simulate) / ARCHIVE
    with (
        closing(Archive.open(path, lambda: datetime.now(UTC), may_set_aside=False)) as archive,
        waiting(sys.stderr, args.speech, said("taking the session over")) as told,
    ):
        imported = import_folder(args.folder, archive, told)
    session = Name(imported.session)
    if imported.new:
        print(args.speech.say(said("session {session}: taken over", session=session)))
    else:
        print(args.speech.say(said("session {session}: was in the archive already", session=session)))
    if imported.remark:
        print(args.speech.say(imported.remark))
    return ExitStatus.OK
