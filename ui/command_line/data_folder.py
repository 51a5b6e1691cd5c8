"""Where the bench keeps its records: one folder, and a separate one for simulated data so that the two never mix."""

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from core.errors import BadInputError
from core.records import ARCHIVE, Archive
from core.said import Name, said

# Of an installed bench: StateDirectory in cornerwise.service.
INSTRUMENT = Path("/var/lib/cornerwise")


def data_folder(chosen: Path | None, *, simulated: bool) -> Path:
    """The folder for the archive and settings: the chosen one, else $CORNERWISE_DATA, else the XDG data folder."""
    if chosen is not None:
        root = chosen
    elif given := os.environ.get("CORNERWISE_DATA"):
        root = Path(given)
    else:
        root = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "cornerwise"
    return root / "simulated" if simulated else root


def instrument_records() -> Path | None:
    """The bench's records for root, who looks after an instrument by sudo and has none of its own; None elsewhere.

    Only for what looks: a file that root wrote there the bench could not read.
    """
    looks_after = os.geteuid() == 0 and not os.environ.get("CORNERWISE_DATA") and INSTRUMENT.is_dir()
    return INSTRUMENT if looks_after else None


@contextmanager
def kept_archive(args: argparse.Namespace, command: str) -> Iterator[Archive]:
    """The archive the arguments point to; raises BadInputError where there is none yet. Says what was unusual."""
    path = data_folder(args.data, simulated=args.simulate) / ARCHIVE
    if not path.exists():
        raise BadInputError(
            said(
                "{path}: there is no archive yet; with --simulate, say it before '{command}'",
                path=Name(str(path)),
                command=Name(command),
            )
        )
    with closing(Archive.open(path, lambda: datetime.now(UTC), may_set_aside=False)) as archive:
        if archive.notice:
            print(args.speech.say(said("cornerwise: {what}", what=archive.notice)), file=sys.stderr)
        yield archive
