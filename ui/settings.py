"""What the person chose for this bench: kept in one JSON file of the data folder, read at the start.

Input and output: Settings. The file is written whole or not at all. One that is damaged, or says something this
program does not know, is told and left alone: its choices do not count, and nothing is written over it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from core.errors import BadInputError
from core.records import dataclass_json
from core.records.whole_writing import write_file, writing_errors
from ui.language import Language
from ui.notation import Notation
from ui.speech import Speech

FILE_NAME = "settings.json"
ROTATIONS_DEG = (0, 90, 180, 270)
SLEEPS_MIN = (0, 5, 15, 60)


class Theme(StrEnum):
    """Ink on paper, or light on dark."""

    LIGHT = "light"
    DARK = "dark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """`rotation_deg` is how the panel is turned, in quarter turns; `sleep_min` after how many minutes without touch or
    news it goes dark, 0: never."""

    theme: Theme = Theme.LIGHT
    language: Language = Language.ENGLISH
    notation: Notation = field(default_factory=Notation)
    sound: bool = True
    rotation_deg: int = 0
    sleep_min: int = 15

    @property
    def speech(self) -> Speech:
        """How the person is spoken to."""
        return Speech(language=self.language, notation=self.notation)

    def __post_init__(self) -> None:
        if self.rotation_deg not in ROTATIONS_DEG:
            raise BadInputError(f"rotation {self.rotation_deg}: it must be one of {ROTATIONS_DEG} degrees")
        if self.sleep_min not in SLEEPS_MIN:
            raise BadInputError(f"sleep {self.sleep_min}: it must be one of {SLEEPS_MIN} minutes")


class SettingsFile:
    """The settings of one data folder."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / FILE_NAME

    def load(self) -> Settings:
        """What was kept, the defaults where nothing was; raises BadInputError for a damaged or unknown content."""
        try:
            data = dataclass_json.load(self._file.read_text(encoding="utf-8"))
            settings = dataclass_json.from_json(Settings, data)
        except FileNotFoundError:
            return Settings()
        except (OSError, ValueError) as exc:
            raise BadInputError(f"{self._file}: {exc}; mend it or remove it") from exc
        # Read generously and written back, a newer program's choices would be lost.
        if unknown := _unknown(data, dataclass_json.to_json(settings)):
            raise BadInputError(f"{self._file}: {unknown!r} is not known here; mend it or remove it")
        return settings

    def save(self, settings: Settings) -> None:
        """Keep these; raises BadInputError over a file that cannot be read, StorageError where writing fails."""
        self.load()
        text = dataclass_json.dump(dataclass_json.to_json(settings)) + "\n"
        with writing_errors(self._file):
            self._file.parent.mkdir(parents=True, exist_ok=True)
        write_file(self._file, text.encode())


def _unknown(data: dataclass_json.JsonValue, known: dataclass_json.JsonValue) -> str:
    """The first name in `data` that this program would not write; empty when there is none."""
    if not isinstance(data, dict) or not isinstance(known, dict):
        return ""
    names = (name if name not in known else _unknown(data[name], known[name]) for name in data)
    return next(filter(None, names), "")
