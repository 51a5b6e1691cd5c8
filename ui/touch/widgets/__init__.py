"""What screens are made of. Its face are all widgets, for kv files know them by name once they are imported."""

from ui.touch.widgets.asking_sheet import AskingSheet
from ui.touch.widgets.basics import Ink, KeyButton, Sheetlet, Spoken
from ui.touch.widgets.bench_faces import AnswerFace, CouponBand, HoldBar, KeypadFace, LiveFace, QuestionFace
from ui.touch.widgets.choice_row import ChoiceRow
from ui.touch.widgets.coupon_figure import CouponFigure
from ui.touch.widgets.deviation_bar import DeviationBar
from ui.touch.widgets.digits import Digits
from ui.touch.widgets.entry import EntryField, LetterPad, NamePad, NumberPad, PlacePad
from ui.touch.widgets.lamp import Lamp, ShapeSign, WordBand, WordBlock
from ui.touch.widgets.move_picture import MovePicture
from ui.touch.widgets.outline_sheet import OutlineSheet
from ui.touch.widgets.picture import PictureWidget, TouchedPicture
from ui.touch.widgets.picture_choices import PictureChoice, PictureChoices
from ui.touch.widgets.picture_sheet import PictureSheet
from ui.touch.widgets.setting_stage import SettingStage
from ui.touch.widgets.trend_chart import TrendChart

__all__ = [
    "AnswerFace",
    "AskingSheet",
    "ChoiceRow",
    "CouponBand",
    "CouponFigure",
    "DeviationBar",
    "Digits",
    "EntryField",
    "HoldBar",
    "Ink",
    "KeyButton",
    "KeypadFace",
    "Lamp",
    "LetterPad",
    "LiveFace",
    "MovePicture",
    "NamePad",
    "NumberPad",
    "OutlineSheet",
    "PictureChoice",
    "PictureChoices",
    "PictureSheet",
    "PictureWidget",
    "PlacePad",
    "QuestionFace",
    "SettingStage",
    "ShapeSign",
    "Sheetlet",
    "Spoken",
    "TouchedPicture",
    "TrendChart",
    "WordBand",
    "WordBlock",
]
