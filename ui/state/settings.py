"""What the person chose for this bench: kept in one JSON file of the data folder, read at the start.

Input and output: Settings. The file is written whole or not at all. One that is damaged is told and left alone: its
choices do not count, and nothing is written over it. Choices that only a later version of the program knows are kept
and passed on, so that after an update was taken back everything else holds, and nothing is lost to the next one.
"""

from enum import StrEnum
from pathlib import Path

from msgspec import Struct, field

from core.errors import BadInputError, reason_of
from core.records import read_vouched, value_json, write_vouched, writing_errors
from core.said import Name, said
from ui.speech import Language, Notation, Speech

_MAX_BYTES = 256 * 1024
FILE_NAME = "settings.json"
ROTATIONS_DEG = (0, 90, 180, 270)
SLEEPS_MIN = (0, 5, 15, 60)


class Theme(StrEnum):
    """Ink on paper, or light on dark."""

    LIGHT = "light"
    DARK = "dark"


class Audible(StrEnum):
    """What is heard from a speaker. Nothing unless it was asked for: most benches have none, and a board with a screen
    on a cable seems to have one."""

    SILENT = "silent"
    SOUNDS = "sounds"
    SPOKEN = "spoken"  # sounds, and the figures of every reading


class Settings(Struct, frozen=True, kw_only=True):
    """`sound` is that of the lamp box, `audible` that of a speaker; `rotation_deg` is how the panel is turned, in
    quarter turns; `sleep_min` after how many minutes without touch or news it goes dark, 0: never. `shop`, `operator`,
    `caliper` and `gauge` are what the label of the last coupon said: the next begins with them."""

    theme: Theme = Theme.LIGHT
    language: Language = Language.ENGLISH
    notation: Notation = field(default_factory=Notation)
    sound: bool = True
    audible: Audible = Audible.SILENT
    rotation_deg: int = 0
    sleep_min: int = 15
    shop: str = ""
    operator: str = ""
    caliper: str = ""
    gauge: str = ""

    @property
    def speech(self) -> Speech:
        """How the person is spoken to."""
        return Speech(language=self.language, notation=self.notation)

    def __post_init__(self) -> None:
        if self.rotation_deg not in ROTATIONS_DEG:
            raise BadInputError(
                said(
                    "rotation {given}: it must be one of {known}",
                    given=self.rotation_deg,
                    known=_named(ROTATIONS_DEG),
                )
            )
        if self.sleep_min not in SLEEPS_MIN:
            raise BadInputError(
                said("sleep {given}: it must be one of {known}", given=self.sleep_min, known=_named(SLEEPS_MIN))
            )


def _named(numbers: tuple[int, ...]) -> Name:
    return Name(", ".join(map(str, numbers)))


class SettingsFile:
    """The settings of one data folder."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / FILE_NAME

    @property
    def is_new(self) -> bool:
        """Whether nobody has chosen anything on this bench yet."""
        return not self._file.exists()

    def load(self) -> Settings:
        """What was kept, the defaults where nothing was; raises BadInputError for a damaged or unknown content."""
        try:
            return value_json.from_json(Settings, self._kept())
        except (OSError, ValueError) as exc:
            raise BadInputError(
                said("{file}: {reason}; mend it or remove it", file=Name(str(self._file)), reason=reason_of(exc))
            ) from exc

    def save(self, settings: Settings) -> None:
        """Keep these; raises BadInputError over a file that cannot be read, StorageError where writing fails."""
        self.load()
        text = value_json.dump(_over(self._kept(), value_json.to_json(settings))) + "\n"
        with writing_errors(self._file):
            self._file.parent.mkdir(parents=True, exist_ok=True)
        write_vouched(self._file, text.encode())

    def _kept(self) -> value_json.JsonValue:
        if not self._file.exists():
            return {}
        return value_json.load(read_vouched(self._file, _MAX_BYTES).decode("utf-8"))


def _over(kept: value_json.JsonValue, chosen: value_json.JsonValue) -> value_json.JsonValue:
    """What is chosen, and beside it the names in the file that only another version knows."""
    if not isinstance(kept, dict) or not isinstance(chosen, dict):
        return chosen
    return {**kept, **{name: _over(kept.get(name), value) for name, value in chosen.items()}}
