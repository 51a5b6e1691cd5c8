"""`cornerwise export`: the download without the screen."""

from __future__ import annotations

import argparse
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from core.errors import BadInputError
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.export import files_of, write_folder
from ui.assembly import ARCHIVE_FILE
from ui.data_folder import data_folder
from ui.exit_status import ExitStatus

_LAST = "last"


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `export` with its options."""
    parser = subparsers.add_parser(
        "export",
        help="write the download of a session into a folder",
        description="Writes one folder with session.json, readings.csv, report.pdf, shape.svg, coupon.svg and "
        "SHA256SUMS. Simulated sessions: cornerwise --simulate export SESSION --to DIR.",
    )
    parser.add_argument("session", metavar="SESSION", help=f"its name, the beginning of it, or '{_LAST}'")
    parser.add_argument("--to", type=Path, required=True, metavar="DIR", help="where the folder is put")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the folder and print its path."""
    path = data_folder(args.data, simulated=args.simulate) / ARCHIVE_FILE
    if not path.exists():
        raise BadInputError(f"{path}: there is no archive yet; with --simulate, say it before 'export'")
    with closing(Archive.open(path, lambda: datetime.now(UTC))) as archive:
        if archive.notice:
            print(f"cornerwise: {archive.notice}", file=sys.stderr)
        session_id = _session_id(archive, args.session)
        record = archived_record(archive, session_id)
    target = args.to / session_id
    write_folder(files_of(record), target)
    print(target)
    return ExitStatus.OK


def _session_id(archive: Archive, named: str) -> str:
    known = [summary.id for summary in archive.sessions()]
    if not known:
        raise BadInputError("there is no session in the archive yet")
    found = known[:1] if named == _LAST else [name for name in known if name.startswith(named)]
    if named in known:
        return named
    if len(found) != 1:
        newest = ", ".join(known[:3])
        what = "several sessions begin with" if found else "there is no session"
        raise BadInputError(f"{what} {named!r}; the newest are {newest}")
    return found[0]
