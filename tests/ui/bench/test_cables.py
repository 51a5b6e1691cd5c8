"""Instruments coming and going: real links, real listening on pseudo-terminals; the list of ports alone is invented."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Empty, Queue

import pytest
from msgspec.structs import replace

from core.metrology.readings import Quantity
from core.said import Name
from firmware_bridge.byte_link import IndicationArrived, LinkChanged, LinkState
from firmware_bridge.discovery import PlugWatch, Port, Recognition, recognise
from firmware_bridge.instrument_settings import InstrumentSettings
from firmware_bridge.links import make_link
from firmware_bridge.settings_store import SettingsStore
from firmware_bridge.simulation.instruments import InstrumentErrors, VirtualGauge
from firmware_bridge.simulation.pseudo_terminal import PseudoTerminal
from tests.patience import WAIT_S
from tests.ui.bench_bits import BenchUnderTest, running_bench
from ui.bench.desks.cables import ForgetInstrument, ListenPort, UseInstrument
from ui.bench.supervision import WorkerFaulted
from ui.bench.workers.cables import (
    BUILT_IN,
    NOT_OPENED,
    Cables,
    CablesRefused,
    InstrumentJoined,
    InstrumentLeft,
    PortGone,
    PortHeard,
)
from ui.pages.cable_settings import changed
from ui.state.snapshot import InstrumentStatus, Snapshot, UsedCable


class Talker:
    """An angle gauge on a pseudo-terminal that streams for as long as it is used."""

    def __init__(self, path: Path) -> None:
        self.cable = PseudoTerminal(path)
        self.cable.plug()
        gauge = VirtualGauge(InstrumentErrors(resolution=0.1), self.cable.write, seed=1)
        gauge.held = 90.4
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._talk, args=(gauge,))
        self._thread.start()

    def _talk(self, gauge: VirtualGauge) -> None:
        now_s = 0.0
        while not self._stop.wait(0.02):
            gauge.tick(now_s)
            now_s += 0.1

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        self.cable.pull()


@pytest.fixture
def talker(tmp_path: Path) -> Iterator[Talker]:
    talking = Talker(tmp_path / "gauge")
    yield talking
    talking.close()


@contextmanager
def cables_on(folder: Path, look: Callable[[], list[Port]], post: Callable[[object], None]) -> Iterator[Cables]:
    cables = Cables(
        SettingsStore(folder),
        make_link=make_link,
        recognise=recognise,
        watch=PlugWatch(look),
        look_every_s=0.02,
    )
    cables.start(post)
    try:
        yield cables
    finally:
        cables.close()


def next_of(events: Queue[object], kind: type) -> object:
    """The next event of this kind, whatever comes between."""
    while True:
        try:
            event = events.get(timeout=WAIT_S)
        except Empty:
            pytest.fail(f"no {kind.__name__} came")
        if isinstance(event, kind):
            return event


def test_a_stranger_is_heard_offered_used_and_known_again(tmp_path: Path, talker: Talker) -> None:
    events: Queue[object] = Queue()
    ports = [Port(path=str(talker.cable.path), device="pty", description="USB serial")]
    with cables_on(tmp_path, lambda: ports, events.put) as cables:
        unopened = next_of(events, PortHeard)
        assert isinstance(unopened, PortHeard)
        assert not unopened.opened
        cables.listen(unopened.port.path)
        listening = next_of(events, PortHeard)
        heard = next_of(events, PortHeard)
        assert isinstance(listening, PortHeard)
        assert listening.recognition is None
        assert isinstance(heard, PortHeard)
        assert heard.recognition is not None
        assert heard.recognition.candidates[0].format_name == "angle-x"
        settings = InstrumentSettings(
            name="angle gauge", port=heard.port.path, format_name="angle-x", quantity=Quantity.ANGLE
        )
        cables.use(settings)
        assert next_of(events, InstrumentJoined) == InstrumentJoined(settings=settings, recognised=settings)
        next_of(events, IndicationArrived)
    with cables_on(tmp_path, lambda: ports, events.put) as cables:
        assert next_of(events, InstrumentJoined) == InstrumentJoined(settings=settings, recognised=settings)
        next_of(events, IndicationArrived)
        cables.forget(settings.port)
        assert next_of(events, InstrumentLeft) == InstrumentLeft(port=settings.port)


def test_the_bench_shows_the_offer_and_takes_the_choice(tmp_path: Path, talker: Talker) -> None:
    ports = [Port(path=str(talker.cable.path), device="pty", description="USB serial")]
    woken = threading.Semaphore(0)
    with running_bench(tmp_path) as under_test:
        under_test.bench.subscribe(woken.release)
        with cables_on(tmp_path, lambda: ports, under_test.bench.post) as cables:
            under_test.use_cables(cables)
            under_test.bench.send(ListenPort(path=unopened_port(under_test, woken)))
            offered = shown_when(under_test, woken, lambda snapshot: any(port.offers for port in snapshot.ports))
            under_test.bench.send(UseInstrument(settings=offered.ports[0].offers[0]))
            used = shown_when(under_test, woken, lambda snapshot: snapshot.live_corner.value is not None)
    assert used.ports == ()
    assert [one.name for one in used.instruments] == ["angle gauge"]
    assert used.live_corner.value == pytest.approx(90.4)


def test_what_is_set_by_hand_is_used_at_once_remembered_and_can_be_taken_back(tmp_path: Path, talker: Talker) -> None:
    """A gauge under the wrong format says nothing that is understood; taken back, it is heard again."""
    ports = [Port(path=str(talker.cable.path), device="pty", description="USB serial")]
    woken = threading.Semaphore(0)
    with running_bench(tmp_path) as under_test:
        under_test.bench.subscribe(woken.release)

        def status() -> InstrumentStatus:
            return under_test.bench.snapshot.instruments[0]

        with cables_on(tmp_path, lambda: ports, under_test.bench.post) as cables:
            under_test.use_cables(cables)
            under_test.bench.send(ListenPort(path=unopened_port(under_test, woken)))
            offered = shown_when(under_test, woken, lambda snapshot: any(port.offers for port in snapshot.ports))
            right = offered.ports[0].offers[0]
            under_test.bench.send(UseInstrument(settings=right))
            shown_when(under_test, woken, lambda snapshot: bool(snapshot.instruments) and status().indications > 3)
            wrong = changed(right, "format", "angle-dms", ())
            under_test.bench.send(UseInstrument(settings=wrong, by_hand=True))
            shown_when(under_test, woken, lambda snapshot: status().faults > 3)
            assert (status().indications, str(status().last)) == (0, "")
        with cables_on(tmp_path, lambda: ports, under_test.bench.post) as cables:
            under_test.use_cables(cables)
            again = shown_when(under_test, woken, lambda snapshot: status().faults > 20)
            assert again.cables == (UsedCable(settings=wrong, recognised=right),)
            under_test.bench.send(UseInstrument(settings=right))
            back = shown_when(under_test, woken, lambda snapshot: status().indications > 3)
            assert (status().faults, len(back.instruments)) == (0, 1)
            under_test.bench.send(ForgetInstrument(port=right.port))
            under_test.bench.send(ListenPort(path=unopened_port(under_test, woken)))
            anew = shown_when(under_test, woken, lambda snapshot: any(port.offers for port in snapshot.ports))
    assert (anew.instruments, anew.cables) == ((), ())
    assert anew.ports[0].offers[0].format_name == right.format_name


def test_a_port_of_the_computer_itself_is_not_listened_to(tmp_path: Path) -> None:
    def never(path: str, *, ask: bool = False) -> Recognition:
        raise AssertionError(f"listened to {path}")

    events: Queue[object] = Queue()
    console = Port(path="/dev/ttyS0", device="/dev/ttyS0", description="n/a", built_in=True)
    cables = Cables(
        SettingsStore(tmp_path),
        make_link=make_link,
        recognise=never,
        watch=PlugWatch(lambda: [console]),
        look_every_s=1,
    )
    cables.start(events.put)
    heard = next_of(events, PortHeard)
    cables.close()
    assert isinstance(heard, PortHeard)
    assert heard.recognition is not None
    assert str(heard.recognition.text) == str(BUILT_IN)


def test_an_unplugged_stranger_goes_away(tmp_path: Path) -> None:
    events: Queue[object] = Queue()
    there = [[Port(path="/nowhere", device="/nowhere", description="USB serial")], []]
    with cables_on(tmp_path, lambda: there.pop(0) if there else [], events.put):
        assert next_of(events, PortGone) == PortGone(path="/nowhere")


@pytest.mark.parametrize("listened", [False, True])
def test_the_foot_does_not_go_on_naming_a_cable_that_is_gone(tmp_path: Path, listened: bool) -> None:
    """Also one that was pulled after it had been listened to; each plug is news again."""
    port = Port(path=str(tmp_path / "gone"), device="usb", description="USB serial")
    ports: list[Port] = []
    woken = threading.Semaphore(0)
    with running_bench(tmp_path) as under_test:
        under_test.bench.subscribe(woken.release)
        with cables_on(tmp_path, ports.copy, under_test.bench.post) as cables:
            under_test.use_cables(cables)
            for _plug in range(2):
                ports.append(port)
                shown_when(under_test, woken, lambda now: "USB serial: new, and not opened" in foot(now))
                if listened:
                    under_test.bench.send(ListenPort(path=port.path))
                    shown_when(under_test, woken, lambda now: "USB serial:" in foot(now) and now.ports[0].opened)
                ports.clear()
                shown_when(under_test, woken, lambda now: foot(now) == "USB serial was pulled out.")


def test_other_news_stay_when_a_cable_goes(tmp_path: Path) -> None:
    port = Port(path=str(tmp_path / "gone"), device="usb", description="USB serial")
    silent = Recognition(port=port.path, candidates=(), text=NOT_OPENED)
    with running_bench(tmp_path) as under_test:
        under_test.bench.post(PortHeard(port=port, recognition=silent, opened=False))
        under_test.bench.post(CablesRefused(text="instruments.json is damaged"))
        under_test.bench.post(PortGone(path=port.path))
        assert foot(under_test.pump()) == "instruments.json is damaged"


def test_an_alarm_is_not_lost_behind_a_cable_that_comes_up(tmp_path: Path) -> None:
    """At every start with a damaged file its alarm stood for as long as the caliper's cable took to come up."""
    up = LinkChanged(instrument="caliper", state=LinkState.UP, text=Name("open"))
    port = Port(path=str(tmp_path / "new"), device="usb", description="USB serial")
    with running_bench(tmp_path) as under_test:
        under_test.bench.post(CablesRefused(text="instruments.json is damaged"))
        under_test.bench.post(up)
        under_test.bench.post(
            PortHeard(port=port, recognition=Recognition(port=port.path, candidates=(), text=NOT_OPENED), opened=False)
        )
        standing = under_test.pump()
        assert foot(standing) == "instruments.json is damaged"
        assert any("caliper" in str(message.text) for message in standing.messages), "it is kept all the same"
        under_test.open()
        assert foot(under_test.pump()) == "New coupon."


