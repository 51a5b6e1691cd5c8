"""The design screen by touch, and what it says at each stage."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.geometry.features import DIAGONALS
from core.machine.gantry_correction import RefusalReason
from core.metrology.witness import Answers
from tests.ui.scenes import DESIGN, RACKED, SCENES, readings, snapshot
from tests.ui.touching import find_text, shown_widgets, tap_text
from ui.bench.desks.design import ChooseDesign, LookForDesigns, WriteDesign, correction_of_design
from ui.bench.desks.measuring import ConfirmMark
from ui.pages.design import design_page
from ui.state.snapshot import Snapshot
from ui.state.stick import DesignSlice, DesignSource, DesignStage


def with_machine(scene: Snapshot, **changed: object) -> Snapshot:
    machine = replace(scene.machines.current, **changed)  # type: ignore[type-var, arg-type]
    return replace(scene, machines=replace(scene.machines, current=machine))


def show(screen, scene: Snapshot) -> None:
    screen.show(scene)
    screen.go("design")


@pytest.mark.parametrize("scene", ["not-adjustable", "to-correct"])
@pytest.mark.parametrize("door", ["correct", "causes"])
def test_it_is_reached_from_where_the_machine_s_correction_stands(screen, scene: str, door: str) -> None:
    screen.show(SCENES[scene]())
    screen.go(door)
    tap_text(screen, "Correct the design")
    assert screen.app.root.screen.name == "design"
    screen.app.root.back()
    assert screen.app.root.screen.name == door


def test_it_gives_no_exercise_s_answer_away(screen) -> None:
    show(screen, SCENES["practice-open"]())
    assert str(screen.app.root.screen.page.title) == "The exercise comes first"
    assert "skew" not in str(screen.app.root.screen.page.text).lower()
    assert screen.bench.sent == []


def test_a_stick_that_is_in_is_looked_at_on_entering_and_again_by_touch(screen) -> None:
    show(screen, replace(SCENES["designs"](), design=DesignSlice()))
    assert screen.bench.sent == [LookForDesigns()]
    tap_text(screen, "Look for designs")
    assert screen.bench.sent == [LookForDesigns()] * 2


def test_without_a_stick_it_asks_for_one(screen) -> None:
    show(screen, SCENES["not-adjustable"]())
    assert screen.bench.sent == []
    assert str(screen.app.root.screen.page.text).startswith("Plug the USB stick in")


def test_a_design_and_the_coupon_are_chosen_and_written_by_touch(screen) -> None:
    show(screen, SCENES["designs"]())
    screen.bench.sent.clear()
    tap_text(screen, "drawer-front.dxf")
    tap_text(screen, "Coupon to prove it, SVG")
    show(screen, SCENES["design-ready"]())
    tap_text(screen, "Write the corrected copy")
    coupon = DesignSource(path="coupon-120x80.svg", coupon=SCENES["designs"]().coupon)
    assert [one for one in screen.bench.sent if one != LookForDesigns()] == [
        ChooseDesign(source=DesignSource(path="drawer-front.dxf")),
        ChooseDesign(source=coupon),
        WriteDesign(),
    ]


def test_before_it_is_written_everything_is_said(screen) -> None:
    show(screen, SCENES["design-ready"]())
    said = [str(screen.app.root.screen.page.text)]
    tap_text(screen, "What it does")
    while not said[-1].startswith("Correct the design by"):
        said.append(str(screen.app.root.screen.ids.words.text))
        if len(said) < len(screen.app.root.screen.page.leaves) + 1:
            tap_text(screen, "Next")
    for words in (
        "It will be written as ",
        "-SIMULATED.svg",
        "2 texts lean in the file.",
        "14 circles are ellipses in the file.",
        "1 thing could not be corrected: look before cutting.",
        "Skew +0.478 ± 0.056° is taken out.",
        "On a side of 400 mm the skew is 3.34 ± 0.39 mm.",
        "cannot be told from kerf",
        "letters lean and circles are ellipses",
        "wrong for any other: keep the original",
        "x' = 1.000000 x −0.00834",
    ):
        assert words in " ".join(said)
    tap_text(screen, "All read")
    tap_text(screen, "Write the corrected copy")
    assert screen.bench.sent[-1] == WriteDesign()
    assert find_text(screen, "SIMULATED").parent.parent.opacity == 1


def test_the_amount_is_said_on_the_person_s_own_part(screen) -> None:
    show(screen, with_machine(SCENES["designs"](), part_side_mm=700.0))
    assert "On a side of 700 mm the skew is 5.84 ± 0.69 mm." in str(screen.app.root.screen.page.leaves[0])


def test_written_it_says_when_to_pull_the_stick_and_where_it_is(screen) -> None:
    show(screen, SCENES["design-written"]())
    assert str(screen.app.root.screen.page.word) == "SAFE TO REMOVE"
    assert str(screen.app.root.screen.page.text).startswith("Written as jobs/hinge-template")


def test_a_folder_is_not_called_a_stick() -> None:
    in_folder = replace(SCENES["design-written"]().design, folder="/home/ana/designs")
    assert str(design_page(replace(SCENES["design-written"](), design=in_folder)).word) == "WRITTEN"
    empty = replace(SCENES["not-adjustable"](), design=DesignSlice(folder="/home/ana/designs"))
    assert "into the folder /home/ana/designs" in str(design_page(empty).text)


@pytest.mark.parametrize("stage", [stage for stage in DesignStage if stage.is_busy])
def test_nothing_is_offered_while_the_stick_is_at_work(stage: DesignStage) -> None:
    view = design_page(replace(SCENES["designs"](), design=DesignSlice(stage=stage, source=DESIGN)))
    assert [name for name, _words in view.choices] == []
    assert str(view.caption) == "leave the stick in"


REFUSALS = {
    RefusalReason.MARK_NOT_CONFIRMED: lambda: replace(SCENES["designs"](), answers=Answers()),
    RefusalReason.NOT_CROSS_CHECKED: lambda: snapshot(readings(RACKED, DIAGONALS)),
    RefusalReason.INCONSISTENT: SCENES["inconsistent"],
    RefusalReason.NOT_SIGNIFICANT: SCENES["go"],
    RefusalReason.CORRECTED_ELSEWHERE: lambda: with_machine(SCENES["designs"](), controller_skew_set=True),
}


@pytest.mark.parametrize("reason", REFUSALS)
def test_every_refusal_is_said_and_offers_no_design(screen, reason: RefusalReason) -> None:
    scene = REFUSALS[reason]()
    refusal = correction_of_design(scene)
    assert refusal.reason is reason
    show(screen, scene)
    assert str(screen.app.root.screen.page.text) == str(refusal.text)
    assert str(screen.app.root.screen.page.word) == "NO CORRECTION"
    assert screen.bench.sent == []
    texts = [getattr(widget, "text", "") for widget in shown_widgets(screen)]
    assert "drawer-front.dxf" not in texts
    assert "Look for designs" not in texts


def test_the_mark_is_confirmed_right_there(screen) -> None:
    show(screen, REFUSALS[RefusalReason.MARK_NOT_CONFIRMED]())
    tap_text(screen, "The mark lies beside NL")
    assert screen.bench.sent == [ConfirmMark()]


def test_another_machine_s_profile_does_not_count(screen) -> None:
    """A skew factor in another machine's controller says nothing of the one that cut this coupon."""
    scene = replace(REFUSALS[RefusalReason.CORRECTED_ELSEWHERE](), machine="plotter")
    show(screen, scene)
    assert str(screen.app.root.screen.page.word) != "NO CORRECTION"
