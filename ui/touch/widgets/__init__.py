"""What screens are made of. Its face are all widgets, for kv files know them by name once they are imported."""

from ui.touch.widgets.basics import Ink, KeyButton, Sheetlet, Spoken
from ui.touch.widgets.choice_row import ChoiceRow
from ui.touch.widgets.columns import CursorStrip, HoldBar, LiveColumn, PanelColumn
from ui.touch.widgets.coupon_sheet import CouponSheet
from ui.touch.widgets.digits import Digits
from ui.touch.widgets.entry import EntryField, NumberPad, PlacePad
from ui.touch.widgets.gantry_sheet import GantrySheet
from ui.touch.widgets.lamp import Lamp, ShapeSign
from ui.touch.widgets.picture_sheet import PictureSheet
from ui.touch.widgets.trend_chart import TrendChart

__all__ = [
    "ChoiceRow",
    "CouponSheet",
    "CursorStrip",
    "Digits",
    "EntryField",
    "GantrySheet",
    "HoldBar",
    "Ink",
    "KeyButton",
    "Lamp",
    "LiveColumn",
    "NumberPad",
    "PanelColumn",
    "PictureSheet",
    "PlacePad",
    "ShapeSign",
    "Sheetlet",
    "Spoken",
    "TrendChart",
]
