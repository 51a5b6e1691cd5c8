"""The keypad under real touches."""

from __future__ import annotations

import pytest

from core.geometry.features import Feature
from core.metrology.readings import Unit
from tests.ui.touching import tap_text
from ui.bench.desks.measuring import TypeReading


@pytest.fixture(autouse=True)
def _measuring(screen) -> None:
    screen.go("measure")


def test_a_number_is_keyed_in_for_the_feature_at_the_cursor(screen) -> None:
    tap_text(screen, "Type")
    for key in "144.39":
        tap_text(screen, key)
    tap_text(screen, "delete")
    tap_text(screen, "4")
    tap_text(screen, "Take reading")
    assert screen.bench.sent == [TypeReading(feature=Feature.NL_FR, shown=144.34, unit=Unit.MM)]
    assert screen.app.root.screen.name == "measure"


def test_inches_are_sent_as_inches(screen) -> None:
    tap_text(screen, "Type")
    for key in "5.683":
        tap_text(screen, key)
    assert "means inches" in str(screen.app.root.screen.remark)
    tap_text(screen, "in millimetres")
    assert str(screen.app.root.screen.remark) == ""
    tap_text(screen, "Take reading")
    assert screen.bench.sent == [TypeReading(feature=Feature.NL_FR, shown=5.683, unit=Unit.INCH)]


def test_nothing_can_be_taken_before_a_figure_is_there(screen) -> None:
    tap_text(screen, "Type")
    tap_text(screen, ".")
    tap_text(screen, "Take reading")
    assert screen.bench.sent == []


def test_cancel_sends_nothing(screen) -> None:
    tap_text(screen, "Type")
    tap_text(screen, "7")
    tap_text(screen, "Cancel")
    assert screen.bench.sent == []
    assert screen.app.root.screen.name == "measure"
