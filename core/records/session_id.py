"""The one form of a session's id, which is also the name of its folder.

An id is made here, checked where one comes in from elsewhere, and checked again where it becomes a path: nothing else
can be told apart from a path, a pattern or an option by whoever handles it. Lawful on FAT, exFAT and in any shell.
"""

import os
import re
from datetime import datetime

from core.errors import BadInputError
from core.records.digest import sha256
from core.said import Name, said

_FORM = re.compile(r"([0-9]{8}-[0-9]{6}|undated)-[0-9a-f]{8}")
_KIND_AND_FORM = re.compile(rf"(?P<kind>[a-z-]*){_FORM.pattern}")


def new_session_id(now: datetime | None) -> str:
    """Unique over benches, and sorts by time where the clock is set."""
    stamp = now.strftime("%Y%m%d-%H%M%S") if now else "undated"
    return f"{stamp}-{os.urandom(4).hex()}"


def is_session_id(text: str) -> bool:
    """Whether the text has the form; nothing else may become a path."""
    return _FORM.fullmatch(text) is not None


def kind_of_name(name: str) -> str | None:
    """What stands before the id in the name of a folder of ours, such as fault-report-; None for another's folder."""
    found = _KIND_AND_FORM.fullmatch(name)
    return found["kind"] if found else None


def checked_session_id(text: str) -> str:
    """The same text; raises BadInputError where it has not the form."""
    if not is_session_id(text):
        raise BadInputError(
            said(
                "{id} is no name of a session: one such as 20260301-140509-0a1b2c3d is expected",
                id=Name(repr(text[:80])),
            )
        )
    return text


def folder_name(stored: str) -> str:
    """The name that a stored session leaves the bench under: its own, or where an earlier release let another form in,
    one that is made of it and always the same."""
    if is_session_id(stored):
        return stored
    return f"undated-{sha256(stored.encode('utf-8', 'surrogatepass')).hexdigest()[:8]}"
