"""Every kind of event has exactly one address, and what has none is refused where it is sent."""

from __future__ import annotations

import importlib
import pkgutil
from typing import get_args

import pytest

import ui.bench
from core.said import Name
from firmware_bridge.byte_link import LinkEvent
from ui.bench.bench import Bench
from ui.bench.desks.measuring import ConfirmMark, MeasuringDesk, ResumeSession
from ui.bench.desks.settings import SettingsDesk
from ui.bench.routing import Desk, routing_table
from ui.bench.workers.archive_tasks import NotStored
from ui.bench.workers.archive_thread import ArchiveOpened, Outbox
from ui.bench.workers.cables import CablesRefused
from ui.state.messages import Command, Report


class Silent:
    """An archive that keeps every task and answers none."""

    def __init__(self) -> None:
        self.tasks: list[object] = []

    def submit(self, task: object) -> None:
        self.tasks.append(task)


def kinds(base: type) -> set[type]:
    """Every kind of event that the bench declares."""
    found = set()
    for kind in base.__subclasses__():
        found |= kinds(kind) or {kind}
    return {kind for kind in found if kind.__module__.startswith("ui.")}


def bench() -> Bench:
    return Bench(archive=Silent(), clock_s=lambda: 0.0)


def test_every_kind_of_event_has_an_address() -> None:
    for module in pkgutil.walk_packages(ui.bench.__path__, "ui.bench."):
        importlib.import_module(module.name)
    declared = kinds(Command) | kinds(Report) | set(get_args(LinkEvent))
    assert len(declared) > 50
    assert declared == set(bench()._routes)


def test_an_event_without_an_address_is_refused_where_it_is_sent() -> None:
    class Unknown(Command):
        pass

    with pytest.raises(TypeError, match="Unknown has no address"):
        bench().send(Unknown())


def test_two_desks_cannot_take_the_same() -> None:
    outbox = Outbox(Silent())
    with pytest.raises(ValueError, match="ChangeSettings has two addresses"):
        routing_table((SettingsDesk(outbox, None), SettingsDesk(outbox, None)))


def test_what_is_heard_has_an_address() -> None:
    class Listening(Desk):
        def __init__(self) -> None:
            self.hears = {ConfirmMark: lambda draft, event: draft}

    with pytest.raises(ValueError, match="ConfirmMark is heard and has no address"):
        routing_table((Listening(),))
    routing_table((Listening(), MeasuringDesk(Outbox(Silent()))))


def test_only_an_answer_of_the_archive_pays_its_debt() -> None:
    """A foreign event once counted as one, and the bench took a reading on its way to the disk for stored."""
    silent = bench()
    silent.send(ResumeSession())
    assert silent.pump().storing
    silent.post(ArchiveOpened(notice=""))
    silent.post(CablesRefused(text="no such port"))
    assert silent.pump().storing
    silent.post(NotStored(text=Name("the card is full")))
    assert not silent.pump().storing
