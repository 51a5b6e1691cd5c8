"""The settings of one cable by touch: as they are, changed, taken back, with what is heard beside them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace

from core.metrology.readings import Quantity
from core.said import said
from firmware_bridge.instrument_settings import InstrumentSettings
from tests.ui.offscreen import Offscreen
from tests.ui.scenes import CALIPER_CABLE, SCENES
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench.desks.cables import ForgetInstrument, UseInstrument
from ui.bench.desks.measuring import HoldReadings
from ui.pages.cable import CAUTION, cable_page
from ui.pages.cable_settings import changed
from ui.start import BenchOptions, assembled
from ui.state.messages import Command
from ui.state.snapshot import StrangePort, UsedCable

PATH = CALIPER_CABLE.port


def show(screen, scene: str, path: str = PATH) -> None:
    screen.show(SCENES[scene]())
    screen.app.looked_at = path
    screen.go("cable")


def sent(screen) -> list[Command]:
    return [command for command in screen.bench.sent if not isinstance(command, HoldReadings)]


def test_it_is_opened_from_the_instrument_s_card(screen) -> None:
    screen.show(SCENES["cable"]())
    screen.go("instruments")
    tap_text(screen, "Settings")
    assert screen.app.root.screen.name == "cable"
    assert str(screen.app.root.screen.title) == "calipers"


def test_each_setting_says_whether_it_was_recognised_or_set_by_hand(screen) -> None:
    show(screen, "cable-wrong")
    for words in ("Speed: 2400\nby hand", "RTS: low\nby hand", "DTR: high\nas recognised"):
        find_text(screen, words)


def test_what_is_heard_stands_beside_and_follows(screen) -> None:
    show(screen, "cable")
    assert str(screen.app.root.screen.heard) == "last: 120.34 mm, 9.6 a second\n812 indications, 0 not understood"
    screen.show(SCENES["cable-wrong"]())
    assert "37 not understood, the last: a line that is not" in str(screen.app.root.screen.heard)


def test_a_choice_is_used_at_once(screen) -> None:
    show(screen, "cable")
    tap_text(screen, "Speed: 9600\nas recognised")
    tap_text(screen, "4800")
    assert sent(screen) == [UseInstrument(settings=changed(CALIPER_CABLE, "speed", "4800", ()), by_hand=True)]
    tap_text(screen, "9600")
    assert len(sent(screen)) == 1, "what holds already is not used anew"


def test_all_is_taken_back_by_one_touch(screen) -> None:
    show(screen, "cable-wrong")
    tap_text(screen, "As recognised")
    assert sent(screen) == [UseInstrument(settings=CALIPER_CABLE)]
    show(screen, "cable")
    assert "As recognised" not in [getattr(widget, "text", "") for widget in shown_widgets(screen)]


def test_a_cable_is_forgotten(screen) -> None:
    show(screen, "cable")
    tap_text(screen, "Forget it")
    assert sent(screen) == [ForgetInstrument(port=PATH)]


def test_what_contradicts_itself_is_said_and_not_used(screen) -> None:
    gauge = InstrumentSettings(name="angle gauge", port=PATH, format_name="angle-plain", quantity=Quantity.ANGLE)
    tilt = changed(gauge, "kind", "tilt", ())
    screen.show(replace(SCENES["cable"](), cables=(UsedCable(settings=tilt, recognised=gauge),)))
    screen.app.looked_at = PATH
    screen.go("cable")
    screen.app.root.screen.turn_to("range")
    screen.frames()
    tap_text(screen, "0 to 180")
    assert "hides which way it tilts" in str(screen.app.root.screen.refused)
    assert sent(screen) == []


def test_while_it_is_set_up_nothing_passes_for_a_reading(screen) -> None:
    show(screen, "cable")
    assert screen.bench.sent == [HoldReadings(held=True)]
    tap_text(screen, "< Back")
    assert screen.bench.sent[-1] == HoldReadings(held=False)


def test_a_stranger_is_set_up_by_hand_and_used_only_then(screen) -> None:
    stranger = StrangePort(
        path="/dev/x", description="adapter", text=said("Nothing heard yet."), listening=False, offers=()
    )
    screen.show(replace(SCENES["first"](), ports=(stranger,), instruments=()))
    screen.go("instruments")
    tap_text(screen, "Set up by hand")
    assert str(screen.app.root.screen.heard) == f"Nothing heard yet.\n{CAUTION}"
    tap_text(screen, "length, cable at 9600 baud")
    assert sent(screen) == []
    tap_text(screen, "Use it so")
    (command,) = sent(screen)
    assert isinstance(command, UseInstrument)
    assert command.by_hand
    assert (command.settings.port, command.settings.format_name) == ("/dev/x", "length-8-unit")


def test_without_any_cable_it_says_so(screen) -> None:
    screen.show(SCENES["no-instrument"]())
    screen.go("cable")
    assert str(screen.app.root.screen.title) == "No cable"
    assert "plug its cable in" in str(screen.app.root.screen.heard)


def test_an_offer_is_where_setting_up_by_hand_begins() -> None:
    scene = SCENES["stranger"]()
    offer = scene.ports[0].offers[0]
    assert str(cable_page(scene, offer.port, None).title) == offer.name


def test_a_cable_that_was_set_up_in_the_terminal_has_nothing_to_go_back_to() -> None:
    scene = replace(SCENES["cable"](), cables=(UsedCable(settings=CALIPER_CABLE, recognised=None),))
    page = cable_page(scene, PATH, None)
    assert {str(row.origin) for row in page.rows} == {"as remembered"}
    assert page.actions == ()
    assert page.in_use


def test_on_the_simulated_bench_a_wrong_choice_is_heard_at_once_and_taken_back(tmp_path: Path) -> None:
    """Real links on the simulated cables, nothing stands in."""
    with assembled(BenchOptions(folder=tmp_path, scenario="racked")) as bench, Offscreen(bench) as screen:

        def gauge():
            return next(one for one in screen.app.snapshot.instruments if one.port.endswith("angle-gauge"))

        def until(holds: Callable[[], bool]) -> None:
            """The simulated gauge speaks ten times a second of real time."""
            for _second in range(60):
                if holds():
                    return
                screen.frames_for(1.0)
            raise AssertionError(screen.app.snapshot.instruments)

        until(lambda: len(screen.app.snapshot.cables) == 2 and gauge().indications > 2)
        screen.app.looked_at = gauge().port
        screen.go("cable")
        tap_text(screen, "length, cable at 9600 baud")
        until(lambda: gauge().faults > 2)
        assert (gauge().name, gauge().indications) == ("caliper 2", 0)
        assert "not understood, the last: " in str(screen.app.root.screen.heard)
        find_text(screen, "It speaks: length, cable at 9600 baud\nby hand")
        tap_text(screen, "As recognised")
        until(lambda: gauge().indications > 2)
        assert (gauge().name, gauge().faults) == ("angle gauge", 0)
        assert screen.app.snapshot.readings_held
