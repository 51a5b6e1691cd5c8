"""The screen that tests/ui has, for the long proofs: it makes the panel before a widget is imported."""

from tests.ui.conftest import drawn, screen
from tests.ui.touch.test_notation_on_screens import lettered

__all__ = ["drawn", "lettered", "screen"]
