"""The workshop's own instruments, as accuracies: one file in the data folder, replaced as a whole.

In and out: a MeasuringSetup, as gauge studies left it; the house's defaults until the first. What is damaged is told,
never overwritten silently.
"""

from __future__ import annotations

from pathlib import Path

from core.errors import BadInputError
from core.metrology.accuracy import MeasuringSetup
from core.records import dataclass_json
from core.records.whole_writing import write_file, writing_errors
from core.said import Name, said

FILE_NAME = "accuracy.json"


def load_setup(folder: Path) -> MeasuringSetup:
    """The accuracies kept in this folder, the defaults where none are; raises BadInputError for a damaged file."""
    file = folder / FILE_NAME
    try:
        return dataclass_json.from_json(MeasuringSetup, dataclass_json.load(file.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return MeasuringSetup()
    except (OSError, ValueError) as exc:
        raise BadInputError(
            said("{file}: {exc}; mend it or remove it", file=Name(str(file)), exc=Name(str(exc)))
        ) from exc


def save_setup(folder: Path, setup: MeasuringSetup) -> None:
    """Keep these accuracies: the old file stands until the new one is whole on the disk. Raises StorageError."""
    file = folder / FILE_NAME
    with writing_errors(file):
        folder.mkdir(parents=True, exist_ok=True)
    write_file(file, f"{dataclass_json.dump(dataclass_json.to_json(setup))}\n".encode())
