"""What screens are made of. Its face are all widgets, for kv files know them by name once they are imported."""

from ui.touch.widgets.basics import Ink, KeyButton, Sheetlet, Spoken
from ui.touch.widgets.choice_row import ChoiceRow
from ui.touch.widgets.columns import CursorStrip, HoldBar, LiveColumn, PanelColumn
from ui.touch.widgets.coupon_sheet import CouponSheet
from ui.touch.widgets.digits import Digits
from ui.touch.widgets.entry import EntryField, LetterPad, NumberPad, PlacePad
from ui.touch.widgets.lamp import Lamp, ShapeSign, WordBand
from ui.touch.widgets.move_picture import MovePicture
from ui.touch.widgets.outline_sheet import OutlineSheet
from ui.touch.widgets.picture import PictureWidget, TouchedPicture
from ui.touch.widgets.picture_choices import PictureChoice, PictureChoices
from ui.touch.widgets.picture_sheet import PictureSheet
from ui.touch.widgets.setting_stage import SettingStage
from ui.touch.widgets.trend_chart import TrendChart

__all__ = [
    "ChoiceRow",
    "CouponSheet",
    "CursorStrip",
    "Digits",
    "EntryField",
    "HoldBar",
    "Ink",
    "KeyButton",
    "Lamp",
    "LetterPad",
    "LiveColumn",
    "MovePicture",
    "NumberPad",
    "OutlineSheet",
    "PanelColumn",
    "PictureChoice",
    "PictureChoices",
    "PictureSheet",
    "PictureWidget",
    "PlacePad",
    "SettingStage",
    "ShapeSign",
    "Sheetlet",
    "Spoken",
    "TouchedPicture",
    "TrendChart",
    "WordBand",
]
