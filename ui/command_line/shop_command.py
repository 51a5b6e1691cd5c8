"""`cornerwise shop`: several benches, one history of each machine, in a PostgreSQL database of the shop's own."""

from __future__ import annotations

import argparse
import getpass
import signal
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from types import ModuleType

from msgspec.structs import replace

from core.errors import BadInputError, NotAvailableError
from core.records import ALONE, ARCHIVE, Archive, ShopMachine, dump, to_json
from core.records.shop_state import shop_state
from core.regular_file import read_regular_file
from core.said import Name, Part, said, said_counted
from ui.command_line.data_folder import data_folder
from ui.shop import ADMITS, AccessFile, ShopAccess, joining, parse_address, read_access, read_password, write_private
from ui.speech import Speech
from ui.terminal import ExitStatus

_EXAMPLE = "postgresql://ROLE@HOST/DATABASE"
_MAX_CERTIFICATE_BYTES = 256 * 1024


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `shop` with its own commands."""
    parser = subparsers.add_parser(
        "shop",
        help="send to, and take from, a database that several benches share",
        description="A bench is alone until it joins. Sending is a service of its own; the bench never waits for it.",
    )
    parser.set_defaults(
        run=lambda _args: parser.error("say join, leave, status, send, serve, serve-pages, set-up or admit")
    )
    inner = parser.add_subparsers(title="commands", metavar="COMMAND")
    join = inner.add_parser("join", help="belong to a shop: says what is sent, and asks which machine is which")
    _add_access(join, address_needed=False)
    join.add_argument(
        "--from", dest="file", type=Path, metavar="FILE", help="what the shop's keeper made for this bench"
    )
    join.add_argument(
        "--bench", default="", metavar="NAME", help="what the shop calls this bench (its computer's name)"
    )
    join.add_argument("--names", action="store_true", help="send names of operators and customers too")
    join.add_argument(
        "--same", action="append", default=[], metavar="MACHINE=ID", help="this machine is that one of the shop"
    )
    join.add_argument("--new-bench", action="store_true", help="an older card was put in: be another bench to the shop")
    join.add_argument("--yes", action="store_true", help="ask nothing: a machine not named by --same is a new one")
    join.set_defaults(run=run_join)
    for name, run, words in (
        ("leave", run_leave, "be alone again; everything stays here"),
        ("status", run_status, "what was sent, what is waiting, what was refused"),
        ("send", run_send, "send and take once"),
        ("serve", run_serve, "send and take for as long as it runs (the service)"),
    ):
        inner.add_parser(name, help=words).set_defaults(run=run)
    pages = inner.add_parser("serve-pages", help="the whole shop as pages for a browser: static files, any web server")
    pages.add_argument("folder", type=Path, metavar="DIR", help="index.html is put in here")
    pages.set_defaults(run=run_pages)
    set_up = inner.add_parser("set-up", help="make a shop of an empty database, or bring it to this version")
    _add_access(set_up, address_needed=True)
    set_up.set_defaults(run=run_set_up)
    admit = inner.add_parser("admit", help="a role for one bench, and the file that lets it join")
    _add_access(admit, address_needed=True)
    admit.add_argument("role", metavar="ROLE", help="small letters, digits and _")
    admit.add_argument(
        "--to", type=Path, required=True, metavar="DIR|FILE", help="a stick's folder (ROLE.shop), or the file to write"
    )
    admit.add_argument("--bench", default="", metavar="NAME", help="what the shop calls this bench (else its computer)")
    admit.set_defaults(run=run_admit)


def _add_access(parser: argparse.ArgumentParser, *, address_needed: bool) -> None:
    parser.add_argument(
        "address", metavar="URL", nargs=None if address_needed else "?", help=f"{_EXAMPLE}; no password"
    )
    parser.add_argument("--password-file", type=Path, metavar="FILE", help="only its owner may read it (mode 600)")
    parser.add_argument("--certificate", type=Path, metavar="FILE", help="of the authority that vouches for the server")


def run_join(args: argparse.Namespace) -> int:
    """Say what is sent, ask, join."""
    say = args.speech.say
    server_of = _server_module()
    if (args.file is None) == (args.address is None):
        raise BadInputError(said("give the shop's address, or the file that admits this bench (--from)"))
    access = read_access(args.file) if args.file else _access_of(args, say)
    folder, path = _places(args)
    for sentence in joining.SENT:
        print(say(sentence))
    if not (args.yes or _agrees(say(said("Join {shop}? (yes/no)", shop=Name(access.shop))))):
        return ExitStatus.OK
    with closing(_opened(path)) as archive, server_of.connected(access) as server:
        same = _given_machines(args.same)
        if not args.yes:
            same = {**_asked_machines(archive, server.machines(), args.speech, same), **same}
        bench = joining.bench_name(args.bench, access)
        joining.join(
            archive, server, access, folder, bench=bench, names=args.names, same=same, new_bench=args.new_bench
        )
    print(say(said("This bench belongs to {shop} now, as {bench}.", shop=Name(access.shop), bench=Name(bench))))
    return ExitStatus.OK


def run_leave(args: argparse.Namespace) -> int:
    """Be alone again."""
    folder, path = _places(args)
    with closing(_opened(path)) as archive:
        print(args.speech.say(joining.leave(archive, folder)))
    return ExitStatus.OK


def run_status(args: argparse.Namespace) -> int:
    """What was sent, what waits, what was refused; asks no network."""
    _folder, path = _places(args)
    with closing(_opened(path)) as archive:
        for sentence in shop_state(archive.shop).sentences:
            print(args.speech.say(sentence))
    return ExitStatus.OK


def run_send(args: argparse.Namespace) -> int:
    """One round, and what came of it."""
    _server_module()
    from ui.shop import one_round

    folder, path = _places(args)
    done = one_round(folder, path, _clock, simulated=args.simulate)
    if done is None:
        raise NotAvailableError(ALONE)
    print(
        args.speech.say(
            said(
                "Logs sent: {logs}; entries new to the shop: {entries}; sessions taken: {taken}.",
                logs=done.sent,
                entries=done.entries,
                taken=done.taken,
            )
        )
    )
    for reason in done.refused:
        print(args.speech.say(reason), file=sys.stderr)
    return ExitStatus.NOT_AVAILABLE if done.refused else ExitStatus.OK


def run_serve(args: argparse.Namespace) -> int:
    """Rounds until the service is stopped, or the bench leaves the shop."""
    _server_module()
    from ui.shop import SendingService, one_round

    folder, path = _places(args)
    ended = threading.Event()
    before = [(number, signal.signal(number, lambda *_: ended.set())) for number in (signal.SIGTERM, signal.SIGINT)]
    try:
        SendingService(
            round_=lambda: one_round(folder, path, _clock, simulated=args.simulate),
            changes=lambda: _changes(path),
            wait=lambda seconds: not ended.wait(seconds),
            tell=lambda what: print(args.speech.say(what), file=sys.stderr, flush=True),
        ).run()
    finally:
        for number, handler in before:  # whoever called still ends by them
            signal.signal(number, handler)
    return ExitStatus.OK


def run_pages(args: argparse.Namespace) -> int:
    """Write the pages of the shop that this bench belongs to."""
    server_of = _server_module()
    from ui.shop import write_pages

    access = AccessFile(_places(args)[0]).load()
    if access is None:
        raise NotAvailableError(ALONE)
    with server_of.connected(access) as server:
        count, left_out = write_pages(server, args.folder, args.speech.on_paper)
    for reason in left_out:
        print(args.speech.say(reason), file=sys.stderr)
    print(args.speech.say(said_counted("{count} coupon has a page.", "{count} coupons have a page.", count=count)))
    return ExitStatus.OK


def run_set_up(args: argparse.Namespace) -> int:
    """Make the database a shop."""
    _server_module()
    from ui.shop import set_up

    access = _access_of(args, args.speech.say)
    set_up(access, date.today())
    print(args.speech.say(said("{shop} is a shop of this version.", shop=Name(access.shop))))
    return ExitStatus.OK


def run_admit(args: argparse.Namespace) -> int:
    """Make a role for a bench and the file that lets it join."""
    _server_module()
    from ui.shop import admit

    admitted = replace(admit(_access_of(args, args.speech.say), args.role), bench=args.bench)
    file = args.to / f"{args.role}{ADMITS}" if args.to.is_dir() else args.to
    write_private(file, dump(to_json(admitted)) + "\n")
    print(
        args.speech.say(
            said(
                "{file} admits one bench, and holds its password: carry it there on a stick, then remove it.",
                file=Name(str(file)),
            )
        )
    )
    return ExitStatus.OK


def _server_module() -> ModuleType:
    """The part that knows the driver; raises NotAvailableError where it, or the system's library, is not there."""
    try:
        from ui.shop import server
    except ImportError as exc:
        raise NotAvailableError(
            said(
                "a shop needs the libraries of the extra 'shop' and the system's libpq: {reason}", reason=Name(str(exc))
            )
        ) from exc
    return server


