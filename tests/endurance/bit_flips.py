"""One flipped bit in the archive's file at a time: what is read afterwards is what was written, or it is said.

    PYTHONPATH=. python tests/endurance/bit_flips.py --times 500 [--killed | --tail]

With `--killed` the bench that wrote it was killed, so that most of it stands in the write-ahead log, and the bits are
those of file and log together; without, of the file of a bench that was switched off. With `--tail` no bit is flipped:
the end of that log is lost, by chance 1 to 400 sectors, zeroed or cut off, as if the kill had come earlier.
Each bit is flipped in a copy of an archive of several sessions, machines and instruments; the copy is opened as the
bench does it, everything in it is read, and the worker looks over it. Counted: flips that hit nothing that anybody
reads, that were said (and how many events were lost with them), and silent ones, of which there must be none.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import sys
import tempfile
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.errors import CornerwiseError
from core.geometry.coupon import Coupon
from core.geometry.features import TEN_FEATURES, Feature
from core.machine.machine_log import MachineEvent, MachineEventKind
from core.machine.profile import MachineProfile
from core.metrology.accuracy import DEFAULT_CALIPER, MeasuringSetup
from core.metrology.readings import Quantity, Reading, Unit
from core.metrology.tolerances import Limits
from core.records import events_json, value_json
from core.records.archive import Archive
from core.records.events import Closed, GaugeChecked, Note, Opened, ReadingAccepted
from core.records.inspection import inspect
from core.records.instrument_book import UsedInstrument

COUPON = Coupon(width_mm=120.0, height_mm=80.0)
SECTOR = 512
MACHINES = ("template router", "knife plotter")


def now() -> datetime:
    return datetime(2026, 3, 1, 14, 5, tzinfo=UTC)


def make_archive(path: Path, sessions: int) -> None:
    """Sessions of the house's own scenario, the last one still open."""
    with closing(Archive.open(path, now)) as archive:
        fill(archive, sessions)


def make_killed_archive(path: Path, sessions: int) -> None:
    """The same, by a bench that is killed when all of it is acknowledged."""
    child = os.fork()
    if child == 0:
        fill(Archive.open(path, now), sessions)
        os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)


def fill(archive: Archive, sessions: int) -> None:
    """What a bench of this house has stored."""
    for machine in MACHINES:
        archive.save_machine(MachineProfile(name=machine, span_mm=640.0))
        archive.append_machine_event(machine, MachineEvent(kind=MachineEventKind.CRASH, note="clamp"))
    archive.note_instrument(
        UsedInstrument(
            name="caliper",
            quantity=Quantity.LENGTH,
            wire_format="x",
            port_kind="serial line",
            accuracy=DEFAULT_CALIPER,
            simulated=True,
        )
    )
    for number in range(sessions):
        opened = Opened(coupon=COUPON, limits=Limits(source="own limits", perpendicularity_mm=0.4),
                        setup=MeasuringSetup(), machine=MACHINES[number % 2], simulated=True)  # fmt: skip
        session = archive.begin(opened)
        archive.append(session, GaugeChecked(instrument="caliper", quantity=Quantity.LENGTH, zero=0.01,
                                             zero_sd=0.004, reference="blocks"))  # fmt: skip
        for feature in TEN_FEATURES:
            archive.append(session, ReadingAccepted(reading=read(feature, number)))
        archive.append(session, Note(text="birch, “sheet” 3"))
        if number < sessions - 1:
            archive.append(session, Closed(verdict="go", size_verdict="go", skew_deg=0.01 * number,
                                           skew_u95_deg=0.06, software="cornerwise 0.1.0"))  # fmt: skip


def read(feature: Feature, number: int) -> Reading:
    unit = Unit.MM if feature.is_length else Unit.DEG
    return Reading(feature=feature, value=COUPON.nominal(feature) + 0.01 * number, unit=unit, instrument="caliper")


def told(archive: Archive) -> dict[str, str]:
    """Everything that the bench reads of an archive, by what it is."""
    said: dict[str, str] = {"list": repr(archive.sessions()), "open": repr(archive.unfinished())}
    for summary in archive.sessions():
        for event in archive.events(summary.id):
            said[f"{summary.id} {event.sequence}"] = json.dumps(events_json.event_to_json(event) | {"chain": None})
    said["machines"] = repr(archive.machines())
    for machine in MACHINES:
        entries = archive.machine_log(machine)
        said[f"log {machine}"] = json.dumps([value_json.to_json(entry) for entry in entries])
        said[f"of {machine}"] = repr([one.id for one in archive.sessions(machine=machine)])
        said[f"last {machine}"] = repr(archive.last_opened(machine))
    book = archive.instrument_book(simulated=True, on_bench=True)
    said["instruments"] = repr((book.used, book.checks))
    return said


