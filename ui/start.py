"""The one place that puts a bench together: real or simulated, archive, links and all, and takes it apart again."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology import MeasuringSetup
from core.records import ARCHIVE, Archive, Opened, load_setup, take_fetched_back
from core.said import NOTHING, Part, paragraph, said
from firmware_bridge import (
    InstrumentSettings,
    PlugWatch,
    Port,
    ReplayLink,
    SettingsStore,
    last_named,
    make_link,
    recognise,
)
from hardware import (
    PROGRAM,
    SOCKET_PATH,
    FilePlace,
    HelperAccess,
    can_be_drive,
    find_sticks,
    folder_place,
    show_on_cable,
    the_one_stick,
    why_clock_is_set,
)
from ui.bench import (
    DEFAULT_CLASS,
    DEFAULT_SCENARIO,
    ArchiveThread,
    Bench,
    CableDrive,
    Cables,
    Designs,
    Downloads,
    Inspector,
    InstrumentJoined,
    Keeping,
    KeptBench,
    LoadMachines,
    OpenSession,
    Practice,
    ResumeSession,
    ShopFiles,
    Speaker,
    alone_on,
    came_back,
    installed_update,
)
from ui.bench.opening import opening
from ui.state import DownloadState, KeepSlice, Settings, SettingsFile

if TYPE_CHECKING:
    # Loaded by those who simulate: the bench in a shop comes up without.
    from firmware_bridge import Scenario, SimulatedWorkshop, Wanted
    from ui.bench import Exercise

DESIGNS_FOLDER = "designs"
SHOP_FOLDER = "stick"
OPENING_S = 5.0
# What works beside the bench and posts into its queue.
Worker = ArchiveThread | Cables | Downloads | Inspector | ReplayLink | Speaker


class BenchOptions(Struct, frozen=True, kw_only=True):
    """What bench to build: `scenario` names the simulated machine, `replay` a capture to be played instead of an
    instrument, neither means real instruments; `opened` begins a coupon at once, `practice` none, for the person begins
    the exercises; `speed` lets simulated time run faster than real time."""

    folder: Path
    scenario: str | None = None
    replay: Path | None = None
    opened: Opened | None = None
    practice: bool = False
    seed: int = 1
    speed: float = 1.0
    clock_s: Callable[[], float] = time.monotonic


def utc_now() -> datetime | None:
    """The time of the system's clock; None while nobody has set it (a Pi without network), for then it is a guess."""
    now = datetime.now(UTC)
    return now if why_clock_is_set(Path("/"), now) else None


@contextmanager
def assembled(options: BenchOptions) -> Iterator[Bench]:
    """A bench at work; everything it started has ended when the block is left, whatever happened in it.

    Raises NotAvailableError where another bench is at work on the folder.
    """
    with ExitStack() as stack:
        stack.enter_context(alone_on(options.folder))
        taken_back = take_fetched_back(options.folder, utc_now())
        if options.replay is not None:
            bench = _replayed(options, options.replay, stack)
        elif options.scenario is None:
            bench = _real(options, stack)
        else:
            bench = _simulated(options, options.scenario, stack)
        if taken_back:
            bench.post(KeepSlice(state=DownloadState.IDLE, text=taken_back))
        yield bench


def _real(options: BenchOptions, stack: ExitStack) -> Bench:
    update = installed_update(PROGRAM, Path(sys.prefix))
    back = update is not None and came_back(PROGRAM)
    archive = ArchiveThread(lambda: Archive.open(options.folder / ARCHIVE, utc_now, came_back=back))
    cables = Cables(
        SettingsStore(options.folder), make_link=make_link, recognise=recognise, watch=PlugWatch(named=last_named)
    )
    downloads = _downloads(options.folder)
    setup, notice = _own_accuracies(options.folder)
    speaker = Speaker()
    news = update.news if update else NOTHING
    usual = _usual(options, archive, speaker, news, notice)
    bench = _on_sticks(usual, options.folder, archive, cables, downloads)(setup=setup, update=update)
    _start(bench, stack, speaker, archive, Inspector(options.folder / ARCHIVE), downloads, cables)
    if options.opened is None:
        bench.send(ResumeSession())
    else:
        bench.send(OpenSession(opened=options.opened))
    bench.send(LoadMachines())
    return bench


