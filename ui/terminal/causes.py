"""The text bench on causes and on what needs no coupon: diagnosis, square reference, belts, reversal check.

Input: words and the snapshot they answer to. Output: a command, or the sentences that answer. Only `belts` reads files.
"""

from pathlib import Path

from core.errors import BadInputError
from core.machine import (
    CoarseReset,
    Gaps,
    Refusal,
    before_plucking,
    before_two_gaps,
    coarse_reset,
    compare_belts,
    diagnose,
    reference_state,
)
from core.said import Name, Part, Series, lines, said
from ui.bench import (
    BeginCorrectionByReference,
    KeepReference,
    LogBelts,
    LogCoarseReset,
    correction_of_design,
    note_of_file,
)
from ui.pages.causes import foretold_lines, reversal_in_steps
from ui.pages.practice import NOT_YET
from ui.state import Command, Snapshot
from ui.terminal.help_lines import HelpLines
from ui.terminal.indented import listed
from ui.terminal.typed_values import typed_number

CAUSES_HELP: HelpLines = (
    ("why", said("what the coupon says of the machine, and what it cannot tell")),
    ("predict", said("what the ten features of the next coupon should read after the correction")),
    ("design", said("the correction of a design file, where the machine cannot be adjusted")),
    ("reference", said("the machine's square reference")),
    (
        "reference keep 32.10 32.40",
        said("remember this coupon's skew with both gaps as it was cut (left or near end first)"),
    ),
    ("reference use 32.10 33.00", said("set the gantry by two gaps, before anything is cut")),
    ("reset", said("how a machine far out is squared to its frame, by stops, blocks or equal gaps")),
    ("reset frame", said("log that it was squared to its frame: the coupon's number is void")),
    ("belts left.wav right.wav", said("compare two plucked belts [free lengths in mm] [kg per metre]")),
    ("reversal", said("the reversal check: find the skew with two coupons and a feeler")),
)


def parse_causes_line(words: list[str], snapshot: Snapshot) -> Command | Part | None:
    """The command these words mean, or the sentences that answer them; None when they are about something else."""
    match words:
        case ["why"]:
            return _why(snapshot)
        case ["predict"]:
            return listed(*foretold_lines(snapshot))
        case ["design"]:
            return _design(snapshot)
        case ["reference"]:
            return _reference(snapshot)
        case ["reference", "keep", first, second]:
            return KeepReference(gaps=_gaps(first, second))
        case ["reference", "use", first, second]:
            return BeginCorrectionByReference(gaps=_gaps(first, second))
        case ["reset"]:
            return lines(*coarse_reset(), said("Done it? Type: {typed}", typed=Name("reset frame")))
        case ["reset", kind] if kind in list(CoarseReset):
            return LogCoarseReset(reset=CoarseReset(kind))
        case ["belts"]:
            return listed(*before_plucking(), said("Then: {typed}", typed=Name("belts left.wav right.wav")))
        case ["belts", first, second, *numbers] if len(numbers) in (0, 2, 3):
            return _belts(first, second, [typed_number(text) for text in numbers])
        case ["reversal" | "flip"]:
            return _reversal_steps(snapshot)
        case _:
            return None


def _why(snapshot: Snapshot) -> Part:
    if snapshot.exercise_is_open:
        return NOT_YET
    if snapshot.evaluation is None:
        return said("Nothing is measured yet.")
    diagnosis = diagnose(snapshot.evaluation, snapshot.machines.current, snapshot.setup)
    return listed(*diagnosis.sentences)


def _reference(snapshot: Snapshot) -> Series:
    machine = snapshot.machines.current
    return lines(*(before_two_gaps(machine.held) if machine else ()), reference_state(snapshot.machines.log).text)


def _design(snapshot: Snapshot) -> Part:
    correction = correction_of_design(snapshot)
    if correction is None:
        return NOT_YET if snapshot.exercise_is_open else said("Nothing is measured yet.")
    if isinstance(correction, Refusal):
        return correction.text
    return lines(*correction.sentences, Name(f"  cornerwise correct-design FILE OUT {correction.options}"))


def _belts(first: str, second: str, numbers: list[float]) -> Command:
    if any(number <= 0.0 for number in numbers):
        raise BadInputError(said("lengths and mass must be more than zero"))
    lengths_mm = numbers[:2] or [1.0, 1.0]
    notes = [note_of_file(Path(name)) for name in (first, second)]
    comparison = compare_belts(*notes, lengths_mm=lengths_mm, mass_kg_per_m=numbers[2] if len(numbers) == 3 else None)
    return LogBelts(first_hz=notes[0].frequency_hz.value, second_hz=notes[1].frequency_hz.value, text=comparison.text)


def _reversal_steps(snapshot: Snapshot) -> Part:
    if snapshot.coupon is None:
        return said("Begin the coupon first, such as: {typed}", typed=Name("new 120x80"))
    return listed(*reversal_in_steps(snapshot.coupon, snapshot.machines.current))


def _gaps(first: str, second: str) -> Gaps:
    return Gaps(first_mm=typed_number(first), second_mm=typed_number(second))
