"""`cornerwise export`: the download without the screen."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from core.errors import BadInputError
from core.records import Archive, ReportedRecords, files_of, folder_name, reported_record, write_folder
from core.said import Name, Voice, said, said_counted
from hardware import HelperAccess, download_to_stick, find_sticks, show_on_cable, the_one_stick
from ui.command_line.data_folder import kept_archive
from ui.terminal import ExitStatus

Files = Mapping[str, bytes]
_LAST = "last"
# Whole downloads on the drive for a computer: making a report takes a good part of a second on a Pi.
_ON_CABLE = 20


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `export` with its options."""
    parser = subparsers.add_parser(
        "export",
        help="write the download of a session into a folder",
        description="Writes one folder with index.html, session.json, readings.csv, report.pdf, shape.svg, coupon.svg "
        "and SHA256SUMS. Simulated sessions: cornerwise --simulate export SESSION --to DIR.",
    )
    parser.add_argument("session", metavar="SESSION", help=f"its name, the beginning of it, or '{_LAST}'")
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--to", type=Path, metavar="DIR", help="the folder is put in here")
    where.add_argument("--stick", action="store_true", help="onto the USB stick that is plugged in (installed on a Pi)")
    where.add_argument("--cable", action="store_true", help="onto the drive that the Pi shows to a computer")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the download and say where it is."""
    with kept_archive(args, "export") as archive:
        stored_id = _session_id(archive, args.session)
        record = reported_record(archive, stored_id)
        files = files_of(record, args.speech.on_paper)
        folders, front = _drive(archive, record.id, files, args.speech.on_paper) if args.cable else ({}, {})
    say = args.speech.say
    if args.stick:
        stick = the_one_stick(find_sticks())
        name = Name(stick.label)
        download_to_stick(
            files,
            record.id,
            stick,
            HelperAccess(),
            lambda step: print(say(said("{stick}: {step}", stick=name, step=step.words))),
        )
    elif args.cable:
        show_on_cable(folders, front)
        print(say(said_counted("{count} coupon on the drive", "{count} coupons on the drive", count=len(folders))))
    else:
        write_folder(files, args.to / record.id)
        print(args.to / record.id)
    return ExitStatus.OK


def _drive(archive: Archive, session: str, files: Files, voice: Voice) -> tuple[dict[str, Files], dict[str, bytes]]:
    """This download and the newest besides whole, of all others the page; sessions without a reading have none."""
    from core.records import drive_of  # loads slowly, and only a drive needs it

    records = ReportedRecords(archive)
    downloads: dict[str, Files] = {session: files}
    for summary in archive.sessions(limit=_ON_CABLE):
        if folder_name(summary.id) not in downloads:
            with suppress(BadInputError):
                record = records.record(summary.id)
                downloads[record.id] = files_of(record, voice)
    return drive_of(archive, downloads, voice)


def _session_id(archive: Archive, named: str) -> str:
    """The one session of this name, or whose name begins so; raises BadInputError, naming the newest, where there is
    none or several."""
    newest = archive.session_ids(limit=3)
    if not newest:
        raise BadInputError(said("there is no session in the archive yet"))
    if named == _LAST:
        return newest[0]
    if archive.events(named):
        return named  # also where another's begins so: earlier releases let any name in
    found = archive.session_ids(named, limit=2)
    if len(found) != 1:
        parts = {"named": Name(named), "newest": Name(", ".join(newest))}
        if found:
            raise BadInputError(said("several sessions begin with '{named}'; the newest are {newest}", **parts))
        raise BadInputError(said("there is no session '{named}'; the newest are {newest}", **parts))
    return found[0]
