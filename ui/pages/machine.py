"""Describing a machine one question at a time: what to ask next, and the profile that the answers make.

Stage: machine screen. Input: answers so far. Output: the next question, or the profile. Units mm. No widget in here.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from core.errors import BadInputError
from core.machine.directions import Axis, Front, Side
from core.machine.holding import HOLDINGS, HowHeld, UnitKind
from core.machine.parallelism import gap_span_mm
from core.machine.profile import MAX_SPAN_MM, MachineProfile, Process
from core.said import Length, Name, Part, Said, lines, said
from ui.speech.language import Language, said_in

# In the order in which they were asked.
Answers = tuple[tuple[str, str], ...]
UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineQuestion:
    """`choices` are (answer, words); with a `unit` a number is asked for, and the choices are ways around it."""

    name: str
    text: str
    choices: tuple[tuple[str, Part | str], ...] = ()
    unit: str = ""


_NUMBER_OF_UNIT = {
    UnitKind.TURN: ("screw_pitch_mm", "How far does one turn of the adjusting screw move it?", "mm"),
    UnitKind.TOOTH: ("belt_pitch_mm", "What is the pitch of the belt, tooth to tooth?", "mm"),
    UnitKind.SHIM: ("thinnest_shim_mm", "How thick is the thinnest shim you have?", "mm"),
    UnitKind.STEP: ("steps_per_mm", "How many motor steps make one millimetre?", "steps"),
}
PROCESS_WORDS = {
    Process.LASER: "Laser",
    Process.ROUTER: "Router",
    Process.KNIFE: "Knife",
    Process.PLOTTER: "Plotter",
    Process.OTHER: "Other",
}
_FRONT_WORDS = (
    (Front.Y_AWAY, "Y grows away from me"),
    (Front.Y_TOWARD, "Y grows towards me"),
    (Front.X_AWAY, "X grows away from me"),
    (Front.X_TOWARD, "X grows towards me"),
)


def next_question(
    answers: Answers, taken_names: Collection[str], language: Language = Language.ENGLISH
) -> MachineQuestion | None:
    """The first question without an answer; None when the machine is described. Names are offered in the language."""
    known = dict(answers)
    names = _free_names(known.get("process", ""), taken_names, language)
    return next((question for question in _questions(known, names) if question.name not in known), None)


def _questions(known: dict[str, str], names: list[str]) -> list[MachineQuestion]:
    questions = [
        MachineQuestion(
            name="process",
            text="What does the machine cut with?",
            choices=tuple((process.value, words) for process, words in PROCESS_WORDS.items()),
        ),
        MachineQuestion(
            name="name",
            text="What shall it be called?",
            choices=tuple((name, name) for name in names),
        ),
        MachineQuestion(
            name="gantry_axis",
            text="Along which machine axis does the gantry lie?",
            choices=((Axis.X, "Along X"), (Axis.Y, "Along Y")),
        ),
        MachineQuestion(
            name="front",
            text="Stand at the front. Which machine axis leads away from you or towards you?",
            choices=_FRONT_WORDS,
        ),
        MachineQuestion(
            name="span_mm",
            text="How far apart are the two places where the gantry's ends can be moved?",
            unit="mm",
        ),
        MachineQuestion(
            name="held",
            text="What holds the gantry square?",
            choices=tuple((held.value, holding.label) for held, holding in HOLDINGS.items()),
        ),
    ]
    number = _NUMBER_OF_UNIT.get(HOLDINGS[HowHeld(known["held"])].unit) if "held" in known else None
    if number:
        questions.append(
            MachineQuestion(name=number[0], text=number[1], unit=number[2], choices=((UNKNOWN, "I do not know"),))
        )
    if "held" in known and known["held"] != HowHeld.NOT_ADJUSTABLE:
        questions += _end_questions(known)
    questions.append(
        MachineQuestion(
            name="part_side_mm",
            text="How long is a side of the parts you make? A skew is shown on it.",
            unit="mm",
            choices=((UNKNOWN, "They differ"),),
        )
    )
    questions.append(
        MachineQuestion(
            name="controller_skew_set",
            text="Is a squareness compensation already set in the controller? It must not be corrected twice.",
            choices=(("no", "No"), ("yes", "Yes"), (UNKNOWN, "I do not know")),
        )
    )
    return questions


def _end_questions(known: dict[str, str]) -> list[MachineQuestion]:
    """Which end moves, and where the gaps are read; a correction's direction rests on these."""
    machine = MachineProfile(
        name="",
        span_mm=MAX_SPAN_MM,
        gantry_axis=Axis(known["gantry_axis"]),
        front=Front(known["front"]),
        held=HowHeld(known["held"]),
    )
    across = [side for side in Side if side not in machine.ends]
    part = machine.holding.part
    return [
        MachineQuestion(
            name="movable",
            text=f"Which end of the {part} can be moved? As you see it from the front.",
            choices=(("both", "Either end"), *((end.value, f"The {end} end only") for end in machine.ends)),
        ),
        MachineQuestion(
            name="reference",
            text=f"Gaps are read from something fixed to the {part}. On which side of the {part} does it lie?",
            choices=tuple((side.value, f"On the {side} side") for side in across),
        ),
        MachineQuestion(
            name="gap_span_mm",
            text="How far apart are the two places where you will read the gaps?",
            unit="mm",
            choices=((UNKNOWN, "At the adjusters"),),
        ),
    ]


