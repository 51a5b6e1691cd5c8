"""Asking for what only root may do: the fixed verbs, their strict form, and the call that sends one.

Stage: hardware. Input: a verb and its words. Output: the helper's answer, or NotAvailableError with its reason. One
request and one answer a connection, a line each: `VERB WORD ...` and `ok TEXT` or `no TEXT`, before which a verb that
takes long says how far it is, `at TEXT`; meanwhile the asker may call it off by the line `stop`. The helper itself is
privileged_helper.py; it parses with the same table, so that the two never differ.
"""

import re
import socket
from collections.abc import Callable
from contextlib import suppress
from enum import StrEnum
from functools import partial
from pathlib import Path

from msgspec import Struct

from core.errors import BadInputError, NotAvailableError
from core.said import Name, Part, said
from core.said_wire import of_line

SOCKET_PATH = Path("/run/cornerwise-helper.sock")
MAX_LINE = 256  # bytes
# Mounting and above all the unmounting of a slow stick with much unwritten take their time.
ANSWER_TIMEOUT_S = 120.0
# From one word of progress to the next: unpacking and compiling libraries on a slow card.
INSTALL_TIMEOUT_S = 1800.0


class Verb(StrEnum):
    """All that the helper does."""

    ARE_YOU_THERE = "are-you-there"  # answers with its version and does nothing
    MOUNT_STICK = "mount-stick"  # partition such as sda1, then rw or ro; answers with the folder
    UNMOUNT_STICK = "unmount-stick"  # writes out what is pending, unmounts
    SWAP_IMAGE = "swap-image"  # file name of a disk image in the images folder, or none; shown on the USB cable
    SET_CLOCK = "set-clock"  # UTC such as 2026-11-25T08:00:00Z
    POWER_OFF = "power-off"
    LOOK_FOR_UPDATE = "look-for-update"  # partition such as sda1; answers with the version that could be installed
    INSTALL_UPDATE = "install-update"  # the version that was looked at; the bench is started anew
    GO_BACK = "go-back"  # to the version before; the bench is started anew


# What may be called off while it is done: nothing of it counts before its end.
MAY_BE_CALLED_OFF = frozenset({Verb.LOOK_FOR_UPDATE, Verb.INSTALL_UPDATE})
CALLED_OFF = b"stop\n"

VERSION_FORM = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,4}){1,3}")
_PARTITION = re.compile(r"sd[a-z][0-9]{0,2}")
_FORMS: dict[Verb, tuple[re.Pattern[str], ...]] = {
    Verb.ARE_YOU_THERE: (),
    Verb.MOUNT_STICK: (_PARTITION, re.compile(r"rw|ro")),
    Verb.UNMOUNT_STICK: (),
    Verb.SWAP_IMAGE: (re.compile(r"none|[a-z0-9][a-z0-9-]{0,60}\.img"),),
    Verb.SET_CLOCK: (re.compile(r"20[2-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]:[0-5][0-9]Z"),),
    Verb.POWER_OFF: (),
    Verb.LOOK_FOR_UPDATE: (_PARTITION,),
    Verb.INSTALL_UPDATE: (VERSION_FORM,),
    Verb.GO_BACK: (),
}


class Request(Struct, frozen=True, kw_only=True):
    """A verb with its words, known to be of the right form."""

    verb: Verb
    words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        forms = _FORMS[self.verb]
        if len(self.words) != len(forms):
            raise BadInputError(
                said(
                    "{verb} takes {forms} words, not {words}",
                    verb=Name(self.verb),
                    forms=len(forms),
                    words=len(self.words),
                )
            )
        for word, form in zip(self.words, forms, strict=True):
            if not form.fullmatch(word):
                raise BadInputError(
                    said(
                        "{verb}: '{word}' is not of the form {pattern}",
                        verb=Name(self.verb),
                        word=Name(word),
                        pattern=Name(form.pattern),
                    )
                )

    def line(self) -> bytes:
        """As it goes through the socket."""
        return (" ".join((self.verb, *self.words)) + "\n").encode("ascii")


def parse_request(line: bytes) -> Request:
    """The request in one line with its line feed. Raises BadInputError for anything but the exact form."""
    if len(line) > MAX_LINE or not line.endswith(b"\n") or not line.isascii():
        raise BadInputError(said("a request is one line of ASCII, {most} bytes at most", most=MAX_LINE))
    verb, *words = line[:-1].decode("ascii").split(" ")
    if verb not in list(Verb):
        raise BadInputError(said("there is no verb '{verb}'", verb=Name(verb[:40])))
    return Request(verb=Verb(verb), words=tuple(words))


def ask_helper(
    verb: Verb,
    *words: str,
    socket_path: Path = SOCKET_PATH,
    progress: Callable[[Part], None] = lambda text: None,
    begun: Callable[[Callable[[], None]], None] = lambda call_off: None,
) -> str:
    """Have the helper do this and return what it answers; `progress` hears how far it is. Where it may be called off,
    `begun` is given what does that, from any thread; the helper then says no, unless it was done already.

    Raises BadInputError when the words have not the verb's form, NotAvailableError when there is no helper (a bench
    that was not installed on a Pi) or when it says no, with its reason.
    """
    request = Request(verb=verb, words=words)
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(INSTALL_TIMEOUT_S if verb is Verb.INSTALL_UPDATE else ANSWER_TIMEOUT_S)
            connection.connect(str(socket_path))
            connection.sendall(request.line())
            if verb in MAY_BE_CALLED_OFF:
                begun(partial(_call_off, connection))
            else:
                connection.shutdown(socket.SHUT_WR)
            with connection.makefile("r", encoding="utf-8", errors="replace") as answers:
                for line in answers:
                    word, _, text = line.strip().partition(" ")
                    if word == "at":
                        progress(of_line(text))
                    elif word == "ok":
                        return text
                    else:
                        unread = said("{verb}: the helper's answer cannot be read", verb=Name(verb))
                        raise NotAvailableError(of_line(text) if text else unread)
    except OSError as error:
        raise NotAvailableError(
            said(
                "{verb}: the installed helper does not answer ({why})",
                verb=Name(verb),
                why=Name(error.strerror or str(error)),
            )
        ) from error
    raise NotAvailableError(said("{verb}: the helper ended without an answer", verb=Name(verb)))


def _call_off(connection: socket.socket) -> None:
    with suppress(OSError):  # it has ended meanwhile, and the answer is on its way
        connection.sendall(CALLED_OFF)