def _usual(options: BenchOptions, archive: ArchiveThread, speaker: Speaker, *news: Part) -> partial[Bench]:
    """What every bench has; `news` is to be told at once."""
    settings, damage = _own_settings(options.folder)
    return partial(
        Bench,
        archive=archive,
        clock_s=options.clock_s,
        settings=settings,
        settings_file=SettingsFile(options.folder),
        notice=paragraph(*news, damage),
        loudspeaker=speaker,
    )


def _on_sticks(
    usual: partial[Bench], folder: Path, archive: ArchiveThread, cables: Cables, downloads: Downloads
) -> partial[Bench]:
    """A bench with cables and sticks besides: by the helper; where it was not installed, designs and a shop's file are
    taken from folders beside the archive."""
    records = _records(folder)
    installed, designs = SOCKET_PATH.exists(), folder / DESIGNS_FOLDER
    return partial(
        usual,
        cables=cables,
        downloads=downloads,
        designs=Designs(downloads, _plugged_stick)
        if installed
        else Designs(downloads, lambda: folder_place(designs), designs),
        keeping=Keeping(downloads, _plugged_stick, KeptBench(folder=folder, records=records, utc_now=utc_now)),
        shop=ShopFiles(
            downloads, _plugged_stick if installed else lambda: folder_place(folder / SHOP_FOLDER), folder, records
        ),
        pulses=(archive.pulse, cables.pulse),
    )


def _start(bench: Bench, stack: ExitStack, *workers: Worker) -> None:
    """In this order; they end in the other one."""
    for worker in workers:
        worker.start(bench.post)
        stack.callback(worker.close)


def _own_accuracies(folder: Path) -> tuple[MeasuringSetup | None, Part]:
    """What gauge studies found; a damaged file costs the bench its own accuracies, never the bench."""
    try:
        return load_setup(folder), NOTHING
    except BadInputError as error:
        return None, said("Measuring with the usual accuracies: {reason}", reason=error.what)


def _own_settings(folder: Path) -> tuple[Settings, Part]:
    """What the person chose; a damaged file costs the bench these choices, never the bench."""
    try:
        return SettingsFile(folder).load(), NOTHING
    except BadInputError as error:
        return Settings(), said("Settings as delivered: {reason}", reason=error.what)


def _replayed(options: BenchOptions, file: Path, stack: ExitStack) -> Bench:
    """What once came down a cable, on a bench of today: stamped as simulated, for nothing is measured."""
    from firmware_bridge import COUPON, read_capture

    capture = read_capture(file)
    archive = ArchiveThread(lambda: Archive.open(options.folder / ARCHIVE, utc_now))
    speaker = Speaker()
    bench = _usual(options, archive, speaker)(simulated=True)
    _start(bench, stack, speaker, archive)
    bench.send(OpenSession(opened=options.opened or opening(COUPON, DEFAULT_CLASS)))
    bench.post(InstrumentJoined(settings=capture.settings))
    _await_session(bench)
    _start(bench, stack, ReplayLink(capture, options.clock_s))
    return bench


def _await_session(bench: Bench) -> None:
    """Let the archive open the session first: a press before it would be nobody's."""
    woken = threading.Event()
    bench.subscribe(woken.set)
    while bench.pump().session is None and woken.wait(OPENING_S):
        woken.clear()


