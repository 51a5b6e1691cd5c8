"""The workshop's own instruments, as accuracies: one file in the data folder, replaced as a whole.

In and out: a MeasuringSetup, as gauge studies left it; the house's defaults until the first. What is damaged is told,
never overwritten silently.
"""

from pathlib import Path

from core.errors import BadInputError, reason_of
from core.metrology import MeasuringSetup
from core.records import value_json
from core.records.vouched_file import read_vouched, write_vouched
from core.records.whole_writing import writing_errors
from core.said import Name, said

FILE_NAME = "accuracy.json"
_MAX_BYTES = 64 * 1024


def load_setup(folder: Path) -> MeasuringSetup:
    """The accuracies kept in this folder, the defaults where none are; raises BadInputError for a damaged file."""
    file = folder / FILE_NAME
    try:
        if not file.exists():
            return MeasuringSetup()
        text = read_vouched(file, _MAX_BYTES).decode("utf-8")
        return value_json.from_json(MeasuringSetup, value_json.load(text))
    except (OSError, ValueError) as exc:
        raise BadInputError(
            said("{file}: {reason}; mend it or remove it", file=Name(str(file)), reason=reason_of(exc))
        ) from exc


def save_setup(folder: Path, setup: MeasuringSetup) -> None:
    """Keep these accuracies: the old file stands until the new one is whole on the disk. Raises StorageError."""
    file = folder / FILE_NAME
    with writing_errors(file):
        folder.mkdir(parents=True, exist_ok=True)
    write_vouched(file, f"{value_json.dump(value_json.to_json(setup))}\n".encode())
