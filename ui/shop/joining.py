"""Joining a shop and leaving it: what is told before anything is sent, and which machine is which.

Input: the archive, a connection, and what the person answered. Output: a bench that belongs to the shop. Whether a
machine here is one that other benches measure is for a person to say: equal names prove nothing.
"""

from __future__ import annotations

import socket
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from core.errors import BadInputError, NotAvailableError
from core.records import ALONE, Archive, ShopMachine, new_bench_id, new_machine_id
from core.said import Name, Part, said
from ui.shop.access import AccessFile, ShopAccess
from ui.shop.courier import machines_to_name

SENT = (
    said(
        "Sent: every finished coupon of this bench with all its events (limits, instruments, readings, notes, verdict)"
    ),
    said("Sent: what was done to each machine (gaps, steps, corrections, crash, move, belts), and each machine's name"),
    said("Sent: this bench's name"),
    said("Only if you want it: names of operators and customers; notes go as they were written"),
    said("Never sent: machines' profiles, settings, sounds, pictures, and a coupon that is not finished"),
    said("Leaving keeps everything here; what was sent stays with the shop."),
)

if TYPE_CHECKING:
    from ui.shop.server import ShopServer


def bench_name(given: str, access: ShopAccess) -> str:
    """What the shop calls this bench: as it was given, else as its keeper named it, else the name of this computer."""
    name = given or access.bench or socket.gethostname()
    if not (name.isprintable() and 1 <= len(name) <= 200):
        raise BadInputError(said("{name} is no name for a bench", name=Name(repr(name[:60]))))
    return name


def candidates(machine: str, machines: tuple[ShopMachine, ...]) -> tuple[ShopMachine, ...]:
    """The shop's machines for the question which one this is: those of its name first."""
    return tuple(sorted(machines, key=lambda one: (one.name.casefold() != machine.casefold(), one.name, one.id)))


def join(
    archive: Archive,
    server: ShopServer,
    access: ShopAccess,
    folder: Path,
    *,
    bench: str,
    names: bool,
    same: Mapping[str, str],
    new_bench: bool = False,
) -> None:
    """Belong to the shop. `same` gives the shop's id of each machine that is one of its; the others are new to it.

    `new_bench`: it was restored from an older card, and is another bench to the shop from now on. The shop is told
    first: a join that is cut off leaves the bench alone, and is done again.
    """
    bench_id = new_bench_id() if new_bench else archive.shop.bench_id()
    refusal = server.register(bench_id, bench)
    if refusal is not None:
        raise NotAvailableError(refusal)
    if new_bench:
        archive.shop.be_another_bench(bench_id)
    known = {one.id for one in server.machines()}
    named = server.named(bench_id)
    ids: dict[str, str] = {}
    for machine in machines_to_name(archive):
        chosen = same.get(machine) or named.get(machine)
        if chosen is not None and chosen not in known:
            raise BadInputError(said("{id} is no machine of this shop", id=Name(chosen)))
        if chosen is None:
            chosen = new_machine_id()
            server.add_machine(bench_id, chosen, machine)
        if named.get(machine) != chosen:
            server.name_machine(bench_id, machine, chosen)
        ids[machine] = chosen
    join_here(archive, access, folder, bench=bench, names=names, machines=ids)


def join_here(
    archive: Archive,
    access: ShopAccess,
    folder: Path,
    *,
    bench: str,
    names: bool,
    machines: Mapping[str, str] = MappingProxyType({}),
) -> None:
    """What of joining is this bench's own, and needs no network: the sending service tells the shop in its next round,
    gives each machine that is not in `machines` an id, and a person is asked then which of them others measure too."""
    AccessFile(folder).save(access)
    archive.shop.join(access.shop, bench, names=names, machines=dict(machines))


def join_here_anew(archive: Archive, access: ShopAccess, folder: Path, *, bench: str, names: bool) -> None:
    """The same as another bench, after an older card was put in; raises BadInputError for the file that admitted the
    one before. In the same shop the machines stay those that they were."""
    before = AccessFile(folder).load()
    if before is not None and (before.shop, before.role) == (access.shop, access.role):
        raise BadInputError(said("this file admits the bench as it was before: the shop's keeper must make a new one"))
    membership = archive.shop.membership()
    in_same_shop = membership is not None and membership.shop == access.shop
    machines = {one.machine: one.id for one in archive.shop.machines()} if in_same_shop else {}
    archive.shop.be_another_bench(new_bench_id())
    join_here(archive, access, folder, bench=bench, names=names, machines=machines)


def leave(archive: Archive, folder: Path) -> Part:
    """Be alone again; what to tell the person."""
    membership = archive.shop.membership()
    AccessFile(folder).remove()
    if membership is None:
        return ALONE
    archive.shop.leave()
    return said(
        "This bench has left {shop}. Everything stays here; what was sent stays with the shop.",
        shop=Name(membership.shop),
    )