def _simulated(options: BenchOptions, name: str, stack: ExitStack) -> Bench:
    from firmware_bridge import SimulatedWorkshop, Wanted, scenario
    from ui.bench import HandOnTheBench

    chosen = scenario(name)
    if options.opened is not None:
        chosen = replace(chosen, coupon=options.opened.coupon)
    folder = Path(stack.enter_context(TemporaryDirectory(prefix="cornerwise-cables-")))
    archive = ArchiveThread(lambda: Archive.open(options.folder / ARCHIVE, utc_now))
    hand = HandOnTheBench(lambda coupon: workshop.cut(coupon))

    def ask() -> Wanted | None:
        wanted = hand.ask()
        return wanted and Wanted(feature=wanted[0], on_record=wanted[1])

    def hand_over() -> None:
        hand.hand_over()
        workshop.hand.stop()

    workshop = SimulatedWorkshop(
        scenario=chosen, ask=ask, folder=folder, seed=options.seed, speed=options.speed, says=hand.says
    )
    cables = _simulated_cables(workshop.settings, folder)
    downloads = _downloads(options.folder)
    speaker = Speaker()
    bench = _on_sticks(_usual(options, archive, speaker), options.folder, archive, cables, downloads)(
        simulated=True, stop_hand=hand_over, practice=_practice(workshop, options.seed)
    )
    hand.watch(bench)
    _start(bench, stack, speaker, archive, downloads)
    workshop.start()
    stack.callback(workshop.close)
    for cable in workshop.settings:
        # The first coupon names the instruments it is measured with: they are known before their links are open.
        bench.post(InstrumentJoined(settings=cable, recognised=cable))
    _start(bench, stack, cables)
    if not options.practice:
        bench.send(OpenSession(opened=_simulated_opening(chosen, options.opened)))
    return bench


def _practice(workshop: SimulatedWorkshop, seed: int) -> Practice:
    """Exercises on the simulated workshop, whose hand and instruments stay what they are."""
    from firmware_bridge import Gantry, Scenario
    from ui.bench import exercises

    def lay(exercise: Exercise) -> Opened:
        gantry = Gantry(skew_deg=exercise.skew_deg, kerf_mm=exercise.kerf_mm, taper_y=exercise.taper_y)
        workshop.set_up(Scenario(gantry=gantry, turns_over_for_corners=exercise.turned_over))
        # No machine's name: nothing is held against an earlier exercise.
        return replace(opening(workshop.coupon, DEFAULT_CLASS), span_mm=gantry.span_mm, simulated=True)

    return Practice(exercises=exercises(seed), lay=lay)


@contextmanager
def simulated_cables() -> Iterator[tuple[InstrumentSettings, ...]]:
    """The simulated workshop's instruments on their cables, nobody's hand on them."""
    from firmware_bridge import SimulatedWorkshop, scenario

    with TemporaryDirectory(prefix="cornerwise-cables-") as folder:
        workshop = SimulatedWorkshop(scenario=scenario(DEFAULT_SCENARIO), ask=lambda: None, folder=Path(folder))
        workshop.start()
        try:
            yield workshop.settings
        finally:
            workshop.close()


def _simulated_opening(chosen: Scenario, wished: Opened | None) -> Opened:
    """The first event of a simulated session: what the person wished, on the invented machine, and stamped."""
    from firmware_bridge import MACHINE

    opened = wished or opening(chosen.coupon, DEFAULT_CLASS)
    span_mm = opened.span_mm or chosen.gantry.span_mm
    return replace(opened, machine=MACHINE, span_mm=span_mm, simulated=True)


def _downloads(folder: Path) -> Downloads:
    """Sticks by the helper, and the cable drive where the board can be one."""
    drive = CableDrive(show=show_on_cable, records=_records(folder)) if can_be_drive() else None
    return Downloads(find_sticks=find_sticks, access=HelperAccess(), drive=drive)


def _records(folder: Path) -> Callable[[], Archive]:
    """The archive by another connection, beside the bench's own."""
    return partial(Archive.open, folder / ARCHIVE, utc_now, may_set_aside=False)


def _plugged_stick() -> FilePlace:
    return FilePlace(stick=the_one_stick(find_sticks()), access=HelperAccess())


def _simulated_cables(settings: tuple[InstrumentSettings, ...], folder: Path) -> Cables:
    """The ordinary cables on the simulated workshop's, remembered only as long as it lasts."""
    store = SettingsStore(folder)
    for cable in settings:
        store.remember(cable, recognised=True)
    ports = tuple(Port(path=one.port, device=one.port, description="simulated adapter") for one in settings)
    watch = PlugWatch(lambda: ports)
    return Cables(store, make_link=make_link, recognise=recognise, watch=watch, radio=lambda _told: ())
