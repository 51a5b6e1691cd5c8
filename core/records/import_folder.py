"""A downloaded session folder into another bench's archive: checked first, taken over whole, once."""

from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError
from core.progress import Told, nobody
from core.records.archive import Archive
from core.records.checksums import unnamed_files, verified_file
from core.records.export import SESSION_FILE
from core.records.foreign_session import check_session
from core.records.session_json import parse_session
from core.said import NOTHING, Name, Part, paragraph, said, said_counted


class Imported(Struct, frozen=True, kw_only=True):
    """The session taken over; `new` is False when it was in the archive already. `remark` says what the person should
    know of it: another word than its own, files that nothing vouches for."""

    session: str
    new: bool
    remark: Part


def import_folder(folder: Path, archive: Archive, told: Told = nobody) -> Imported:
    """Take over the session of a folder; raises BadInputError when it is incomplete, changed, or contradicts ours.
    `told` hears how far it is; it is taken over whole, in one commit, or not at all."""
    file = Name(str(folder / SESSION_FILE))
    content = verified_file(folder, SESSION_FILE)
    told(1, 3)
    try:
        foreign = check_session(*parse_session(content.decode("utf-8")))
    except BadInputError as exc:
        raise BadInputError(said("{file}: {what}", file=file, what=exc.what)) from exc
    except UnicodeDecodeError as exc:
        raise BadInputError(said("{file}: this is no text in UTF-8", file=file)) from exc
    told(2, 3)
    new = archive.take_over(foreign.id, foreign.events)
    return Imported(session=foreign.id, new=new, remark=paragraph(foreign.remark, _not_read(folder)))


def _not_read(folder: Path) -> Part:
    names = unnamed_files(folder)
    if not names:
        return NOTHING
    return said_counted(
        "{count} file of the folder is not in its list of checksums and was not read: {name}.",
        "{count} files of the folder are not in its list of checksums and were not read, {name} among them.",
        count=len(names),
        name=Name(names[0]),
    )
