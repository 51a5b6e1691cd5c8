"""Describing a machine one question at a time: what to ask next, what the answers make, and what follows from them.

Stage: machine screen. Input: answers so far. Output: the next question, the profile, or sentences. Units mm. No widget.
Any answer can be changed later: what no longer fits it is asked anew, and nothing else.
"""

from collections.abc import Collection

from msgspec import Struct
from msgspec.structs import replace

from core.errors import BadInputError
from core.machine import (
    HOLDINGS,
    MAX_SPAN_MM,
    Axis,
    Front,
    HowHeld,
    MachineProfile,
    Process,
    Side,
    TurnedPart,
    UnitKind,
    gap_span_mm,
    move_of_skew,
)
from core.metrology import Estimate
from core.said import NOTHING, Angle, Length, Name, Part, Said, lines, said
from ui.speech import AS_WORDED, Speech

# In the order in which they are asked.
Answers = tuple[tuple[str, str], ...]
UNKNOWN = "unknown"
BOTH = "both"
_SHOWN_SKEW_DEG = 0.1


class MachineQuestion(Struct, frozen=True, kw_only=True):
    """`choices` are (answer, words); with a `unit` a number is asked for, and the choices are ways around it. The name
    is typed freely, its choices are offers. `short` names the question in a list."""

    name: str
    short: Said
    text: Said
    choices: tuple[tuple[str, Part], ...] = ()
    unit: str = ""


PROCESS_WORDS = {
    Process.LASER: said("Laser"),
    Process.ROUTER: said("Router"),
    Process.KNIFE: said("Knife"),
    Process.PLOTTER: said("Plotter"),
    Process.OTHER: said("Other"),
}
_FRONT_WORDS = (
    (Front.Y_AWAY.value, said("Y grows away from me")),
    (Front.Y_TOWARD.value, said("Y grows towards me")),
    (Front.X_AWAY.value, said("X grows away from me")),
    (Front.X_TOWARD.value, said("X grows towards me")),
)
_DO_NOT_KNOW: tuple[str, Part] = (UNKNOWN, said("I do not know"))


def _unit_question(name: str, short: Said, text: Said, unit: str = "mm") -> MachineQuestion:
    return MachineQuestion(name=name, short=short, text=text, unit=unit, choices=(_DO_NOT_KNOW,))


_NUMBER_OF_UNIT = {
    UnitKind.TURN: _unit_question(
        "screw_pitch_mm", said("Screw pitch"), said("How far does one turn of the adjusting screw move it?")
    ),
    UnitKind.TOOTH: _unit_question(
        "belt_pitch_mm", said("Belt pitch"), said("What is the pitch of the belt, tooth to tooth?")
    ),
    UnitKind.SHIM: _unit_question(
        "thinnest_shim_mm", said("Thinnest shim"), said("How thick is the thinnest shim you have?")
    ),
    UnitKind.STEP: _unit_question(
        "steps_per_mm", said("Motor steps"), said("How many motor steps make one millimetre?"), unit="steps"
    ),
}
_SIDE_CHOICE = {
    Side.LEFT: said("On the left side"),
    Side.RIGHT: said("On the right side"),
    Side.NEAR: said("On the near side"),
    Side.FAR: said("On the far side"),
}
_ONE_END = {
    Side.LEFT: said("The left end only"),
    Side.RIGHT: said("The right end only"),
    Side.NEAR: said("The near end only"),
    Side.FAR: said("The far end only"),
}
_PROCESS = MachineQuestion(
    name="process",
    short=said("Cuts with"),
    text=said("What does the machine cut with?"),
    choices=tuple((process.value, words) for process, words in PROCESS_WORDS.items()),
)
_FRONT = MachineQuestion(
    name="front",
    short=said("Front"),
    text=said("Stand at the front. Which machine axis leads away from you or towards you?"),
    choices=_FRONT_WORDS,
)
_GANTRY_AXIS = MachineQuestion(
    name="gantry_axis",
    short=said("Gantry"),
    text=said("Along which machine axis does the gantry lie?"),
    choices=((Axis.X.value, said("Along X")), (Axis.Y.value, said("Along Y"))),
)
_SPAN = MachineQuestion(
    name="span_mm",
    short=said("Span"),
    text=said("How far apart are the two places where the gantry's ends can be moved?"),
    unit="mm",
)
_HELD = MachineQuestion(
    name="held",
    short=said("Held square by"),
    text=said("What holds the gantry square?"),
    choices=(
        (HowHeld.CROSS_SHAFT.value, said("Cross shaft, loosened")),
        (HowHeld.CROSS_SHAFT_TEETH.value, said("Cross shaft, whole teeth")),
        (HowHeld.BELT_CLAMPS.value, said("Belt clamps")),
        (HowHeld.SCREWS.value, said("Adjusting screws")),
        (HowHeld.SHIMS.value, said("Shims")),
        (HowHeld.TWO_MOTORS_TWO_SWITCHES.value, said("Two motors, two switches")),
        (HowHeld.TWO_MOTORS_ONE_SWITCH.value, said("Two motors, one switch")),
        (HowHeld.RAILS.value, said("Rails or bed")),
        (HowHeld.NOT_ADJUSTABLE.value, said("Nothing to set")),
        (HowHeld.NOT_SAID.value, said("I do not know")),
    ),
)
_GAP_SPAN = MachineQuestion(
    name="gap_span_mm",
    short=said("Gaps apart"),
    text=said("How far apart are the two places where you will read the gaps?"),
    unit="mm",
    choices=((UNKNOWN, said("At the adjusters")),),
)
_PART_SIDE = MachineQuestion(
    name="part_side_mm",
    short=said("Your parts"),
    text=said("How long is a side of the parts you make? A skew is shown on it."),
    unit="mm",
    choices=((UNKNOWN, said("They differ")),),
)
_CONTROLLER = MachineQuestion(
    name="controller_skew_set",
    short=said("Controller"),
    text=said("Is a squareness compensation already set in the controller? It must not be corrected twice."),
    choices=(("no", said("No")), ("yes", said("Yes")), _DO_NOT_KNOW),
)


