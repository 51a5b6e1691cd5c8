"""A new coupon under real touches."""

from __future__ import annotations

from core.machine.cautions import HANDS_OUT, PREVAIL
from tests.ui.scenes import SCENES
from tests.ui.touching import tap_text
from ui.bench.desks.measuring import OpenSession
from ui.bench.desks.records import look_up_grid


def test_the_line_on_top_leads_to_another_coupon(screen) -> None:
    screen.show(SCENES["empty"]())
    screen.go("bench")
    tap_text(screen, "no machine described · 120 x 80 mm")
    tap_text(screen, "Start this coupon")
    looked_up, command = screen.bench.sent
    assert looked_up == look_up_grid(machine="")
    assert isinstance(command, OpenSession)
    assert (command.opened.coupon.width_mm, command.opened.coupon.height_mm) == (120.0, 80.0)
    screen.show(SCENES["mark"]())
    assert screen.app.root.screen.name == "bench"


def test_sides_and_class_are_keyed_in(screen) -> None:
    screen.go("coupon")
    for key in "250":
        tap_text(screen, key)
    tap_text(screen, "height, Y")
    for key in "150.5":
        tap_text(screen, key)
    tap_text(screen, "Limits and more")
    tap_text(screen, "c coarse")
    tap_text(screen, "L")
    tap_text(screen, "Done")
    tap_text(screen, "Start this coupon")
    opened = screen.bench.sent[-1].opened
    assert (opened.coupon.width_mm, opened.coupon.height_mm) == (250.0, 150.5)
    assert opened.limits.source == "ISO 2768-cL"


def test_what_comes_before_cutting_stands_beside_the_size(screen) -> None:
    for scene, words in (("empty", "Never leave a laser alone."), ("to-correct", "Eyes, ears, dust; the piece held.")):
        screen.show(SCENES[scene]())
        screen.go("coupon")
        tap_text(screen, "Before cutting")
        read = [str(screen.app.root.screen.page.caution.short)]
        while read[-1] != str(PREVAIL.short):
            tap_text(screen, "Next")
            read.append(str(screen.app.root.screen.page.caution.short))
        assert read[0] == str(HANDS_OUT.short)
        assert words in read
        tap_text(screen, "Step back")
        tap_text(screen, "Next")
        tap_text(screen, "All read")
        assert screen.app.root.screen.name == "coupon"


def test_everything_it_is_judged_by_is_a_number_before_it_starts(screen) -> None:
    screen.show(SCENES["terms"]())
    screen.go("coupon")
    remark = str(screen.app.root.screen.remark)
    for said in (
        "ISO 2768-mK with own limits",
        "squareness 0.40 mm",
        "corner ± 0.30°",
        "diagonals 0.50 mm",
        "± 0.25 mm",
    ):
        assert said in remark
    assert "Window 60 × 40 mm." in remark
    assert "from acrylic at 27.5 °C, as before." in remark
