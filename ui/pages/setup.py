"""What there is to choose in the settings: the questions with their answers, and the settings an answer makes. Pure.

Stage: setup screen and text bench. Input: Settings, the names of a question and of an answer. Output: Settings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from ui.speech.language import Language
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit
from ui.state.settings import ROTATIONS_DEG, SLEEPS_MIN, Settings, Theme

ON, OFF = "on", "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingQuestion:
    """One thing to choose; `choices` are (stable name, words), `chosen` tells which of them holds."""

    name: str
    title: str
    choices: tuple[tuple[str, str], ...]
    chosen: Callable[[Settings], str]
    change: Callable[[Settings, str], Settings]


QUESTIONS = (
    SettingQuestion(
        name="language",
        title="Language",
        choices=((Language.ENGLISH, "English"), (Language.GERMAN, "Deutsch")),
        chosen=lambda settings: settings.language,
        change=lambda settings, name: replace(settings, language=Language(name)),
    ),
    SettingQuestion(
        name="theme",
        title="Theme",
        choices=((Theme.LIGHT, "Light"), (Theme.DARK, "Dark")),
        chosen=lambda settings: settings.theme,
        change=lambda settings, name: replace(settings, theme=Theme(name)),
    ),
    SettingQuestion(
        name="lengths",
        title="Lengths in",
        choices=((LengthUnit.MM, "Millimetres"), (LengthUnit.INCH, "Inches")),
        chosen=lambda settings: settings.notation.lengths,
        change=lambda settings, name: replace(settings, notation=replace(settings.notation, lengths=LengthUnit(name))),
    ),
    SettingQuestion(
        name="angles",
        title="Angles in",
        choices=((AngleStyle.DECIMAL, "Degrees"), (AngleStyle.DMS, "° ′ ″")),
        chosen=lambda settings: settings.notation.angles,
        change=lambda settings, name: replace(settings, notation=replace(settings.notation, angles=AngleStyle(name))),
    ),
    SettingQuestion(
        name="mark",
        title="Decimal mark",
        choices=((DecimalMark.POINT, "Point"), (DecimalMark.COMMA, "Comma")),
        chosen=lambda settings: settings.notation.mark,
        change=lambda settings, name: replace(settings, notation=replace(settings.notation, mark=DecimalMark(name))),
    ),
    SettingQuestion(
        name="sound",
        title="Sound of the lamp box",
        choices=((ON, "On"), (OFF, "Off")),
        chosen=lambda settings: ON if settings.sound else OFF,
        change=lambda settings, name: replace(settings, sound=name == ON),
    ),
    SettingQuestion(
        name="rotation",
        title="Panel turned by",
        choices=tuple((str(deg), f"{deg}°") for deg in ROTATIONS_DEG),
        chosen=lambda settings: str(settings.rotation_deg),
        change=lambda settings, name: replace(settings, rotation_deg=int(name)),
    ),
    SettingQuestion(
        name="sleep",
        title="Panel goes dark after",
        choices=tuple((str(minutes), f"{minutes} min" if minutes else "never") for minutes in SLEEPS_MIN),
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


def settings_text(settings: Settings) -> str:
    """What is chosen and what could be, one question a line, as it is typed at the text bench."""
    return "\n".join(
        f"  set {question.name:<9} {question.chosen(settings):<24} of {', '.join(name for name, _ in question.choices)}"
        for question in QUESTIONS
    )
