"""The one program that runs as root: answers fixed verbs on a Unix socket, for the bench's own user only.

Stage: hardware. Input: connections (from systemd's socket activation), each one line. Output: one line each, behind
words of progress. It reads no file of the user's making except images and signed updates, starts no shell. Short verbs
are done one at a time, and so are long ones (updates), but beside each other: power-off and a mount never wait.
Started by systemd as `python -m hardware.privileged_helper`; ends after being idle, systemd starts it again on demand.
"""

import os
import pwd
import select
import socket
import struct
import sys
import threading
import traceback
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial

from core import SOFTWARE
from core.errors import BadInputError
from core.said import Name, Part, Said, said
from core.said_wire import as_line
from hardware.helper_client import CALLED_OFF, MAX_LINE, Request, Verb, parse_request
from hardware.root_verbs import RefusedError, RootPlaces, mount_stick, power_off, set_clock, swap_image, unmount_stick
from hardware.update_verbs import go_back, install_update, look_for_update

USER = "cornerwise"
FIRST_SOCKET = 3  # systemd passes its sockets from this descriptor on (sd_listen_fds(3))
REQUEST_TIMEOUT_S = 5.0
IDLE_S = 60.0
LONG = {Verb.LOOK_FOR_UPDATE, Verb.INSTALL_UPDATE, Verb.GO_BACK}
# The bench asks for one thing at a time, and for power-off beside it.
MOST_AT_ONCE = 8
# After these, whoever asks next is to be answered by the helper of the release that runs then.
CHANGES_RELEASE = {Verb.INSTALL_UPDATE, Verb.GO_BACK}
_LOOK_UP_S = 1.0


class Turns:
    """Whose turn it is: one short verb at a time, one long one; `release_changed` once another release is to run."""

    def __init__(self) -> None:
        self.short, self.long = threading.Lock(), threading.Lock()
        self.release_changed = threading.Event()


Say = Callable[[Said], None]
Deed = Callable[..., str | Said]  # called with how to say progress, then the request's words


def deeds(places: RootPlaces, *, owner_uid: int, owner_gid: int) -> Mapping[Verb, Deed]:
    """What each verb does, on these places, for this user."""
    return {
        Verb.ARE_YOU_THERE: lambda say: SOFTWARE,
        Verb.MOUNT_STICK: lambda say, partition, access: mount_stick(
            places, partition, access, owner_uid=owner_uid, owner_gid=owner_gid
        ),
        Verb.UNMOUNT_STICK: lambda say: unmount_stick(places),
        Verb.SWAP_IMAGE: lambda say, name: swap_image(places, name),
        Verb.SET_CLOCK: lambda say, when: set_clock(places, when),
        Verb.POWER_OFF: lambda say: power_off(places),
        Verb.LOOK_FOR_UPDATE: lambda say, partition: look_for_update(places, partition, say),
        Verb.INSTALL_UPDATE: lambda say, version: install_update(places, version, say),
        Verb.GO_BACK: lambda say: go_back(places),
    }


def peer_uid(connection: socket.socket) -> int:
    """The user at the other end, as the kernel knows it (SO_PEERCRED of unix(7))."""
    credentials = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    return int(struct.unpack("3i", credentials)[1])


def answer(connection: socket.socket, allowed_uids: frozenset[int], verbs: Mapping[Verb, Deed], turns: Turns) -> None:
    """Handle one connection; whatever comes, the helper goes on."""
    connection.settimeout(REQUEST_TIMEOUT_S)
    told: str | Part
    try:
        uid, line = peer_uid(connection), _read_line(connection)
        if uid not in allowed_uids:
            raise RefusedError(said("user {uid} may not ask", uid=uid))
        word, told = "ok", _do(parse_request(line), verbs, turns, partial(_say, connection))
    except (BadInputError, RefusedError) as error:
        word, told = "no", error.what
    except OSError as error:
        word, told = "no", Name(error.strerror or str(error))
    except Exception as error:
        # One verb that fails in a new way must not take the others along.
        traceback.print_exc()
        word, told = "no", said("an error nobody foresaw ({name})", name=Name(type(error).__name__))
    _send(connection, word, told)


