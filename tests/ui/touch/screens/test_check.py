"""The check of the instruments by touch: live values are taken, the bench judges them."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.metrology.characteristics import Scope
from core.metrology.gauge_check import Block, CheckedLength
from core.metrology.readings import Quantity
from core.said import worded
from tests.ui.scenes import SCENES, snapshot
from tests.ui.touching import tap_text
from ui.bench.desks.measuring import HoldReadings, OpenSession
from ui.bench.gauge_checks import CheckCaliper, CheckGauge
from ui.pages.check import MAX_TAKEN, CheckDraft, command_of, places, with_block, with_quantity, with_value
from ui.speech import LengthUnit, Notation, Speech


def judged(screen) -> list[object]:
    return [command for command in screen.bench.sent if not isinstance(command, HoldReadings)]


def test_while_it_is_open_nothing_on_the_cables_is_a_reading(screen) -> None:
    screen.go("check")
    assert screen.bench.sent == [HoldReadings(held=True)]
    screen.go("instruments")
    assert screen.bench.sent[-1] == HoldReadings(held=False)


def test_calipers_are_checked_with_closed_jaws_and_a_block(screen) -> None:
    screen.go("check")
    screen.show(snapshot(length_value=0.01))
    tap_text(screen, "Take this value")
    tap_text(screen, "Take this value")
    tap_text(screen, "50")
    screen.show(snapshot(length_value=50.02))
    tap_text(screen, "Take this value")
    tap_text(screen, "Judge it")
    assert judged(screen) == [
        CheckCaliper(
            lengths=(
                CheckedLength(nominal_mm=0.0, readings_mm=(0.01, 0.01)),
                CheckedLength(nominal_mm=50.0, readings_mm=(50.02,)),
            )
        )
    ]


def test_the_gauge_is_checked_by_reversal(screen) -> None:
    screen.go("check")
    tap_text(screen, "Angle gauge")
    screen.show(snapshot(corner_value=90.2))
    tap_text(screen, "Take this value")
    tap_text(screen, "Turned over")
    screen.show(snapshot(corner_value=90.0))
    tap_text(screen, "Take this value")
    tap_text(screen, "Judge it")
    assert judged(screen) == [CheckGauge(square_deg=(90.2,), turned_over_deg=(90.0,))]


def test_without_a_coupon_nothing_is_judged(screen) -> None:
    screen.go("check")
    screen.show(replace(SCENES["first"](), session=None))
    tap_text(screen, "Take this value")
    tap_text(screen, "Judge it")
    assert judged(screen) == []


def test_an_empty_check_is_no_command_and_the_other_system_forgets_what_was_taken() -> None:
    draft = CheckDraft()
    assert command_of(draft) is None
    for _value in range(MAX_TAKEN + 2):
        draft = with_value(draft, 0.0)
    assert len(draft.taken) == MAX_TAKEN
    assert with_block(draft, Block.INCH).taken == ()
    assert [worded(words) for _place, words in places(with_block(draft, Block.INCH))] == [
        "Closed jaws",
        "1",
        "2",
        "3",
    ]
    assert with_quantity(draft, Quantity.ANGLE).taken == ()


def test_a_quick_check_judges_squareness_alone(screen) -> None:
    screen.go("coupon")
    tap_text(screen, "Quick check")
    command = screen.bench.sent[-1]
    assert isinstance(command, OpenSession)
    assert command.opened.scope is Scope.SQUARENESS


@pytest.mark.parametrize("lengths", LengthUnit)
@pytest.mark.parametrize(("block", "engraved"), [(Block.METRIC, ["25", "50", "75"]), (Block.INCH, ["1", "2", "3"])])
def test_a_block_is_called_what_is_engraved_on_it(block: Block, engraved: list[str], lengths: LengthUnit) -> None:
    """On a bench in inches the metric block of 25 mm was 0.9843."""
    speech = Speech(notation=Notation(lengths=lengths))
    assert [worded(words, speech) for _place, words in places(with_block(CheckDraft(), block))][1:] == engraved
