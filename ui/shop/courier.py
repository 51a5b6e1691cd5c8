"""One round between a bench and its shop: what waits is sent in order, what others measured of its machines is taken.

Input: the archive and a connection. Output: what was done, in numbers and sentences. Every log is delivered and
confirmed by itself, so that a round which is cut off anywhere has only done less; the next one goes on from what the
shop says it has. The archive is read, and marked, in short transactions beside the bench, which never waits for this.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from msgspec import Struct

from core.errors import BadInputError
from core.records import (
    TOO_LARGE_TO_READ,
    Archive,
    LogKind,
    MachineIdentity,
    Mark,
    Membership,
    Parcel,
    keep_logs,
    new_machine_id,
    take_session,
)
from core.said import NOTHING, Name, Part, said
from core.said_wire import as_line
from ui.shop.answers import Delivered, Refused, SharedSession

if TYPE_CHECKING:
    from ui.shop.server import ShopServer

_MARKED_AT_ONCE = 50
# Of a machine, in a shop.
_LONGEST_NAME = 200


class Round(Struct, frozen=True, kw_only=True):
    """What one round did: logs that went, entries of them that were new to the shop, sessions that came, and what
    either side refused, named; `barred` why the shop will have nothing of this bench."""

    sent: int = 0
    entries: int = 0
    taken: int = 0
    refused: tuple[Part, ...] = ()
    barred: Part = NOTHING


def carry(archive: Archive, server: ShopServer, now: datetime | None, *, simulated: bool) -> Round:
    """Send and take; nothing while the bench is alone. Raises NotAvailableError where the way is barred meanwhile."""
    membership = archive.shop.membership()
    if membership is None:
        return Round()
    refusal = server.register(membership.bench_id, membership.bench)
    if refusal is not None:
        return Round(refused=(refusal,), barred=refusal)
    identify_machines(archive, server, membership.bench_id)
    archive.shop.keep_known(server.benches(), server.machines())
    sent, entries, refused = _send(archive, server, membership, now)
    taken, marks = 0, {}
    for machine in archive.shop.machines():
        came, marks[machine.machine], not_taken = _take(archive, server, membership, machine, simulated=simulated)
        taken += came
        refused += not_taken
    archive.shop.keep_taken(marks)
    return Round(sent=sent, entries=entries, taken=taken, refused=tuple(refused))


def identify_machines(archive: Archive, server: ShopServer, bench_id: str) -> None:
    """Give each machine that the shop does not know from this bench an id: a new machine, until a person says that it
    is one that others measure; and tell the shop where a person has said so here."""
    known = {one.machine: one.id for one in archive.shop.machines()}
    named = server.named(bench_id)
    for name, machine_id in known.items():
        if named.get(name) != machine_id:
            if machine_id not in {one.id for one in server.machines()}:
                server.add_machine(bench_id, machine_id, name)
            server.name_machine(bench_id, name, machine_id)
    for name in (name for name in machines_to_name(archive) if name not in known):
        machine = named.get(name)
        if machine is None:
            machine = new_machine_id()
            server.add_machine(bench_id, machine, name)
            server.name_machine(bench_id, name, machine)
        archive.shop.identify(name, machine)


def machines_to_name(archive: Archive) -> tuple[str, ...]:
    """This bench's machines; without those of a name so long that the shop takes no log of them either, and says so."""
    return tuple(name for name in archive.shop.machine_names() if len(name) <= _LONGEST_NAME)


def _send(
    archive: Archive, server: ShopServer, membership: Membership, now: datetime | None
) -> tuple[int, int, list[Part]]:
    """Every log by itself; what the shop has told of them is marked together, now and then and however it ends: a mark
    that is lost means sent twice, never not at all."""
    sent = entries = 0
    refused: list[Part] = []
    marks: list[Mark] = []
    try:
        for kind, log in archive.shop.waiting(now):
            parcel = archive.shop.parcel(kind, log, names=membership.names)
            answer, reason = _delivered(server, membership.bench_id, parcel)
            marks.append(Mark(kind=kind, log=log, entries=answer.entries, refused=as_line(reason) if reason else ""))
            if reason:
                refused.append(reason)
            elif isinstance(answer, Delivered):
                sent, entries = sent + 1, entries + answer.sent
            if len(marks) == _MARKED_AT_ONCE:
                archive.shop.mark(marks)
                marks = []
    finally:
        archive.shop.mark(marks)
    return sent, entries, refused


def _delivered(server: ShopServer, bench_id: str, parcel: Parcel) -> tuple[Delivered | Refused, Part]:
    """The shop's word on a parcel, and why no more of the log goes there; nothing where all of it has arrived."""
    if not parcel.entries:
        answer: Delivered | Refused = Refused(entries=0, reason=said("it is damaged here from its beginning"))
    else:
        answer = server.deliver(bench_id, parcel)
    if isinstance(answer, Refused):
        return answer, _named(parcel, answer.reason)
    if parcel.damaged:
        return answer, _named(parcel, said("it is damaged here behind entry {number}", number=len(parcel.entries)))
    return answer, NOTHING


def _named(parcel: Parcel, reason: Part) -> Part:
    if parcel.kind is LogKind.SESSION:
        return said("Session {name}: {reason}.", name=Name(parcel.log), reason=reason)
    return _named_log(parcel.log, reason)


def _named_log(log: str, reason: Part) -> Part:
    return said("Log of {name}: {reason}.", name=Name(log), reason=reason)


def _take(
    archive: Archive, server: ShopServer, membership: Membership, machine: MachineIdentity, *, simulated: bool
) -> tuple[int, str, list[Part]]:
    """What others measured of one machine since the last round, and what they did to it, and up to where that is; what
    came of benches that have since said that theirs is another one leaves its history."""
    meant_by = server.meant_by(machine.id)
    before, _, names = machine.taken.partition(" ")
    named = _digest(meant_by)
    # Who has said since that it is this machine may have measured it long before.
    taken, mark, more = 0, before if names == named else "", True
    refused: list[Part] = []
    while more:
        sessions, mark, more = server.sessions_of(machine.id, mark, simulated=simulated)
        came, not_taken = _taken(archive, sessions, machine.machine)
        taken += came
        refused += not_taken
        if more:
            archive.shop.keep_taken({machine.machine: f"{mark} {named}"})
    logged, too_large = server.logs_of(machine.id)
    refused += [_named_log(log, TOO_LARGE_TO_READ) for bench, log in too_large if bench != membership.bench_id]
    others = [one for one in logged if one.bench != membership.bench_id]
    keep_logs(archive, machine.machine, others)
    archive.shop.put_apart(machine.machine, still={bench for bench, _name in meant_by})
    return taken, f"{mark} {named}", refused


def _digest(meant_by: Collection[tuple[str, str]]) -> str:
    return sha256(repr(sorted(meant_by)).encode()).hexdigest()[:16]


def _taken(archive: Archive, sessions: Sequence[SharedSession], machine: str) -> tuple[int, list[Part]]:
    taken = 0
    refused: list[Part] = []
    for session in sessions:
        if archive.shop.is_own(session.id):
            continue  # what a bench lost with its card comes back
        try:
            taken += take_session(archive, session.id, session.entries, machine, bench=session.bench)
        except BadInputError as error:
            refused.append(
                said(
                    "Session {name} of another bench was not taken: {reason}.", name=Name(session.id), reason=error.what
                )
            )
    return taken, refused
