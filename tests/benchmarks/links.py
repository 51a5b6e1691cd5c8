"""Four instruments at 50 indications a second: last byte written to event posted, loss, memory, processor share.

    .venv/bin/python -m tests.benchmarks.links [--minutes 10] [--paced]

The instruments write from a process of their own, so that the processor share is the links' alone. --paced writes byte
by byte at 9600 baud (one byte in 1.04 ms); a pseudo-terminal has no speed of its own.
"""

from __future__ import annotations

import argparse
import ctypes
import multiprocessing
import os
import queue
import resource
import statistics
import tempfile
import time
from array import array
from collections.abc import Sequence
from multiprocessing.sharedctypes import RawArray
from pathlib import Path

from core.metrology.readings import Quantity
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkEvent, LinkState
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal

INSTRUMENTS = 4
RATE_HZ = 50
BYTE_S = 10 / 9600


def write_frames(
    cables: Sequence[PseudoTerminal], stamps: Sequence[ctypes.Array[ctypes.c_double]], paced: bool
) -> None:
    """The instruments: frame number n of each says n thousandths; its stamp is when the last byte was written."""
    begin_s = time.monotonic()
    for number in range(len(stamps[0])):
        for which, cable in enumerate(cables):
            frame = f"{number % 1_000_000 / 1000:+08.3f}\r".encode()
            due_s = begin_s + (number + which / len(cables)) / RATE_HZ
            if paced:
                for byte in frame[:-1]:
                    time.sleep(max(0.0, due_s - time.monotonic()))
                    cable.write(bytes([byte]))
                    due_s += BYTE_S
                frame = frame[-1:]
            time.sleep(max(0.0, due_s - time.monotonic()))
            stamps[which][number] = time.monotonic()
            cable.write(frame)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=0.25)
    parser.add_argument("--paced", action="store_true")
    args = parser.parse_args()
    frames = round(args.minutes * 60 * RATE_HZ)
    with tempfile.TemporaryDirectory() as folder:
        cables = [PseudoTerminal(Path(folder) / f"caliper-{index}") for index in range(INSTRUMENTS)]
        events: queue.SimpleQueue[tuple[float, LinkEvent]] = queue.SimpleQueue()
        links = []
        for index, cable in enumerate(cables):
            cable.plug()
            settings = InstrumentSettings(
                name=str(index), port=str(cable.path), format_name="length-3.3", quantity=Quantity.LENGTH
            )
            links.append(make_link(settings))
            links[-1].start(lambda event: events.put((time.monotonic(), event)))
        up = 0
        while up < INSTRUMENTS:
            _, event = events.get()
            up += isinstance(event, LinkChanged) and event.state is LinkState.UP
        stamps = [RawArray(ctypes.c_double, frames) for _ in cables]
        writer = multiprocessing.get_context("fork").Process(target=write_frames, args=(cables, stamps, args.paced))
        measure(writer, events, stamps, frames)
        for link in links:
            link.close()
        for cable in cables:
            cable.pull()


def measure(
    writer: multiprocessing.Process,
    events: queue.SimpleQueue[tuple[float, LinkEvent]],
    stamps: Sequence[ctypes.Array[ctypes.c_double]],
    frames: int,
) -> None:
    """Take every event as the bench does, and print what came of them."""
    # Made beforehand: the list of what was measured must not be what grows.
    latencies_s = array("d", bytes(8 * frames * INSTRUMENTS))
    came = 0
    expected = [0] * INSTRUMENTS
    out_of_order = faults = 0
    memory_kb: list[int] = []
    usage = resource.getrusage(resource.RUSAGE_SELF)
    began_s, cpu_s = time.monotonic(), usage.ru_utime + usage.ru_stime
    writer.start()
    while sum(expected) < frames * INSTRUMENTS:
        try:
            posted_s, event = events.get(timeout=5.0)
        except queue.Empty:
            break
        if not isinstance(event, IndicationArrived):
            faults += 1
            continue
        which, number = int(event.instrument), round(event.indication.shown * 1000)
        out_of_order += number != expected[which] % 1_000_000
        latencies_s[came] = posted_s - stamps[which][expected[which]]
        came += 1
        expected[which] += 1
        if came % (RATE_HZ * INSTRUMENTS * 30) == 0:
            memory_kb.append(resident_kb())
    writer.join()
    usage = resource.getrusage(resource.RUSAGE_SELF)
    share = (usage.ru_utime + usage.ru_stime - cpu_s) / (time.monotonic() - began_s)
    percentiles = statistics.quantiles(latencies_s[:came], n=1000)
    print(f"{INSTRUMENTS} instruments, {RATE_HZ} a second, {frames / RATE_HZ:.0f} s")
    print(f"indications {came} of {frames * INSTRUMENTS}, out of order {out_of_order}, other events {faults}")
    print(
        f"last byte to event: median {percentiles[499] * 1e3:.3f} ms, 99 % {percentiles[989] * 1e3:.3f} ms, "
        f"99.9 % {percentiles[998] * 1e3:.3f} ms, longest {max(latencies_s) * 1e3:.3f} ms"
    )
    print(f"load of the machine meanwhile (1, 5, 15 minutes): {os.getloadavg()}")
    print(f"processor share {share:.2%} of one core; resident memory every 30 s (kB): {memory_kb}")


def resident_kb() -> int:
    """Resident memory of this process now."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    return 0


if __name__ == "__main__":
    main()
