"""The witness by touch: every question is answered by one touch on its picture."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.geometry.features import Feature
from core.geometry.seats import equal_seats
from core.machine.reversal_check import Overhang, StepGauge
from core.metrology.witness import Light, MarkSeen, move_evidence
from tests.endurance.under_the_finger import overlap
from tests.ui.scenes import SCENES, needing_witness
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench.desks.measuring import ConfirmMark
from ui.bench.desks.witness import FindByReversal, SeeLight, TryAStep


@pytest.fixture
def witness(screen):
    screen.show(SCENES["no-witness"]())
    screen.go("verdict")
    tap_text(screen, "Answer one question")
    return screen


@pytest.mark.parametrize(
    ("words", "corner"),
    [("Near left", MarkSeen.NL), ("Far right", MarkSeen.FR), ("Mirrored", MarkSeen.MIRRORED)],
)
def test_the_corner_of_the_mark(screen, words: str, corner: MarkSeen) -> None:
    screen.show(SCENES["no-mark"]())
    screen.go("verdict")
    tap_text(screen, "Answer one question")
    tap_text(screen, words)
    assert screen.bench.sent == [ConfirmMark(corner=corner)]


def test_a_try_square_is_asked_at_both_near_corners_in_turn(witness) -> None:
    tap_text(witness, "Try square against the light")
    tap_text(witness, "At the blade's end")
    tap_text(witness, "At the corner")
    assert witness.bench.sent == [
        SeeLight(corner=Feature.NL, light=Light.BLADE_END),
        SeeLight(corner=Feature.NR, light=Light.CORNER),
    ]


def walk_the_steps(witness) -> list[str]:
    """One step a page, until what was found is asked for."""
    read = []
    while not witness.app.root.screen.ask:
        read.append(str(witness.app.root.screen.text))
        tap_text(witness, "Next step")
    return read


def test_two_coupons_are_cut_behind_their_cautions_and_steps_go_both_ways(witness) -> None:
    tap_text(witness, "Two coupons on one another")
    tap_text(witness, "Another way")
    tap_text(witness, "Two coupons on one another")
    read = walk_the_steps(witness)
    assert read[0].startswith("Hands and tools out, covers on.")
    first_cut = next(number for number, text in enumerate(read) if text.startswith("Cut two coupons"))
    assert "Maker's instructions" in read[first_cut - 1]
    tap_text(witness, "Step back")
    assert str(witness.app.root.screen.text) == read[-1]


def test_the_gap_of_two_lines_is_typed_before_it_counts(witness) -> None:
    tap_text(witness, "Draw along it and turn it over")
    walk_the_steps(witness)
    tap_text(witness, "The first line lies outside")
    assert "Type the gap first" in str(witness.app.root.screen.text)
    assert witness.bench.sent == []
    tap_text(witness, "gap found")
    for key in "1.4":
        (button,) = (w for w in shown_widgets(witness) if type(w).__name__ == "KeyButton" and w.text == key)
        witness.tap(*button.to_window(*button.center))
    tap_text(witness, "The first line lies outside")
    assert witness.bench.sent == [FindByReversal(step_mm=1.4, overhang=Overhang.LOWER, gauge=StepGauge.LINES)]


def test_a_trial_step_is_asked_for_twice_at_different_places(witness) -> None:
    tap_text(witness, "A trial step")
    tap_text(witness, "Another way")
    tap_text(witness, "A trial step")
    tap_text(witness, "I have looked: try it")
    assert witness.bench.sent == [TryAStep()]


def box_of(screen, words: str) -> tuple[float, float, float, float]:
    widget = find_text(screen, words)
    return (*widget.to_window(widget.x, widget.y), *widget.to_window(widget.right, widget.top))


@pytest.mark.parametrize("ways", [5, 4, 3])
@pytest.mark.parametrize("size", [(480, 320), (800, 480), (720, 1280)], ids=str)
def test_the_trial_step_does_not_come_up_under_the_finger_that_asked_for_it(screen, size, ways, monkeypatch) -> None:
    """Upright it came up within the picture that was touched, whose words alone were looked at here."""
    if ways == 3:  # the corners are read already
        monkeypatch.setattr("ui.pages.witness.move_evidence", lambda *given: replace(move_evidence(*given), read=()))
    with screen.resized(size):
        screen.show(needing_witness(equal_seats(120.0, 80.0) if ways == 5 else None))
        screen.go("witness")
        assert len(screen.app.root.screen.ids.pictures.children) == ways
        touched = find_text(screen, "A trial step").parent
        asked = (*touched.to_window(touched.x, touched.y), *touched.to_window(touched.right, touched.top))
        tap_text(screen, "A trial step")
        assert not overlap(asked, box_of(screen, "I have looked: try it"))
