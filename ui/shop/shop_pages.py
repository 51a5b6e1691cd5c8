"""The whole shop as pages for any browser: the drive's own, of all benches, as static files.

Input: a connection and a folder. Output: `index.html`, and below `cornerwise/` a page for each of the newest finished
coupons. They are made of an archive that is filled for this once, by the same checks that a bench makes of what others
measured; a file that has not changed is left alone, and nothing is removed.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from core.errors import BadInputError
from core.records import (
    FOLDER,
    SHOWN_SESSIONS,
    Archive,
    ShopMachine,
    drive_of,
    keep_logs,
    take_session,
    write_file,
    writing_errors,
)
from core.said import Name, Part, Voice, said

if TYPE_CHECKING:
    from ui.shop.server import ShopServer


def write_pages(server: ShopServer, folder: Path, voice: Voice) -> tuple[int, tuple[Part, ...]]:
    """How many coupons have a page now, and which sessions of the shop have none because they are not what they say."""
    with (
        tempfile.TemporaryDirectory() as place,
        closing(Archive.open(Path(place) / "shop.sqlite", _undated)) as archive,
    ):
        left_out = _fill(archive, server)
        folders, front = drive_of(archive, {}, voice)
    with writing_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
    for session, files in folders.items():
        _put(folder / FOLDER / session, files)
    _put(folder, front)
    return len(folders), left_out


def _fill(archive: Archive, server: ShopServer) -> tuple[Part, ...]:
    machines = server.machines()
    names = shown_names(machines)
    archive.shop.keep_known(server.benches(), ())
    left_out: list[Part] = []
    for session in server.all_sessions(limit=SHOWN_SESSIONS):
        try:
            take_session(archive, session.id, session.entries, names.get(session.machine), bench=session.bench)
        except BadInputError as error:
            left_out.append(said("Session {name} has no page: {reason}.", name=Name(session.id), reason=error.what))
    for machine in machines:
        keep_logs(archive, names[machine.id], server.logs_of(machine.id)[0])
    return tuple(left_out)


def shown_names(machines: Sequence[ShopMachine]) -> dict[str, str]:
    """What each machine is called where all of them are shown: two of one name are told apart by where they stand."""
    alike = Counter(machine.name for machine in machines)
    shown = {one.id: one.name if alike[one.name] == 1 else f"{one.name} ({', '.join(one.benches)})" for one in machines}
    again = Counter(shown.values())
    return {key: name if again[name] == 1 else f"{name} {key[-4:]}" for key, name in shown.items()}


def _put(folder: Path, files: Mapping[str, bytes]) -> None:
    with writing_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        path = folder / name
        if not (path.is_file() and path.read_bytes() == content):
            write_file(path, content)


def _undated() -> None:
    """Nothing is stamped with a time of its own in an archive that is filled for this once."""
