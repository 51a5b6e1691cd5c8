"""The guided correction by touch: every stage offers what it asks for."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.machine.cautions import ALL_CAUTIONS, Caution
from core.machine.guided_correction import GuidedState, answer, guided_state
from core.machine.machine_log import LogEntry
from core.metrology.readings import Quantity
from tests.ui.scenes import SCENES
from tests.ui.touching import shown_widgets, tap_text
from ui.bench.desks.live import TakeReading
from ui.bench.desks.machines import AbandonCorrection, BeginCorrection, GuidedAnswer
from ui.bench.desks.measuring import CloseSession
from ui.speech.language import Language
from ui.state.settings import Settings
from ui.state.snapshot import Snapshot


def texts(screen) -> list[str]:
    """Every text in sight, as it is read."""
    return [widget.read.replace("\u00a0", " ") for widget in shown_widgets(screen) if hasattr(widget, "read")]


def answered(snapshot: Snapshot) -> Snapshot:
    """The same after what the step asks was done."""
    machines = snapshot.machines
    assert machines.guided is not None
    assert machines.current is not None
    entries = [
        LogEntry(sequence=len(machines.log) + n, time_utc=None, payload=payload)
        for n, payload in enumerate(answer(machines.guided), start=1)
    ]
    log = (*machines.log, *entries)
    return replace(snapshot, machines=replace(machines, log=log, guided=guided_state(log, machines.current)))


def test_beginning_closes_the_coupon_first(screen) -> None:
    screen.show(SCENES["to-correct"]())
    screen.go("correct")
    tap_text(screen, "Begin the correction")
    assert screen.bench.sent == [CloseSession(), BeginCorrection()]


@pytest.mark.parametrize(
    ("scene", "words"),
    [
        ("play", "No play found"),
        ("loosen", "Loosened"),
        ("set", "Set"),
        ("recut", "It is cut"),
    ],
)
def test_a_step_is_ticked_off(screen, scene: str, words: str) -> None:
    screen.show(SCENES[scene]())
    screen.go("correct")
    tap_text(screen, words)
    assert screen.bench.sent == [GuidedAnswer()]


def test_a_gap_is_taken_from_the_calipers(screen) -> None:
    screen.show(SCENES["gaps"]())
    screen.go("correct")
    tap_text(screen, "Take the gap")
    assert screen.bench.sent == [TakeReading(quantity=Quantity.LENGTH)]


def test_a_gap_is_typed(screen) -> None:
    screen.show(SCENES["gaps"]())
    screen.go("correct")
    tap_text(screen, "Type the gap")
    for key in "12.4":
        tap_text(screen, key)
    tap_text(screen, "Take this gap")
    assert screen.bench.sent == [GuidedAnswer(gap_mm=12.4)]


def test_giving_up_asks_how_the_machine_is_left(screen) -> None:
    screen.show(SCENES["loosen"]())
    screen.go("correct")
    tap_text(screen, "Give up")
    tap_text(screen, "Keep on")
    assert screen.bench.sent == []
    tap_text(screen, "Give up")
    tap_text(screen, "Loosened, not set")
    assert screen.bench.sent == [AbandonCorrection(reason="loosened, not set")]


def test_the_meter_follows_the_calipers_while_it_is_set(looked_at) -> None:
    looked_at.show(SCENES["set"]())
    looked_at.go("correct")
    shown = looked_at.app.root.screen
    assert float(shown.page.to_go.figure) == pytest.approx(abs(7.07 - 5.21), abs=0.02)
    assert "AWAY" in texts(looked_at)
    looked_at.show(SCENES["inside"]())
    assert "STOP, TIGHTEN" in texts(looked_at)
    assert not {"AWAY", "NEARER"} & set(texts(looked_at)), "once it is there, no way stands anywhere"


def test_a_gap_keyed_in_sets_the_gantry_where_no_caliper_is_heard(screen) -> None:
    screen.show(SCENES["set-without-cable"]())
    screen.go("correct")
    assert {"7", "read 12.40 mm"} <= set(texts(screen)), "the keys stand where the ladder was"
    for key in "7.05":
        tap_text(screen, key)
    assert "now 7.05 mm" in texts(screen)
    assert "STOP, TIGHTEN" in texts(screen)
    tap_text(screen, "Set")
    assert screen.bench.sent == [GuidedAnswer()]


def test_a_caution_is_heeded_by_touching_the_thing_drawn_and_never_twice_in_one_place(screen) -> None:
    """The router's four cautions before hands first go in; what was touched for one confirms no other."""
    snapshot = SCENES["cautions"]()
    screen.show(snapshot)
    screen.go("correct")
    before = None
    while (guided := snapshot.machines.guided) is not None and guided.caution is not None:
        thing = screen.app.root.screen.ids.thing
        place = thing.to_window(*thing.center)
        if before is not None:
            sent = len(screen.bench.sent)
            screen.tap(*before)
            assert len(screen.bench.sent) == sent, "a tap on the place of the caution before confirms this one"
        screen.tap(*place)
        assert screen.bench.sent[-1] == GuidedAnswer()
        before, snapshot = place, answered(snapshot)
        screen.show(snapshot)
    assert len(screen.bench.sent) == 4
    assert "No play found" in texts(screen)


@pytest.mark.parametrize("language", Language)
@pytest.mark.parametrize("caution", ALL_CAUTIONS, ids=lambda caution: caution.name)
def test_a_caution_is_a_picture_of_60_per_cent_with_all_its_words_beside_it(
    looked_at, monkeypatch: pytest.MonkeyPatch, caution: Caution, language: Language
) -> None:
    monkeypatch.setattr(GuidedState, "caution", property(lambda _state: caution))
    looked_at.show(replace(SCENES["cautions"](), settings=Settings(language=language)))
    looked_at.go("correct")
    ids = looked_at.app.root.screen.ids
    assert ids.thing.width >= 0.6 * looked_at.app.root.width
    assert ids.why.top <= ids.explain.top + 1.0
    assert ids.touch_it.y >= ids.explain.y - 1.0, "the last line is cut"
    assert len(str(caution.short).split()) <= 7


def test_a_gap_being_typed_is_not_lost_by_going_elsewhere_and_back_nor_kept_for_another_step(screen) -> None:
    screen.show(SCENES["gaps-without-cable"]())
    screen.go("correct")
    for key in "12.4":
        tap_text(screen, key)
    screen.go("causes")
    tap_text(screen, "< Back")
    assert screen.app.root.screen.gap_text == "12.4"
    tap_text(screen, "Give up")
    tap_text(screen, "Keep on")
    assert screen.app.root.screen.gap_text == "12.4"
    screen.show(SCENES["set-without-cable"]())
    assert "12.4" not in " ".join(texts(screen)).replace("12.40", "")
