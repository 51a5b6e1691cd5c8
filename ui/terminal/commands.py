"""What a person types at the text bench, as commands. Pure.

Input: a line and the snapshot it answers to. Output: a command, or the sentence that says what was not understood.
"""

import argparse

from core.errors import BadInputError
from core.geometry import Coupon, Feature
from core.machine import MachineProfile
from core.metrology import MATERIALS, CheckedLength, Quantity, Scope, Unit, expansion_difference
from core.records import cell_of
from core.said import Column, Name, Part, Said, lines, said
from ui.bench import (
    NOTHING_TO_STOP,
    NOTHING_TO_TAKE_BACK,
    AnswerQuestion,
    ChangeSettings,
    CheckCaliper,
    CheckGauge,
    CloseSession,
    ConfirmMark,
    OpenSession,
    OwnLimits,
    SelectFeature,
    StopHand,
    StopWork,
    TakeReading,
    TypeReading,
    VoidReading,
)
from ui.bench.opening import opening
from ui.pages.setup import QUESTIONS, SettingQuestion, changed
from ui.speech import Speech
from ui.state import Command, Question, Settings, Snapshot
from ui.terminal.causes import CAUSES_HELP, parse_causes_line
from ui.terminal.help_lines import WIDE, HelpLines, help_lines
from ui.terminal.indented import indented
from ui.terminal.instruments import INSTRUMENTS_HELP, parse_instruments_line
from ui.terminal.machine import MACHINE_HELP, parse_machine_line
from ui.terminal.practice import PRACTICE_HELP, parse_practice_line
from ui.terminal.records import RECORDS_HELP, parse_records_line
from ui.terminal.typed_values import seats_argument, seats_of, size_argument, typed_number
from ui.terminal.witness import WITNESS_HELP, parse_witness_line

MEASURING_HELP: HelpLines = (
    (
        "new 120x80 [mK]",
        said(
            "begin a coupon: width x height in mm, ISO 2768 class; behind it, as wanted: "
            "'edge=0.2' 'perp=0.4' 'corner=0.3' 'diagonal=0.5' (limits of your own, mm and "
            "degrees, alone or in place of the class's), 'quick' (squareness alone, on two "
            "diagonals), 'seats 8,5' (the jaws lie on seats, those of NL-FR first), 'window "
            "60x40' (its inner window), 'acrylic 27' (material, temperature), 'grid spring B3' "
            "(one of a set cut over the bed, for 'cornerwise bed-map spring')"
        ),
    ),
    (
        "near 119.85",
        said(
            "type a reading (near right far left nl-fr nr-fl nl nr fr fl window-width "
            "window-height), in the unit that is shown; add 'mm' or 'inch' for another"
        ),
    ),
    ("near", said("the next length (or corner) is this one")),
    ("take", said("take what the caliper shows now; 'take corner' for the angle gauge")),
    ("mark", said("the orientation mark lay beside NL, as it was cut")),
    ("check caliper 0=0.01,0.00 50.8=50.81", said("before measuring: closed jaws and setting blocks, in mm")),
    ("check gauge 90.1,90.2 90.3,90.3", said("a square, and the same square turned over, in degrees")),
    ("void 7 slipped", said("reading 7 does not count, and why")),
    ("undo", said("take back what was done last, within ten seconds: a reading, a void, a finish, an event")),
    ("close", said("the coupon is done: verdict")),
    ("set", said("what can be chosen (units, angles, decimal mark ...); 'set lengths inch' chooses")),
    ("cancel", said("wait no longer for what is under way")),
    ("stop", said("take over from the simulated hand")),
    ("quit", said("leave; the coupon stays open and goes on next time")),
)
HELP = (*MEASURING_HELP, *MACHINE_HELP, *WITNESS_HELP, *CAUSES_HELP, *RECORDS_HELP, *INSTRUMENTS_HELP, *PRACTICE_HELP)

_OWN_LIMIT = {"edge": "edge_mm", "perp": "perpendicularity_mm", "corner": "corner_deg", "diagonal": "diagonal_mm"}
_UNITS = {"mm": Unit.MM, "inch": Unit.INCH, "in": Unit.INCH, "deg": Unit.DEG}


def help_text(speech: Speech, width: int = WIDE) -> str:
    """Everything that can be typed, explained; the commands are the same in every language."""
    return help_lines(HELP, speech.say, width)


def parse_line(line: str, snapshot: Snapshot) -> Command | Part:
    """The command a line means, or what is wrong with it; a question that is up is answered by the number of the
    choice."""
    try:
        return _meant(line, snapshot)
    except BadInputError as error:
        return error.what