def _access_of(args: argparse.Namespace, say: Callable[[Part], str]) -> ShopAccess:
    """The address as it was given; its password from the file, or asked for where nobody sees it."""
    access = parse_address(args.address)
    if args.certificate is not None:
        pem = read_regular_file(args.certificate, _MAX_CERTIFICATE_BYTES).decode("ascii", "replace")
        access = replace(access, certificate=pem)
    if args.password_file is not None:
        return replace(access, password=read_password(args.password_file))
    question = say(said("Password of {role} at {shop}: ", role=Name(access.role), shop=Name(access.shop)))
    return replace(access, password=getpass.getpass(question))


def _places(args: argparse.Namespace) -> tuple[Path, Path]:
    folder = data_folder(args.data, simulated=args.simulate)
    return folder, folder / ARCHIVE


def _opened(path: Path) -> Archive:
    return Archive.open(path, _clock, may_set_aside=False)


def _clock() -> datetime:
    return datetime.now(UTC)


def _changes(path: Path) -> int:
    """A number that moves whenever something is committed to the archive."""
    return sum(found.stat().st_mtime_ns for found in (path, path.with_name(f"{path.name}-wal")) if found.exists())


def _agrees(question: str) -> bool:
    return _asked(question).lower() in ("y", "yes", "j", "ja")