def next_question(answers: Answers, taken_names: Collection[str], speech: Speech = AS_WORDED) -> MachineQuestion | None:
    """The first question without an answer; None when the machine is described. Names are offered in the language."""
    known = dict(answers)
    return next((question for question in questions(answers, taken_names, speech) if question.name not in known), None)


def questions(
    answers: Answers, taken_names: Collection[str] = (), speech: Speech = AS_WORDED
) -> tuple[MachineQuestion, ...]:
    """Every question that these answers lead to, in order."""
    known = dict(answers)
    asked = [
        _PROCESS,
        _name_question(known.get("process", ""), taken_names, speech),
        _FRONT,
        _GANTRY_AXIS,
        _SPAN,
        _HELD,
    ]
    number = _NUMBER_OF_UNIT.get(HOLDINGS[HowHeld(known["held"])].unit) if "held" in known else None
    if number:
        asked.append(number)
    if {"held", "gantry_axis", "front"} <= known.keys() and known["held"] != HowHeld.NOT_ADJUSTABLE:
        asked += _end_questions(known)
    return (*asked, _PART_SIDE, _CONTROLLER)


def changed(answers: Answers, name: str, value: str) -> Answers:
    """The answers after one more, or another one; those that it makes senseless are gone."""
    known = dict(answers) | {name: value}
    kept: Answers = ()
    for question in questions(tuple(known.items())):
        given = known.get(question.name)
        if given is None or not (question.unit or question.name == "name" or given in dict(question.choices)):
            continue
        kept = (*kept, (question.name, given))
    return kept


def _name_question(process: str, taken_names: Collection[str], speech: Speech) -> MachineQuestion:
    return MachineQuestion(
        name="name",
        short=said("Name"),
        text=said("What shall it be called?"),
        choices=tuple((name, Name(name)) for name in _free_names(process, taken_names, speech)),
    )


def _end_questions(known: dict[str, str]) -> list[MachineQuestion]:
    """Which end moves, and where the gaps are read; a correction's direction rests on these."""
    machine = MachineProfile(
        name="",
        span_mm=MAX_SPAN_MM,
        gantry_axis=Axis(known["gantry_axis"]),
        front=Front(known["front"]),
        held=HowHeld(known["held"]),
    )
    rails = machine.holding.part is TurnedPart.RAILS
    return [
        MachineQuestion(
            name="movable",
            short=said("Moves"),
            text=said("Which end of the rails can be moved? As you see it from the front.")
            if rails
            else said("Which end of the gantry can be moved? As you see it from the front."),
            choices=((BOTH, said("Either end")), *((end.value, _ONE_END[end]) for end in machine.ends)),
        ),
        MachineQuestion(
            name="reference",
            short=said("Gaps from"),
            text=said("Gaps are read from something fixed to the rails. On which side of the rails does it lie?")
            if rails
            else said("Gaps are read from something fixed to the gantry. On which side of the gantry does it lie?"),
            choices=tuple((side.value, _SIDE_CHOICE[side]) for side in Side if side not in machine.ends),
        ),
        _GAP_SPAN,
    ]


