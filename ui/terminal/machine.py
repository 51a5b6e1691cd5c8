"""The machine side of the text bench: what is typed about machines and corrections, and how they are shown. Pure.

Input: words and the snapshot they answer to. Output: a command, a sentence, or lines to print.
"""

from __future__ import annotations

import dataclasses
import types
from enum import StrEnum
from typing import Any, Union, get_args, get_origin, get_type_hints

from core.errors import BadInputError
from core.machine.guided_correction import PHASE_OF_STAGE, GuidedState
from core.machine.guided_wording import sentences, title
from core.machine.machine_log import MachineEventKind
from core.machine.profile import MachineProfile
from core.metrology.readings import Unit
from core.said import Name, Part, Series, lines, said
from ui.bench.desks.machines import (
    AbandonCorrection,
    BeginCorrection,
    ChooseMachine,
    GuidedAnswer,
    LogMachineEvent,
    SaveMachine,
)
from ui.pages.practice import NOT_YET
from ui.state.messages import Command
from ui.state.snapshot import Snapshot
from ui.terminal.help_lines import HelpLines

MACHINE_HELP: HelpLines = (
    ("machine", "the machines known, the one in use first"),
    ("machine router", "use this one"),
    (
        "machine router span_mm=640 held=screws screw_pitch_mm=1",
        "describe or change one (any field of a machine profile)",
    ),
    ("correct", "begin the guided correction that the coupon calls for"),
    ("done", "the step is done, the caution read"),
    ("gap 32.15", "a gap, in the unit shown, where one is asked for (or press the caliper's data button)"),
    ("abandon left clamp loose", "give the correction up, and how the machine was left"),
    ("event crash [note]", "log crash, move, belt-change, tool-change or play-cured"),
)


def parse_machine_line(words: list[str], snapshot: Snapshot) -> Command | Part | str | None:
    """The command these words mean, or the sentence that answers them; None when they are not about machines."""
    match words:
        case ["machine"]:
            return machines_text(snapshot)
        case ["machine", name, *fields]:
            return _machine(name, fields, snapshot)
        case ["correct"] if snapshot.exercise_is_open:
            return NOT_YET
        case ["correct"]:
            return BeginCorrection()
        case ["done"]:
            return GuidedAnswer()
        case ["gap", number]:
            return _gap(number, snapshot.settings.notation.length_unit)
        case ["abandon", *reason] if reason:
            return AbandonCorrection(reason=" ".join(reason))
        case ["event", kind, *note] if kind in list(MachineEventKind):
            return LogMachineEvent(kind=MachineEventKind(kind), note=" ".join(note))
        case _:
            return None


def machines_text(snapshot: Snapshot) -> str:
    """The machines known, one a line."""
    view = snapshot.machines
    if view.current is None:
        return "No machine is described yet: machine NAME span_mm=640 held=screws screw_pitch_mm=1"
    lines = []
    for profile in sorted(view.profiles, key=lambda profile: profile is not view.current):
        mark = "*" if profile is view.current else " "
        lines.append(f"{mark} {profile.name}: span {profile.span_mm:g} mm, squareness held by {profile.holding.label}")
    return "\n".join(lines)


def guided_lines(guided: GuidedState) -> Part:
    """The present step of a correction: its title, what to do, and what to type then."""
    typed = "gap NUMBER" if guided.stage in PHASE_OF_STAGE else "done"
    return lines(
        Series((Name("=="), title(guided))),
        *(Series((Name("  "), sentence)) for sentence in sentences(guided)),
        Series((Name("  "), said("then type: {typed}", typed=Name(typed)))),
    )


def _gap(number: str, unit: Unit) -> Command | str:
    try:
        return GuidedAnswer(gap_mm=unit.to_internal(float(number.replace(",", "."))))
    except ValueError:
        return f"'{number}' is not a number"


def _machine(name: str, fields: list[str], snapshot: Snapshot) -> Command | str:
    known = next((profile for profile in snapshot.machines.profiles if profile.name == name), None)
    if not fields:
        return ChooseMachine(name=name) if known else f"There is no machine {name!r}: describe it with span_mm=..."
    try:
        # Each value has the type its field declares; only the profile itself can check them.
        values: dict[str, Any] = dict(_field(text) for text in fields)
        if known is not None:
            return SaveMachine(profile=dataclasses.replace(known, **values))
        return SaveMachine(profile=MachineProfile(name=name, **values))
    except BadInputError as error:
        return str(error)
    except TypeError:
        return "A machine needs its span: the distance between the two places that can be moved, such as span_mm=640."


def _field(text: str) -> tuple[str, object]:
    """One `name=value` of a machine profile, in the type that the profile declares."""
    name, equals, value = text.partition("=")
    hints = get_type_hints(MachineProfile)
    if not equals or name not in hints or name == "name":
        known = ", ".join(field for field in hints if field != "name")
        raise BadInputError(f"{text!r}: a field of a machine is one of {known}")
    return name, _converted(name, value, hints[name])


def _converted(name: str, value: str, hint: object) -> object:
    if get_origin(hint) in (Union, types.UnionType):
        (hint,) = (inner for inner in get_args(hint) if inner is not type(None))
    if get_origin(hint) is tuple:
        return tuple(_converted(name, part, get_args(hint)[0]) for part in value.split(","))
    if hint is bool:
        return value.lower() in ("yes", "true", "1")
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        if value not in list(hint):
            raise BadInputError(f"{name}={value}: it must be one of {', '.join(hint)}")
        return hint(value)
    if hint is float:
        try:
            return float(value.replace(",", "."))
        except ValueError as error:
            raise BadInputError(f"{name}={value}: it must be a number") from error
    return value