def _meant(line: str, snapshot: Snapshot) -> Command | Part:
    words = line.split()
    if not words:
        return said("type 'help' to see what can be typed")
    if snapshot.question is not None:
        return _answer(words[0], snapshot.question)
    for parse in (
        parse_machine_line,
        parse_witness_line,
        parse_causes_line,
        parse_records_line,
        parse_instruments_line,
        parse_practice_line,
    ):
        if (meant := parse(words, snapshot)) is not None:
            return meant
    match words:
        case ["new", size, *rest]:
            return _new(size, rest, snapshot.machines.current)
        case ["take"]:
            return TakeReading(quantity=Quantity.LENGTH)
        case ["take", "corner"]:
            return TakeReading(quantity=Quantity.ANGLE)
        case ["mark"]:
            return ConfirmMark()
        case ["check", "caliper", *lengths] if lengths:
            return _check_caliper(lengths)
        case ["check", "gauge", square, turned_over]:
            return _check_gauge(square, turned_over)
        case ["set"]:
            return lines(*(indented(_setting(question, snapshot.settings), "  ") for question in QUESTIONS))
        case ["set", name, answer]:
            settings = changed(snapshot.settings, name, answer)
            return ChangeSettings(settings=settings) if settings else said("type 'set' to see what can be chosen")
        case ["close"]:
            return CloseSession()
        case ["stop"]:
            return StopHand()
        case ["cancel"]:
            return StopWork(key=snapshot.work.key) if snapshot.work else NOTHING_TO_STOP
        case ["undo"]:
            return snapshot.undo.command if snapshot.undo else NOTHING_TO_TAKE_BACK
        case ["void", number, *reason]:
            return _void(number, " ".join(reason))
        case [name, *rest] if name in list(Feature):
            return _for_feature(Feature(name), rest, snapshot.settings.notation.length_unit)
        case _:
            return said("'{line}' is not understood; type 'help' to see what can be typed", line=Name(line.strip()))


def _setting(question: SettingQuestion, settings: Settings) -> Said:
    """What is chosen and what could be, as it is typed at the text bench."""
    return said(
        "{name} {chosen} of {choices}",
        name=Column(Name(f"set {question.name}"), 13),
        chosen=Column(Name(question.chosen(settings)), 24),
        choices=Name(", ".join(name for name, _ in question.choices)),
    )


def _answer(word: str, question: Question) -> Command | Part:
    numbers = {str(number): name for number, (name, _) in enumerate(question.choices, start=1)}
    if word not in numbers:
        return said("answer with a number from 1 to {last}", last=len(numbers))
    return AnswerQuestion(question=question.name, answer=numbers[word])


def _new(size: str, rest: list[str], machine: MachineProfile | None) -> Command | Part:
    tolerance_class, scope, expansion, grid, place = None, Scope.ALL, None, "", ""
    own: dict[str, float] = {}
    window_mm: tuple[float | None, float | None] = (None, None)
    try:
        width_mm, height_mm = size_argument(size)
        seats = None
        if rest and rest[0] not in ("quick", "window", "seats", "grid", *MATERIALS) and "=" not in rest[0]:
            tolerance_class, *rest = rest
        while rest:
            match rest:
                case [limit, *rest] if "=" in limit:
                    name, _, value = limit.partition("=")
                    own[_OWN_LIMIT[name]] = typed_number(value)
                case ["quick", *rest]:
                    scope = Scope.SQUARENESS
                case ["window", window, *rest]:
                    window_mm = size_argument(window)
                case ["seats", widths, *rest]:
                    seats = seats_of(seats_argument(widths))
                case ["grid", grid, place, *rest]:
                    cell_of(place)
                case [material, temperature, *rest]:
                    expansion = expansion_difference(material, typed_number(temperature))
                case _:
                    raise ValueError
        coupon = Coupon(
            width_mm=width_mm,
            height_mm=height_mm,
            window_width_mm=window_mm[0],
            window_height_mm=window_mm[1],
            seats=seats,
        )
        return OpenSession(
            opened=opening(
                coupon,
                tolerance_class,
                machine,
                own=OwnLimits(**own),
                scope=scope,
                expansion=expansion,
                grid=grid,
                place=place,
            )
        )
    except BadInputError as error:
        return error.what
    except argparse.ArgumentTypeError as error:
        return error.args[0] if isinstance(error.args[0], Said) else Name(str(error))
    except (ValueError, KeyError):
        return said(
            "a new coupon reads such as: new 120x80, new 120x80 mK quick, new 120x80 mK window 60x40 acrylic 27"
        )


def _check_caliper(lengths: list[str]) -> Command | Part:
    try:
        pairs = [length.split("=") for length in lengths]
        return CheckCaliper(
            lengths=tuple(CheckedLength(nominal_mm=float(at), readings_mm=_numbers(shown)) for at, shown in pairs)
        )
    except BadInputError as error:
        return error.what
    except ValueError:
        return said("a check of the caliper reads such as: check caliper 0=0.01,0.00 50.8=50.81")


def _check_gauge(square: str, turned_over: str) -> Command | Part:
    try:
        return CheckGauge(square_deg=_numbers(square), turned_over_deg=_numbers(turned_over))
    except ValueError:
        return said("a check of the gauge reads such as: check gauge 90.1,90.2 90.3,90.3")


def _numbers(text: str) -> tuple[float, ...]:
    return tuple(float(number) for number in text.split(","))


def _void(number: str, reason: str) -> Command | Part:
    if not number.isdecimal() or not reason:
        return said("say which reading and why, such as: void 7 jaw slipped")
    return VoidReading(number=int(number), reason=reason)


def _for_feature(feature: Feature, rest: list[str], length_unit: Unit) -> Command | Part:
    if not rest:
        return SelectFeature(feature=feature)
    shown = typed_number(rest[0])
    unit = _UNITS.get(rest[1].lower()) if len(rest) > 1 else (length_unit if feature.is_length else Unit.DEG)
    if unit is None or unit.quantity is not (Quantity.LENGTH if feature.is_length else Quantity.ANGLE):
        return said("'{unit}' is no unit for the {feature}", unit=Name(rest[1]), feature=feature.label)
    return TypeReading(feature=feature, shown=shown, unit=unit)
