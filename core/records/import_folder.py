"""A downloaded session folder into another bench's archive: checked first, taken over whole, once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from core.errors import BadInputError
from core.records.archive import Archive
from core.records.checksums import verify_folder
from core.records.export import SESSION_FILE
from core.records.session_json import parse_session


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """The session taken over; `new` is False when it was in the archive already."""

    session: str
    new: bool


def import_folder(folder: Path, archive: Archive) -> Imported:
    """Take over the session of a folder; raises BadInputError when it is incomplete, changed, or contradicts ours."""
    verify_folder(folder)
    try:
        text = (folder / SESSION_FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as exc:
        raise BadInputError(f"{folder / SESSION_FILE}: cannot be read: {exc}") from exc
    session_id, events = parse_session(text)
    return Imported(session=session_id, new=archive.take_over(session_id, events))
