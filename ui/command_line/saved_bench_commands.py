"""`cornerwise save-bench` and `restore-bench`: all that a bench knows onto a stick, and back on a new card."""

from __future__ import annotations

import argparse
import sys
from contextlib import AbstractContextManager
from datetime import UTC, datetime
from pathlib import Path

from core.progress import Told
from core.records import restore_bench, save_bench
from core.said import Name, said
from hardware import HelperAccess, find_sticks, the_one_stick, writing_to
from ui.bench import alone_on
from ui.command_line.data_folder import data_folder
from ui.terminal import ExitStatus
from ui.terminal.waiting import waiting


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add both commands with their options."""
    save = subparsers.add_parser("save-bench", help="records, machines, instruments and settings into one folder")
    where = save.add_mutually_exclusive_group(required=True)
    where.add_argument("--to", type=Path, metavar="DIR", help="the folder is put in here")
    where.add_argument("--stick", action="store_true", help="onto the USB stick that is plugged in (installed on a Pi)")
    save.set_defaults(run=run_save)
    restore = subparsers.add_parser("restore-bench", help="take a saved bench back; what is here now is kept beside it")
    restore.add_argument("folder", type=Path, metavar="FOLDER", help="a folder written by save-bench")
    restore.set_defaults(run=run_restore)


def run_save(args: argparse.Namespace) -> int:
    """Save, and say where it is."""
    data, now = data_folder(args.data, simulated=args.simulate), datetime.now(UTC)
    if args.stick:
        stick = the_one_stick(find_sticks())
        with writing_to(stick, HelperAccess()) as folder, _saving(args) as told:
            saved = save_bench(data, folder, now, told)
        print(args.speech.say(said("{name} is on the stick", name=Name(saved.name))))
    else:
        with _saving(args) as told:
            folder = save_bench(data, args.to, now, told)
        print(folder)
    return ExitStatus.OK


def _saving(args: argparse.Namespace) -> AbstractContextManager[Told]:
    return waiting(sys.stderr, args.speech, said("saving the whole bench"))


def run_restore(args: argparse.Namespace) -> int:
    """Take it back, with no bench at work on the folder, and say what was kept."""
    data = data_folder(args.data, simulated=args.simulate)
    data.mkdir(parents=True, exist_ok=True)
    with alone_on(data), waiting(sys.stderr, args.speech, said("taking the bench back")) as told:
        kept = restore_bench(args.folder, data, datetime.now(UTC), told)
    print(args.speech.say(said("the bench of {folder} is back", folder=Name(args.folder.name))))
    for path in kept:
        print(path)
    return ExitStatus.OK