def _do(request: Request, verbs: Mapping[Verb, Deed], turns: Turns, say: Say) -> str | Part:
    if request.verb not in LONG:
        with turns.short:
            return verbs[request.verb](say, *request.words)
    if not turns.long.acquire(blocking=False):
        raise RefusedError(said("an update is being looked at or installed already: wait for it"))
    try:
        done = verbs[request.verb](say, *request.words)
    finally:
        turns.long.release()
    if request.verb in CHANGES_RELEASE:
        turns.release_changed.set()
    return done


def _say(connection: socket.socket, text: Said) -> None:
    """How far it is; raises RefusedError where the asker has called it off. Nothing is said once something counts."""
    _send(connection, "at", text)
    try:
        heard, _, _ = select.select([connection], [], [], 0.0)
        called_off = bool(heard) and connection.recv(len(CALLED_OFF)) == CALLED_OFF
    except OSError:
        return  # the asker went away: what it asked for is done all the same
    if called_off:
        raise RefusedError(said("stopped: nothing was installed"))


def _send(connection: socket.socket, word: str, told: str | Part) -> None:
    """One line: a word, and what a program reads (a text) or a person (a part)."""
    print(f"helper: {word} {told}", file=sys.stderr, flush=True)
    text = told if isinstance(told, str) else as_line(told)
    try:
        connection.sendall(f"{word} {' '.join(text.split())}\n".encode())
    except OSError:
        return  # the asker went away; what it asked for is done or refused all the same


def _read_line(connection: socket.socket) -> bytes:
    line = b""
    while not line.endswith(b"\n") and len(line) <= MAX_LINE:
        part = connection.recv(MAX_LINE + 1 - len(line))
        if not part:
            break
        line += part
    return line


def serve(listener: socket.socket, allowed_uids: frozenset[int], verbs: Mapping[Verb, Deed], *, idle_s: float) -> None:
    """Answer connections, each in a thread of its own, until none has come for `idle_s` seconds and none is left, or
    the release was changed."""
    listener.settimeout(min(idle_s, _LOOK_UP_S))
    turns, idle = Turns(), 0
    with ThreadPoolExecutor(MOST_AT_ONCE, thread_name_prefix="request") as requests:
        pending: set[Future[None]] = set()
        while True:
            try:
                connection, _ = listener.accept()
            except TimeoutError:
                pending = {one for one in pending if not one.done()}
                idle = 0 if pending else idle + 1
                if not pending and (idle * _LOOK_UP_S >= idle_s or turns.release_changed.is_set()):
                    return
                continue
            idle = 0
            pending.add(requests.submit(_answer_and_close, connection, allowed_uids, verbs, turns))


def _answer_and_close(
    connection: socket.socket, allowed_uids: frozenset[int], verbs: Mapping[Verb, Deed], turns: Turns
) -> None:
    with connection:
        answer(connection, allowed_uids, verbs, turns)


def main() -> int:
    """Take over systemd's socket and serve the bench's user (and root, for the one who looks after the machine)."""
    if os.environ.get("LISTEN_PID") != str(os.getpid()) or os.environ.get("LISTEN_FDS") != "1":
        print("helper: meant to be started by systemd (cornerwise-helper.socket)", file=sys.stderr)
        return 69
    user = pwd.getpwnam(USER)
    with socket.socket(fileno=FIRST_SOCKET) as listener:
        verbs = deeds(RootPlaces(), owner_uid=user.pw_uid, owner_gid=user.pw_gid)
        serve(listener, frozenset({0, user.pw_uid}), verbs, idle_s=IDLE_S)
    return 0


if __name__ == "__main__":
    sys.exit(main())
