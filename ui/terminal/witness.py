"""The text bench on the witness of a move: what is asked, and what is typed to answer it. Pure.

Input: words and the snapshot they answer to. Output: a command, or the sentences that answer.
"""

from collections.abc import Iterator

from core.geometry import Feature
from core.machine import Overhang, StepGauge, fence_steps
from core.metrology import Light, MarkSeen
from core.said import Name, Part, Said, Series, lines, said
from ui.bench import ConfirmMark, FindByReversal, SeeLight, TryAStep
from ui.pages.witness import Ask, WitnessPage, witness_is_wanted, witness_page
from ui.state import Command, Snapshot
from ui.terminal.help_lines import HelpLines
from ui.terminal.indented import indented, listed
from ui.terminal.typed_values import typed_number

WITNESS_HELP: HelpLines = (
    ("witness", said("what is missing before a move can be said, and what to type for it")),
    ("mark nl", said("the corner that carried the mark on the bed: nl nr fr fl, 'mirrored' or 'unknown'")),
    (
        "light nl blade-end",
        said(
            "a try square along the near edge, at nl and at nr: light at the blade-end, at the corner, or cannot-tell"
        ),
    ),
    ("fence", said("how the skew is found with one coupon, a fence and a pencil")),
    (
        "reversal 1.40 lower [paper|lines]",
        said("the step found, and which coupon (or line) stands out: lower, upper, none"),
    ),
    ("trial", said("no witness: names and mark looked at once more, a part of the move is tried")),
)
# What is typed to take each way.
_TYPED = {
    Ask.LIGHT_NL: "light nl blade-end, light nr corner",
    Ask.PENCIL: "fence, then: reversal 1.40 lower lines",
    Ask.FEELERS: "reversal",
    Ask.TRIAL: "trial",
    "bench": "nl 89.6",
    "correct": "correct",
}


def parse_witness_line(words: list[str], snapshot: Snapshot) -> Command | Said | Series | None:
    """The command these words mean, or the sentences that answer them; None when they are about something else."""
    match words:
        case ["witness"]:
            return witness_lines(snapshot)
        case ["mark", corner] if corner in list(MarkSeen):
            return ConfirmMark(corner=MarkSeen(corner))
        case ["light", corner, light] if corner in (Feature.NL, Feature.NR) and light in list(Light):
            return SeeLight(corner=Feature(corner), light=Light(light))
        case ["mark", _] | ["light", *_]:
            return said("say it such as: {mark} or {light}", mark=Name("mark nl"), light=Name("light nl blade-end"))
        case ["fence"] if snapshot.coupon is not None:
            return listed(*fence_steps(snapshot.coupon))
        case ["reversal" | "flip", step, overhang, *gauge] if len(gauge) <= 1:
            return _reversal(step, overhang, gauge[0] if gauge else StepGauge.FEELER)
        case ["trial"]:
            return TryAStep()
        case _:
            return None


def witness_lines(snapshot: Snapshot) -> Series:
    """The question that is up, and what to type for each answer."""
    page = witness_page(snapshot)
    text = (listed(page.text),) if page.text else ()
    return lines(page.title, *text, *_choices(page))


def question_of(snapshot: Snapshot) -> Part | None:
    """What is to be answered before the move can be said, once; None while nothing is."""
    return witness_lines(snapshot) if witness_is_wanted(snapshot) else None


def _choices(page: WitnessPage) -> Iterator[Part]:
    for name, words in page.choices:
        if name == "bench" and page.asks is Ask.NOTHING:
            continue  # a terminal is at the bench already
        typed = f"mark {name}" if page.asks is Ask.MARK else _TYPED.get(name, name)
        yield indented(said("{words}: {typed}", words=words, typed=Name(typed)), "     ")


def _reversal(step: str, overhang: str, gauge: str) -> Command | Said:
    step_mm = typed_number(step)
    if overhang not in list(Overhang) or gauge not in list(StepGauge):
        return said(
            "say what stands out, lower or upper (or none), and feeler, paper or lines: {example}",
            example=Name("reversal 1.40 lower"),
        )
    return FindByReversal(step_mm=step_mm, overhang=Overhang(overhang), gauge=StepGauge(gauge))
