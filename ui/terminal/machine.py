"""The machine side of the text bench: what is typed about machines and corrections, and how they are shown. Pure.

Input: words and the snapshot they answer to. Output: a command, a sentence, or lines to print.
"""

import types
from enum import StrEnum
from typing import Any, Union, get_args, get_origin, get_type_hints

from msgspec.structs import replace

from core.errors import BadInputError
from core.machine import PHASE_OF_STAGE, GuidedState, MachineEventKind, MachineProfile, sentences, title
from core.said import Length, Name, Part, Said, Series, lines, said
from ui.bench import AbandonCorrection, BeginCorrection, ChooseMachine, GuidedAnswer, LogMachineEvent, SaveMachine
from ui.pages.practice import NOT_YET
from ui.state import Command, Snapshot
from ui.terminal.help_lines import HelpLines
from ui.terminal.indented import indented
from ui.terminal.typed_values import typed_number

MACHINE_HELP: HelpLines = (
    ("machine", said("the machines known, the one in use first")),
    ("machine router", said("use this one")),
    (
        "machine router span_mm=640 held=screws screw_pitch_mm=1",
        said("describe or change one (any field of a machine profile)"),
    ),
    ("correct", said("begin the guided correction that the coupon calls for")),
    ("done", said("the step is done, the caution read")),
    ("gap 32.15", said("a gap, in the unit shown, where one is asked for (or press the caliper's data button)")),
    ("abandon left clamp loose", said("give the correction up, and how the machine was left")),
    ("event crash [note]", said("log crash, move, belt-change, tool-change or play-cured")),
)


def parse_machine_line(words: list[str], snapshot: Snapshot) -> Command | Part | None:
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
            unit = snapshot.settings.notation.length_unit
            return GuidedAnswer(gap_mm=unit.to_internal(typed_number(number)))
        case ["abandon", *reason] if reason:
            return AbandonCorrection(reason=" ".join(reason))
        case ["event", kind, *note] if kind in list(MachineEventKind):
            return LogMachineEvent(kind=MachineEventKind(kind), note=" ".join(note))
        case _:
            return None


def machines_text(snapshot: Snapshot) -> Part:
    """The machines known, one a line."""
    machines = snapshot.machines
    if machines.current is None:
        return said("No machine is described yet: machine NAME span_mm=640 held=screws screw_pitch_mm=1")
    ordered = sorted(machines.profiles, key=lambda profile: profile is not machines.current)
    return lines(*(indented(_machine_line(one), "* " if one is machines.current else "  ") for one in ordered))


def _machine_line(profile: MachineProfile) -> Said:
    return said(
        "{machine}: span {span}, squareness held by {holding}",
        machine=Name(profile.name),
        span=Length(profile.span_mm, None),
        holding=profile.holding.label,
    )


def guided_lines(guided: GuidedState) -> Part:
    """The present step of a correction: its title, what to do, and what to type then."""
    typed = "gap NUMBER" if guided.stage in PHASE_OF_STAGE else "done"
    return lines(
        Series((Name("=="), title(guided))),
        *(indented(sentence, "   ") for sentence in sentences(guided)),
        indented(said("then type: {typed}", typed=Name(typed)), "   "),
    )


def _machine(name: str, fields: list[str], snapshot: Snapshot) -> Command | Part:
    known = next((profile for profile in snapshot.machines.profiles if profile.name == name), None)
    if not fields:
        if known is None:
            return said("There is no machine '{machine}': describe it with span_mm=...", machine=Name(name))
        return ChooseMachine(name=name)
    try:
        # Each value has the type its field declares; only the profile itself can check them.
        values: dict[str, Any] = dict(_field(text) for text in fields)
        if known is not None:
            return SaveMachine(profile=replace(known, **values))
        return SaveMachine(profile=MachineProfile(name=name, **values))
    except TypeError:
        return said(
            "A machine needs its span: the distance between the two places that can be moved, such as span_mm=640."
        )


def _field(text: str) -> tuple[str, object]:
    """One `name=value` of a machine profile, in the type that the profile declares."""
    name, equals, value = text.partition("=")
    hints = get_type_hints(MachineProfile)
    if not equals or name not in hints or name == "name":
        known = Name(", ".join(field for field in hints if field != "name"))
        raise BadInputError(said("'{text}': a field of a machine is one of {known}", text=Name(text), known=known))
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
            typed, known = Name(f"{name}={value}"), Name(", ".join(hint))
            raise BadInputError(said("{typed}: it must be one of {known}", typed=typed, known=known))
        return hint(value)
    if hint is float:
        return typed_number(value)
    return value
