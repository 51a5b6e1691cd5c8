"""What there is to choose in the settings: the questions with their answers, and the settings an answer makes. Pure.

Stage: setup screen and text bench. Input: Settings, the names of a question and of an answer. Output: Settings.
"""

from collections.abc import Callable

from msgspec import Struct
from msgspec.structs import replace

from core.said import Angle, Name, Part, said
from ui.speech import AngleStyle, DecimalMark, Language, LengthUnit
from ui.state import ROTATIONS_DEG, SLEEPS_MIN, Audible, Settings, Theme

ON, OFF = "on", "off"


class SettingQuestion(Struct, frozen=True, kw_only=True):
    """One thing to choose; `choices` are (stable name, words), `chosen` tells which of them holds."""

    name: str
    title: Part
    choices: tuple[tuple[str, Part], ...]
    chosen: Callable[[Settings], str]
    change: Callable[[Settings, str], Settings]


# Each in its own words, for whoever cannot read the other.
LANGUAGE_NAMES = {Language.ENGLISH: Name("English"), Language.GERMAN: Name("Deutsch")}


# As numbers are written where the language is spoken.
_MARK = {Language.ENGLISH: DecimalMark.POINT, Language.GERMAN: DecimalMark.COMMA}


def other_language(language: Language) -> Language:
    """The one that is not chosen."""
    return Language.GERMAN if language is Language.ENGLISH else Language.ENGLISH


def in_other_language(settings: Settings) -> Settings:
    """The answer to the first start's question: the other language, with its decimal mark."""
    language = other_language(settings.language)
    return replace(settings, language=language, notation=replace(settings.notation, mark=_MARK[language]))


QUESTIONS = (
    SettingQuestion(
        name="language",
        title=said("Language"),
        choices=tuple(LANGUAGE_NAMES.items()),
        chosen=lambda settings: settings.language,
        change=lambda settings, name: replace(settings, language=Language(name)),
    ),
    SettingQuestion(
        name="theme",
        title=said("Theme"),
        choices=((Theme.LIGHT, said("Light")), (Theme.DARK, said("Dark"))),
        chosen=lambda settings: settings.theme,
        change=lambda settings, name: replace(settings, theme=Theme(name)),
    ),
    SettingQuestion(
        name="lengths",
        title=said("Lengths in"),
        choices=((LengthUnit.MM, said("Millimetres")), (LengthUnit.INCH, said("Inches"))),
        chosen=lambda settings: settings.notation.lengths,
        change=lambda settings, name: replace(settings, notation=replace(settings.notation, lengths=LengthUnit(name))),
    ),
    SettingQuestion(
        name="angles",
        title=said("Angles in"),
        choices=((AngleStyle.DECIMAL, said("Degrees")), (AngleStyle.DMS, Name("° ′ ″"))),
        chosen=lambda settings: settings.notation.angles,
        change=lambda settings, name: replace(settings, notation=replace(settings.notation, angles=AngleStyle(name))),
    ),
    SettingQuestion(
        name="mark",
        title=said("Decimal mark"),
        choices=((DecimalMark.POINT, said("Point")), (DecimalMark.COMMA, said("Comma"))),
        chosen=lambda settings: settings.notation.mark,
        change=lambda settings, name: replace(settings, notation=replace(settings.notation, mark=DecimalMark(name))),
    ),
    SettingQuestion(
        name="sound",
        title=said("Sound of the lamp box"),
        choices=((ON, said("On")), (OFF, said("Off"))),
        chosen=lambda settings: ON if settings.sound else OFF,
        change=lambda settings, name: replace(settings, sound=name == ON),
    ),
    SettingQuestion(
        name="speaker",
        title=said("Speaker"),
        choices=(
            (Audible.SILENT, said("Silent")),
            (Audible.SOUNDS, said("Sounds")),
            (Audible.SPOKEN, said("Sounds, figures")),
        ),
        chosen=lambda settings: settings.audible,
        change=lambda settings, name: replace(settings, audible=Audible(name)),
    ),
    SettingQuestion(
        name="rotation",
        title=said("Panel turned by"),
        choices=tuple((str(deg), Angle(deg, 0)) for deg in ROTATIONS_DEG),
        chosen=lambda settings: str(settings.rotation_deg),
        change=lambda settings, name: replace(settings, rotation_deg=int(name)),
    ),
    SettingQuestion(
        name="sleep",
        title=said("Panel goes dark after"),
        choices=tuple(
            (str(minutes), said("{minutes} min", minutes=minutes) if minutes else said("never"))
            for minutes in SLEEPS_MIN
        ),
        chosen=lambda settings: str(settings.sleep_min),
        change=lambda settings, name: replace(settings, sleep_min=int(name)),
    ),
)


def changed(settings: Settings, name: str, answer: str) -> Settings | None:
    """The settings after this answer; None where there is no such question or answer."""
    for question in QUESTIONS:
        if question.name == name and answer in dict(question.choices):
            return question.change(settings, answer)
    return None
