"""A day at the bench in fast motion: every minute a reading, a flood, a loose plug, and errors that nobody foresaw.

    PYTHONPATH=. python tests/endurance/troubles.py --minutes 1440

The real bench without its screen: archive and cables in their threads, instruments on pseudo-terminals. In each minute
one reading is typed and must be acknowledged; one cable is pulled and plugged in again; another says 1 MB of valid
lines or of garbage at once; and a task of the archive, a look of the cables and a desk each raise an error of a kind of
their own. Afterwards every acknowledged event must be in the archive, every thread alive, and the memory level.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
import threading
import time
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.metrology.readings import Quantity
from core.records.archive import Archive
from core.records.events import Note
from core.records.inspection import inspect
from firmware_bridge.discovery import PlugWatch, Port, recognise
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.workers.archive_tasks import append
from ui.bench.workers.cables import Cables

FLOODS = (b"+  143.62 MM\r\n" * 800, os.urandom(11_200))
FLOOD_S = 0.02
LEVEL = 1.10


class UnforeseenError(Exception):
    """Nothing in the program knows it."""


def raising(*_args: object) -> None:
    raise UnforeseenError


class Looks:
    """The ports that are plugged in; every twentieth look fails."""

    def __init__(self, ports: list[Port]) -> None:
        self._ports, self._count = ports, 0

    def __call__(self) -> list[Port]:
        self._count += 1
        if self._count % 20 == 0:
            raise FileNotFoundError("/dev/serial/by-id")
        return self._ports


def flood(cable: PseudoTerminal, content: bytes) -> None:
    """For a moment, as fast as the cable takes it."""
    until_s = time.monotonic() + FLOOD_S
    with suppress(OSError):
        while time.monotonic() < until_s:
            cable.write(content)


def minute(number: int, under_test: BenchUnderTest, session: str, loose: PseudoTerminal, loud: PseudoTerminal) -> None:
    """Everything that goes wrong in one."""
    loose.pull()
    flooding = threading.Thread(target=flood, args=(loud, FLOODS[number % 2]))
    flooding.start()
    under_test.archive.submit(raising)
    under_test.stored()
    under_test.archive.submit(append(session, Note(text=f"minute {number}")))
    under_test.stored()
    flooding.join()
    loose.plug()
    for _ in range(20):
        under_test.pump()


def resident_kb() -> int:
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() // 1024


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=int, default=1440)
    args = parser.parse_args()
    memory_kb: list[int] = []
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder)
        loose, loud = PseudoTerminal(top / "loose"), PseudoTerminal(top / "loud")
        store = SettingsStore(top)
        for name, cable in (("loose caliper", loose), ("loud caliper", loud)):
            cable.plug()
            store.remember(InstrumentSettings(name=name, port=str(cable.path), format_name="length-8-unit",
                                              quantity=Quantity.LENGTH))  # fmt: skip
        ports = [Port(path=str(one.path), device="pty", description="adapter") for one in (loose, loud)]
        cables = Cables(
            store, make_link=make_link, recognise=recognise, watch=PlugWatch(Looks(ports)), look_every_s=0.02
        )
        with running_bench(top, errors_meant=True) as under_test:
            session = under_test.open().session
            assert session is not None
            cables.start(under_test.bench.post)
            for number in range(args.minutes):
                minute(number, under_test, session, loose, loud)
                if number % max(1, args.minutes // 20) == 0:
                    memory_kb.append(resident_kb())
            alive = (
                under_test.bench.workers_answer() and cables.pulse.is_alive() and under_test.archive.pulse.is_alive()
            )
            cables.close()
        with closing(Archive.open(top / "archive.sqlite", lambda: datetime.now(UTC))) as archive:
            kept = [event.payload.text for event in archive.events(session) if isinstance(event.payload, Note)]
        whole = inspect(top / "archive.sqlite", lambda: True).whole
    lost = args.minutes - len(kept)
    settled = memory_kb[len(memory_kb) // 4 :]
    growth = settled[-1] / settled[0]
    print(
        f"{args.minutes} minutes: {lost} acknowledged events lost, threads alive: {alive}, archive whole: {whole}, "
        f"memory {settled[0]} kB -> {settled[-1]} kB ({growth:.3f})"
    )
    return int(bool(lost) or not alive or not whole or growth > LEVEL)


if __name__ == "__main__":
    sys.exit(main())
