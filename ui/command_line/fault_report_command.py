"""`cornerwise fault-report`: what a maintainer needs, into a folder or onto the stick."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path

from core.records import Archive, files_of, reported_record, write_folder
from core.said import Name, said
from hardware import HelperAccess, as_json, download_to_stick, examine, find_sticks, the_one_stick
from ui.bench import report_name
from ui.bench.fault_report import fault_report
from ui.command_line.data_folder import data_folder, instrument_records, kept_archive
from ui.terminal import ExitStatus


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `fault-report` with its options."""
    parser = subparsers.add_parser(
        "fault-report",
        help="write log, doctor, versions and counts for whoever looks after this bench",
        description="Writes one folder with what a maintainer needs: no readings, no names of persons, machines or "
        "instruments, unless --with-session is given.",
    )
    where = parser.add_mutually_exclusive_group(required=True)
    where.add_argument("--to", type=Path, metavar="DIR", help="the folder is put in here")
    where.add_argument("--stick", action="store_true", help="onto the USB stick that is plugged in (installed on a Pi)")
    parser.add_argument("--with-session", action="store_true", help="the newest session too, with all that is in it")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the report and say where it is."""
    args.data = args.data or instrument_records()
    data, now = data_folder(args.data, simulated=args.simulate), datetime.now(UTC)
    folders = {report_name(now): fault_report(data, as_json(examine(Path("/"), data)), now=now)}
    if args.with_session:
        with kept_archive(args, "fault-report") as archive:
            folders |= _newest_session(archive, args)
    for name, files in folders.items():
        if args.stick:
            download_to_stick(files, name, the_one_stick(find_sticks()), HelperAccess(), lambda step: None)
            print(args.speech.say(said("{name} is on the stick", name=Name(name))))
        else:
            write_folder(files, args.to / name)
            print(args.to / name)
    return ExitStatus.OK


def _newest_session(archive: Archive, args: argparse.Namespace) -> dict[str, dict[str, bytes]]:
    sessions = archive.session_ids(limit=1)
    if not sessions:
        return {}
    record = reported_record(archive, sessions[0])
    return {record.id: files_of(record, args.speech.on_paper)}
