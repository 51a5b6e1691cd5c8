"""Benches for the tests of a shop: archives of the house scenario (SIMULATED), each with a role at a real server."""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.geometry.seats import keyed_seats
from core.machine.machine_log import MachineEvent, MachineEventKind
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Reading
from core.metrology.tolerances import Limits
from core.records.archive import Archive
from core.records.events import Closed, Opened, ReadingAccepted
from ui.shop import joining
from ui.shop.access import AccessFile, ShopAccess
from ui.shop.courier import Round, carry
from ui.shop.keeping import admit
from ui.shop.server import connected

LIMITS = Limits(source="ISO 2768-mK", width_edge_mm=0.3, height_edge_mm=0.3, perpendicularity_mm=0.4)
MACHINE = "template router"
# As any client writes to the shop.
Connection = psycopg.Connection[Any]
SESSION = "INSERT INTO cornerwise.session_event VALUES (%s, %s, %s, %s, %s, %s, %s, %s)"
LOG = "INSERT INTO cornerwise.machine_event VALUES (%s, %s, %s, %s, %s, %s, %s, %s)"


class Bench:
    """One bench with a clock of its own."""

    def __init__(self, folder: Path, keeper: ShopAccess, name: str) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.name = name
        self.access = admit(keeper, f"bench_{secrets.token_hex(4)}")
        self.time: datetime | None = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
        self.archive = Archive.open(folder / "archive.sqlite", lambda: self.time)

    def copy_card(self) -> Path:
        """What its card holds now."""
        kept = self.folder.with_name("older-card.sqlite")
        self.archive.close()
        shutil.copyfile(self.folder / "archive.sqlite", kept)
        self.archive = Archive.open(self.folder / "archive.sqlite", lambda: self.time)
        return kept

    def put_in(self, card: Path) -> None:
        """Go on with another card."""
        self.archive.close()
        for file in self.folder.glob("archive.sqlite*"):
            file.unlink()
        shutil.copyfile(card, self.folder / "archive.sqlite")
        self.archive = Archive.open(self.folder / "archive.sqlite", lambda: self.time)

    def pass_time(self, step: timedelta) -> None:
        """Let the bench's clock go on."""
        if self.time is not None:
            self.time += step

    def join(self, *, names: bool = False, same: Mapping[str, str] | None = None, new_bench: bool = False) -> None:
        """Belong to the shop."""
        with connected(self.access) as server:
            joining.join(
                self.archive, server, self.access, self.folder, bench=self.name, names=names, same=same or {},
                new_bench=new_bench,
            )  # fmt: skip

    def measure(self, skew_mm: float = 0.4, *, machine: str = MACHINE, operator: str = "Ana") -> str:
        """A coupon with both diagonals read twice, and finished."""
        coupon = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
        opened = Opened(
            coupon=coupon, limits=LIMITS, setup=MeasuringSetup(), machine=machine, instruments=("caliper",),
            operator=operator, customer="Frau Öz & Söhne ✂ 𝟙", span_mm=640.0, software="0.1.0", simulated=True,
        )  # fmt: skip
        session = self.archive.begin(opened)
        for feature, sign in ((Feature.NL_FR, 1.0), (Feature.NR_FL, -1.0)) * 2:
            value = coupon.nominal(feature) + sign * skew_mm / 2.0
            self.pass_time(timedelta(seconds=4))
            self.archive.append(session, ReadingAccepted(reading=Reading(feature=feature, value=value)))
        skew_deg = 0.8 * skew_mm
        word = "no-go" if skew_deg > 0.35 else "go"
        self.archive.append(
            session,
            Closed(verdict=word, size_verdict="undecided", skew_deg=skew_deg, skew_u95_deg=0.05, software="0.1.0"),
        )
        return session

    def upset(self, machine: str = MACHINE) -> None:
        """A line in the machine's log."""
        self.archive.append_machine_event(machine, MachineEvent(kind=MachineEventKind.CRASH, note="clamp"))

    def round(self, *, after: timedelta = timedelta(hours=1)) -> Round:
        """One round of the sending service, once undo has passed."""
        self.pass_time(after)
        access = AccessFile(self.folder).load()
        assert access is not None
        with connected(access) as server:
            return carry(self.archive, server, self.time, simulated=True)
