"""A thousand pulled cables on pseudo-terminals: always back within a second, no thread, descriptor or memory left over.

    .venv/bin/pytest tests/endurance/test_unplugs.py -s

The suite holds twenty (tests/firmware_bridge/test_serial_link.py); real USB is in test_usb_serial.py.
"""

from __future__ import annotations

import gc
import queue
import resource
import threading
import time
from pathlib import Path

import pytest

from core.metrology.readings import Quantity
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal

UNPLUGS = 1000
WAIT_S = 10.0


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


@pytest.mark.timeout(1200)
def test_a_thousand_unplugs(tmp_path: Path) -> None:
    events: queue.Queue[LinkEvent] = queue.Queue()
    cable = PseudoTerminal(tmp_path / "caliper")
    settings = InstrumentSettings(
        name="caliper", port=str(cable.path), format_name="length-3.3", quantity=Quantity.LENGTH
    )

    def await_state(state: LinkState) -> None:
        while True:
            event = events.get(timeout=WAIT_S)
            if isinstance(event, LinkChanged) and event.state is state:
                return

    before = descriptors(), threading.active_count()
    link = make_link(settings)
    cable.plug()
    link.start(events.put)
    await_state(LinkState.UP)
    during: list[int] = []
    lost_s: list[float] = []
    back_s: list[float] = []
    memory_kb: list[int] = []
    for number in range(UNPLUGS):
        cable.write(f"+{number % 1000:03d}.500\r+01".encode())
        event = events.get(timeout=WAIT_S)
        assert isinstance(event, IndicationArrived)
        assert event.indication.shown == number % 1000 + 0.5
        pulled_s = time.monotonic()
        cable.pull()
        await_state(LinkState.LOST)
        lost_s.append(time.monotonic() - pulled_s)
        cable.plug()
        plugged_s = time.monotonic()
        await_state(LinkState.UP)
        back_s.append(time.monotonic() - plugged_s)
        if number % 100 == 99:
            gc.collect()
            during.append(descriptors())
            memory_kb.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    link.close()
    cable.pull()
    after = descriptors(), threading.active_count()
    print(
        f"\n{UNPLUGS} unplugs: lost within {max(lost_s):.3f} s, back within {max(back_s):.3f} s; descriptors and "
        f"threads {before} before, {after} after; descriptors every 100: {during}; most memory (kB): {memory_kb}"
    )
    slowest = sorted(back_s)[-5:]
    print(f"slowest five to come back: {[round(seconds, 3) for seconds in slowest]} s")
    assert max(lost_s) < 1.0
    assert max(back_s) < 1.0
    assert after == before
    assert len(set(during)) == 1
    assert memory_kb[-1] - memory_kb[1] < 1024