def _free_names(process: str, taken_names: Collection[str], language: Language) -> list[str]:
    words = PROCESS_WORDS[Process(process)] if process and process != Process.OTHER else "Machine"
    # A name is kept as it is given, so it is made in the person's language; English writes nouns small.
    noun = words.lower() if language is Language.ENGLISH else said_in(language, words)
    names = [noun, *(f"{noun} {number}" for number in range(2, 9 + len(taken_names)))]
    return [name for name in names if name not in taken_names][:4]


def profile_of(answers: Answers) -> MachineProfile | str:
    """The profile, or the sentence that says what is wrong with an answer."""
    known = dict(answers)
    try:
        return MachineProfile(
            name=known["name"],
            span_mm=_number(known["span_mm"]) or 0.0,
            process=Process(known["process"]),
            gantry_axis=Axis(known["gantry_axis"]),
            front=Front(known["front"]),
            held=HowHeld(known["held"]),
            movable=(Side(movable),) if (movable := known.get("movable", "both")) != "both" else (),
            reference=Side(known["reference"]) if "reference" in known else None,
            gap_span_mm=_number(known.get("gap_span_mm")),
            part_side_mm=_number(known.get("part_side_mm")),
            controller_skew_set=known["controller_skew_set"] == "yes",
            screw_pitch_mm=_number(known.get("screw_pitch_mm")),
            belt_pitch_mm=_number(known.get("belt_pitch_mm")),
            thinnest_shim_mm=_number(known.get("thinnest_shim_mm")),
            steps_per_mm=_number(known.get("steps_per_mm")),
        )
    except BadInputError as error:
        return str(error)


def _number(text: str | None) -> float | None:
    return None if text is None or text == UNKNOWN else float(text)


def facts(profile: MachineProfile) -> Part:
    """The profile in a few lines."""
    span, apart = Length(profile.span_mm, None), Length(gap_span_mm(profile), None)
    first, second = profile.ends[0].word, profile.ends[1].word
    if len(profile.can_move) == 2:
        moves = said("moves: the {first} or the {second} end", first=first, second=second)
    else:
        moves = said("moves: the {end} end", end=profile.can_move[0].word)
    return lines(
        said("cuts with: {process}", process=Said(PROCESS_WORDS[profile.process])),
        said("gantry: along {axis}, {span} between its ends", axis=Name(profile.gantry_axis.upper()), span=span),
        said("held square by: {holding}", holding=profile.holding.label),
        moves,
        said("gaps: from the {side} side, {apart} apart", side=profile.reference_side.word, apart=apart),
        said("controller: compensates squareness already")
        if profile.controller_skew_set
        else said("controller: compensates no squareness"),
    )