def sizes(source: Path) -> list[tuple[str, int]]:
    """Bytes of the file and, where there is one, of its write-ahead log."""
    files = [(suffix, source.with_name(source.name + suffix)) for suffix in ("", "-wal")]
    return [(suffix, file.stat().st_size) for suffix, file in files if file.exists()]


def flip(source: Path, path: Path, bit: int) -> None:
    """Put the archive at `path`, a bit of it changed; those of the write-ahead log follow those of the file."""
    for left in path.parent.glob(f"{path.name}*"):
        left.unlink()
    parts = [(path.with_name(path.name + suffix), size) for suffix, size in sizes(source)]
    for (part, _), (suffix, _) in zip(parts, sizes(source), strict=True):
        shutil.copyfile(source.with_name(source.name + suffix), part)
    changed = parts[0][0]
    for part, size in parts:
        changed = part
        if bit < size * 8:
            break
        bit -= size * 8
    with changed.open("r+b") as file:
        file.seek(bit // 8)
        byte = file.read(1)[0]
        file.seek(bit // 8)
        file.write(bytes([byte ^ (1 << bit % 8)]))


def lose_end(source: Path, path: Path, chance: random.Random) -> str:
    """Put the archive at `path`, the end of its log lost; what was done."""
    for left in path.parent.glob(f"{path.name}*"):
        left.unlink()
    for part in source.parent.glob(f"{source.name}*"):
        shutil.copyfile(part, path.with_name(part.name.replace(source.name, path.name)))
    log, sectors, zeroed = path.with_name(f"{path.name}-wal"), chance.randint(1, 400), chance.random() < 0.5
    whole = log.stat().st_size
    with log.open("r+b") as file:
        file.truncate(whole - sectors * SECTOR)
        if zeroed:
            file.truncate(whole)
    return f"{sectors} sectors {'zeroed' if zeroed else 'cut off'}"


def look(path: Path, original: dict[str, str]) -> tuple[str, int, str]:
    """How the flip ended ('nothing', 'said', 'SILENT'), how many events are not as written, and what was said."""
    words: list[str] = []
    found: dict[str, str] = {}
    try:
        with closing(Archive.open(path, now)) as archive:
            words.append(str(archive.notice))
            found = told(archive)
        words.append(str(inspect(path, lambda: True).text))
    except CornerwiseError as error:
        words.append(str(error))
    wrong = [name for name, text in original.items() if found.get(name) != text]
    wrong += [name for name in found if name not in original]
    lost = sum(name[0].isdigit() for name in wrong)
    said = " ".join(filter(None, words))
    if not wrong:
        return ("said, nothing lost" if said else "nothing hit"), 0, said
    return ("said" if said else "SILENT: " + ", ".join(wrong[:3])), lost, said


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sessions", type=int, default=12)
    parser.add_argument("--killed", action="store_true", help="file and log of a bench that was killed")
    parser.add_argument("--tail", action="store_true", help="the end of the log of a bench that was killed is lost")
    parser.add_argument("--show", action="store_true", help="each flip by itself")
    args = parser.parse_args()
    chance = random.Random(args.seed)
    counts: Counter[str] = Counter()
    lost_by_flip: Counter[int] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        source, path = Path(folder) / "source.sqlite", Path(folder) / "archive.sqlite"
        (make_killed_archive if args.killed or args.tail else make_archive)(source, args.sessions)
        copy = shutil.copytree(folder, Path(folder) / "copy") / source.name
        with closing(Archive.open(copy, now)) as archive:
            original = told(archive)
        bits = sum(size for _, size in sizes(source)) * 8
        for _ in range(args.times):
            if args.tail:
                what = lose_end(source, path, chance)
            else:
                what = f"bit {(bit := chance.randrange(bits))}"
                flip(source, path, bit)
            ending, lost, said = look(path, original)
            counts[ending.split(":")[0]] += 1
            lost_by_flip[lost] += ending == "said"
            if args.show or ending.startswith("SILENT"):
                print(f"{what}: {ending}; {lost} events; {said}")
    silent = counts["SILENT"]
    worst = max(lost_by_flip, default=0)
    what = "ends lost" if args.tail else "flips"
    print(
        f"{args.times} {what}: {counts['nothing hit']} hit nothing, {counts['said, nothing lost']} said, nothing lost, "
        f"{counts['said']} said (at most {worst} of {len(original)} things not read), silent: {silent}"
    )
    return 1 if silent else 0


if __name__ == "__main__":
    sys.exit(main())
