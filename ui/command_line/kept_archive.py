"""The archive for commands that only look something up: opened where it is, with a word where it is not."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime

from core.errors import BadInputError
from core.records.archive import Archive
from ui.command_line.data_folder import data_folder
from ui.start import ARCHIVE_FILE


@contextmanager
def kept_archive(args: argparse.Namespace, command: str) -> Iterator[Archive]:
    """The archive the arguments point to; raises BadInputError where there is none yet. Says what was unusual."""
    path = data_folder(args.data, simulated=args.simulate) / ARCHIVE_FILE
    if not path.exists():
        raise BadInputError(f"{path}: there is no archive yet; with --simulate, say it before '{command}'")
    with closing(Archive.open(path, lambda: datetime.now(UTC), may_set_aside=False)) as archive:
        if archive.notice:
            print(args.speech.say(f"cornerwise: {archive.notice}"), file=sys.stderr)
        yield archive