def _asked(question: str) -> str:
    """What a person types; raises NotAvailableError where nobody is there to ask."""
    try:
        return input(f"{question} ").strip()
    except EOFError as exc:
        raise NotAvailableError(said("nobody answered: say --yes where nobody is asked")) from exc


def _given_machines(given: Sequence[str]) -> dict[str, str]:
    """MACHINE=ID of the options; raises BadInputError."""
    pairs = [one.rpartition("=") for one in given]
    for name, _sign, machine in pairs:
        if not (name and machine):
            raise BadInputError(said("--same {pair}: MACHINE=ID is expected", pair=Name(f"{name}{_sign}{machine}")))
    return {name: machine for name, _sign, machine in pairs}


def _asked_machines(
    archive: Archive, machines: tuple[ShopMachine, ...], speech: Speech, given: Mapping[str, str]
) -> dict[str, str]:
    """For every machine here: is it one that the shop knows?"""
    same: dict[str, str] = {}
    for machine in archive.shop.machine_names():
        known = joining.candidates(machine, machines)
        if not known or machine in given:
            continue
        print(speech.say(said("Is {machine} the same machine as one of these?", machine=Name(machine))))
        for number, one in enumerate(known, start=1):
            benches = Name(", ".join(one.benches))
            print(
                speech.say(
                    said("{number}: {machine} (at {benches})", number=number, machine=Name(one.name), benches=benches)
                )
            )
        answer = _asked(speech.say(said("Its number, or nothing where it is another machine:")))
        if answer.isdecimal() and 1 <= int(answer) <= len(known):
            same[machine] = known[int(answer) - 1].id
    return same