def test_a_cable_that_comes_up_ends_the_alarm_of_its_going(tmp_path: Path) -> None:
    up = LinkChanged(instrument="caliper", state=LinkState.UP, text=Name("open"))
    with running_bench(tmp_path) as under_test:
        under_test.bench.post(up)
        under_test.bench.post(replace(up, state=LinkState.LOST, text=Name("cable pulled")))
        assert foot(under_test.pump()) == "caliper: cable pulled"
        under_test.bench.post(replace(up, instrument="angle gauge"))
        assert foot(under_test.pump()) == "caliper: cable pulled"
        under_test.bench.post(up)
        assert foot(under_test.pump()) == "caliper: open"


def test_a_forgotten_instrument_is_not_said_to_be_lost(tmp_path: Path) -> None:
    settings = InstrumentSettings(name="angle gauge", port="/nowhere", format_name="angle-x", quantity=Quantity.ANGLE)
    with running_bench(tmp_path) as under_test:
        under_test.bench.post(InstrumentJoined(settings=settings))
        under_test.bench.post(LinkChanged(instrument="angle gauge", state=LinkState.LOST, text=Name("unplugged")))
        assert "unplugged" in foot(under_test.pump())
        under_test.bench.post(InstrumentLeft(port=settings.port))
        assert foot(under_test.pump()) == "angle gauge is forgotten."


