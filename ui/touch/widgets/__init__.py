"""What screens are made of. Its face are the widgets of the first screen, which kv files know by name once they are
imported, and the names of those that only later screens show."""

from kivy.factory import Factory

from ui.touch.widgets.basics import Filled, Ink, KeyButton, MovingInk, Spoken
from ui.touch.widgets.bench_faces import CouponBand, HoldBar, LiveFace
from ui.touch.widgets.coupon_figure import CouponFigure
from ui.touch.widgets.deviation_bar import DeviationBar
from ui.touch.widgets.digits import Digits
from ui.touch.widgets.lamp import Lamp, ShapeSign, Word, WordBand, WordBlock

# Loaded when a layout first names them: the bench comes up without.
for _name, _module in (
    ("AskingSheet", "asking_sheet"),
    ("ChoiceRow", "choice_row"),
    ("EntryField", "entry"),
    ("LetterPad", "entry"),
    ("MovePicture", "move_picture"),
    ("NamePad", "entry"),
    ("NumberPad", "entry"),
    ("OutlineSheet", "outline_sheet"),
    ("PictureWidget", "picture"),
    ("TouchedPicture", "picture"),
    ("PictureChoice", "picture_choices"),
    ("PictureChoices", "picture_choices"),
    ("PictureSheet", "picture_sheet"),
    ("PlacePad", "entry"),
    ("SettingStage", "setting_stage"),
    ("SidePad", "entry"),
    ("TrendChart", "trend_chart"),
):
    Factory.register(_name, module=f"{__name__}.{_module}")

__all__ = [
    "CouponBand",
    "CouponFigure",
    "DeviationBar",
    "Digits",
    "Filled",
    "HoldBar",
    "Ink",
    "KeyButton",
    "Lamp",
    "LiveFace",
    "MovingInk",
    "ShapeSign",
    "Spoken",
    "Word",
    "WordBand",
    "WordBlock",
]