def _free_names(process: str, taken_names: Collection[str], speech: Speech) -> list[str]:
    words = PROCESS_WORDS[Process(process)] if process and process != Process.OTHER else said("Machine")
    # A name is kept as it is given, so it is made in the person's language; English writes nouns small.
    noun = speech.say(words)
    noun = noun.lower() if noun == words.message else noun
    names = [noun, *(f"{noun} {number}" for number in range(2, 9 + len(taken_names)))]
    return [name for name in names if name not in taken_names][:3]


def profile_of(answers: Answers, before: MachineProfile | None = None) -> MachineProfile | Part:
    """The profile, or the sentence that says what is wrong with an answer. What nobody is asked stays as `before`."""
    known = dict(answers)
    try:
        described = before or MachineProfile(name=known["name"], span_mm=MAX_SPAN_MM)
        return replace(
            described,
            name=known["name"],
            span_mm=_number(known["span_mm"]) or 0.0,
            process=Process(known["process"]),
            gantry_axis=Axis(known["gantry_axis"]),
            front=Front(known["front"]),
            held=HowHeld(known["held"]),
            movable=(Side(movable),) if (movable := known.get("movable", BOTH)) != BOTH else (),
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
        return error.what


def answers_of(profile: MachineProfile) -> Answers:
    """The answers that make this profile, so that each can be changed."""
    given = {
        "process": profile.process.value,
        "name": profile.name,
        "front": profile.front.value,
        "gantry_axis": profile.gantry_axis.value,
        "span_mm": f"{profile.span_mm:.10g}",
        "held": profile.held.value,
        "movable": profile.movable[0].value if len(profile.movable) == 1 else BOTH,
        "reference": profile.reference_side.value,
        "controller_skew_set": "yes" if profile.controller_skew_set else "no",
    }
    for name in ("screw_pitch_mm", "belt_pitch_mm", "thinnest_shim_mm", "steps_per_mm", "gap_span_mm", "part_side_mm"):
        number = getattr(profile, name)
        given[name] = UNKNOWN if number is None else f"{number:.10g}"
    asked = questions(tuple(given.items()))
    return tuple((question.name, given[question.name]) for question in asked)


def answer_words(question: MachineQuestion, answer: str) -> Part:
    """An answer as it stands beside its question."""
    words = dict(question.choices).get(answer)
    if words is not None:
        return words
    if not question.unit:
        return Name(answer)
    return Length(float(answer), None) if question.unit == "mm" else said("{number} per mm", number=Name(answer))


def _number(text: str | None) -> float | None:
    return None if text is None or text == UNKNOWN else float(text)


def consequence(profile: MachineProfile) -> Said:
    """What follows from the answers, in one sentence: what a skew does on this machine, and where it is cured."""
    skew = Angle(_SHOWN_SKEW_DEG, 1)
    off = Length(move_of_skew(Estimate(value=_SHOWN_SKEW_DEG, u=0.0), profile.span_mm).value, 1)
    if profile.held is HowHeld.NOT_ADJUSTABLE:
        return said(
            "A skew of {skew} puts its ends {off} out of square: nothing can be set, so the design file is corrected.",
            skew=skew,
            off=off,
        )
    if len(profile.can_move) == 2:
        return said(
            "A skew of {skew} puts its ends {off} out of square: either end can be set ({held}).",
            skew=skew,
            off=off,
            held=profile.holding.label,
        )
    return said(
        "A skew of {skew} puts its ends {off} out of square: the {end} end is set ({held}).",
        skew=skew,
        off=off,
        end=profile.can_move[0].word,
        held=profile.holding.label,
    )


def facts(profile: MachineProfile) -> Part:
    """The profile in a few lines."""
    span, apart = Length(profile.span_mm, None), Length(gap_span_mm(profile), None)
    first, second = profile.ends[0].word, profile.ends[1].word
    if len(profile.can_move) == 2:
        moves = said("moves: {first} or {second} end", first=first, second=second)
    else:
        moves = said("moves: the {end} end", end=profile.can_move[0].word)
    return lines(
        PROCESS_WORDS[profile.process],
        said("gantry along {axis}, {span}", axis=Name(profile.gantry_axis.upper()), span=span),
        profile.holding.label,
        moves,
        said("gaps from the {side} side, {apart}", side=profile.reference_side.word, apart=apart),
        said("the controller compensates squareness") if profile.controller_skew_set else NOTHING,
    )