def test_a_damaged_settings_file_is_said_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "instruments.json").write_text("{", encoding="utf-8")
    events: Queue[object] = Queue()
    with cables_on(tmp_path, list, events.put):
        refused = next_of(events, CablesRefused)
    assert isinstance(refused, CablesRefused)
    assert "instruments.json" in str(refused.text)
    assert (tmp_path / "instruments.json").read_text(encoding="utf-8") == "{"


def test_nothing_that_is_plugged_in_is_opened_unasked(tmp_path: Path) -> None:
    """The kernel raises DTR and RTS at every opening; six kinds of port, none of which anybody chose."""

    def never(path: str, *, ask: bool = False) -> Recognition:
        raise AssertionError(f"opened {path}")

    events: Queue[object] = Queue()
    ports = [Port(path=f"/dev/serial/by-id/{n}", device="x", description="USB serial") for n in range(5)]
    cables = Cables(SettingsStore(tmp_path), make_link=make_link, recognise=never, watch=PlugWatch(lambda: ports))
    cables.start(events.put)
    for _ in ports:
        heard = next_of(events, PortHeard)
        assert isinstance(heard, PortHeard)
        assert not heard.opened
        assert heard.recognition is not None
        assert str(heard.recognition.text) == str(NOT_OPENED)
    cables.close()
    assert not [event for event in events.queue if isinstance(event, WorkerFaulted)]


def test_a_look_that_fails_is_said_once_and_the_thread_goes_on(tmp_path: Path) -> None:
    """A folder that is taken away while it is listed, or whatever else: the thread lives and looks again."""
    events: Queue[object] = Queue()
    looks = iter([FileNotFoundError("/dev/serial/by-id"), RuntimeError("nobody foresaw this"), None])

    def look() -> list[Port]:
        if (wrong := next(looks, None)) is not None:
            raise wrong
        return [Port(path="/there", device="/there", description="USB serial")]

    with cables_on(tmp_path, look, events.put) as cables:
        faulted = next_of(events, WorkerFaulted)
        assert isinstance(faulted, WorkerFaulted)
        assert "cables (FileNotFoundError)" in str(faulted.text)
        heard = next_of(events, PortHeard)
        assert isinstance(heard, PortHeard)
        assert cables.pulse.is_alive()


def unopened_port(under_test: BenchUnderTest, woken: threading.Semaphore) -> str:
    """The port that nobody has touched yet, once it is shown."""
    snapshot = shown_when(under_test, woken, lambda snapshot: any(not port.opened for port in snapshot.ports))
    return snapshot.ports[0].path


def foot(snapshot: Snapshot) -> str:
    """What stands at the foot of every screen."""
    return str(snapshot.message.text) if snapshot.message else ""


def shown_when(under_test: BenchUnderTest, woken: threading.Semaphore, wanted: Callable[[Snapshot], bool]) -> Snapshot:
    """Pump whenever the bench is woken until the snapshot is as wanted."""
    while not wanted(snapshot := under_test.pump()):
        assert woken.acquire(timeout=WAIT_S), "the bench was not woken"
    return snapshot
