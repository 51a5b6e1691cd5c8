"""Every place that says a move or asks for a hand says what comes before it, in both languages.

A place is a row of `PLACES`; a module that words a way of moving and has no row fails the last test.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from pathlib import Path

import pytest

from core.machine.cautions import before_cutting
from core.machine.gantry_correction import Correction
from core.machine.procedure import Power, Stage
from core.said import Part, Said, Series, paragraph
from tests.ui.scenes import SCENES
from ui.pages.causes import Page, causes_page
from ui.pages.correct import correct_page
from ui.pages.home import home_page
from ui.speech.language import Language
from ui.speech.speech import Speech
from ui.terminal.causes import parse_causes_line
from ui.terminal.machine import guided_lines
from ui.terminal.verdict import verdict_text

ENGLISH, GERMAN = Speech(), Speech(language=Language.GERMAN)
# What whoever is told a move is told in the same breath; what is said before hands go in.
BREATH = {
    ENGLISH: ("power off and unplugged", "cutter out", "maker's instructions", "local codes", "licensed practice"),
    GERMAN: ("ausgeschaltet", "netzstecker gezogen", "werkzeug heraus", "herstellerangaben", "örtliche vorschriften"),
}
ROUTER = {
    ENGLISH: ("hearing protection", "held down", "local codes", "hands out"),
    GERMAN: ("Gehörschutz", "gespannt", "örtliche Vorschriften", "Hände heraus"),
}
LASER = {
    ENGLISH: ("alone", "extinguisher", "PVC", "Eyewear"),
    GERMAN: ("unbeaufsichtigt", "Feuerlöscher", "PVC", "Laserschutzbrille"),
}
WAYS = {
    ENGLISH: ("nearer to you", "farther from you", "NEARER", "AWAY"),
    GERMAN: ("zu sich heran", "von sich weg", "NACH VORN", "NACH HINTEN"),
}


def correction() -> Correction:
    found = SCENES["to-correct"]().machines.correction
    assert isinstance(found, Correction)
    return found


def before() -> Part:
    page = correct_page(SCENES["to-correct"]())
    assert not isinstance(page.title, str)
    assert not isinstance(page.text, str)
    return paragraph(page.title, page.text)


def verdict(speech: Speech) -> str:
    snapshot = SCENES["to-correct"]()
    assert snapshot.evaluation is not None
    return speech.say(verdict_text(snapshot.evaluation, snapshot.machines.correction))


def typed(line: str) -> Part:
    answer = parse_causes_line(line.split(), SCENES["to-correct"]())
    assert isinstance(answer, Said | Series)
    return answer


SAYS_A_MOVE: dict[str, Callable[[Speech], str]] = {
    "Correct before Begin": lambda speech: speech.say(before()),
    "its details": lambda speech: speech.say(correct_page(SCENES["to-correct"]()).details),
    "home": lambda speech: speech.say(home_page(SCENES["to-correct"]()).story),
    "text bench and evaluate": verdict,
    "report and JSON": lambda speech: speech.say(correction().text),
    "typed without a machine": lambda speech: speech.say(correction().order.told),
}
ASKS_FOR_A_HAND: dict[str, Callable[[Speech], str]] = {
    "two gaps": lambda speech: speech.say(causes_page(SCENES["to-correct"](), Page.REFERENCE).text),
    "belts": lambda speech: speech.say(causes_page(SCENES["to-correct"](), Page.BELTS).text),
    "squared to its frame": lambda speech: speech.say(causes_page(SCENES["to-correct"](), Page.RESET).text),
    "two gaps, typed": lambda speech: speech.say(typed("reference")),
    "belts, typed": lambda speech: speech.say(typed("belts")),
    "squared to its frame, typed": lambda speech: speech.say(typed("reset")),
}


@pytest.mark.parametrize("speech", [ENGLISH, GERMAN], ids=["English", "German"])
@pytest.mark.parametrize("place", SAYS_A_MOVE)
def test_no_move_is_said_alone(place: str, speech: Speech) -> None:
    said = " ".join(SAYS_A_MOVE[place](speech).split())
    assert any(way in said for way in WAYS[speech]), said
    assert all(words in said.lower() for words in BREATH[speech]), said


@pytest.mark.parametrize("speech", [ENGLISH, GERMAN], ids=["English", "German"])
@pytest.mark.parametrize("place", ASKS_FOR_A_HAND)
def test_no_hand_is_asked_for_alone(place: str, speech: Speech) -> None:
    said = " ".join(ASKS_FOR_A_HAND[place](speech).split())
    assert all(words in said.lower() for words in BREATH[speech]), said


@pytest.mark.parametrize("speech", [ENGLISH, GERMAN], ids=["English", "German"])
def test_the_reversal_check_says_what_comes_before_cutting(speech: Speech) -> None:
    for said in (speech.say(causes_page(SCENES["to-correct"](), Page.REVERSAL).text), speech.say(typed("reversal"))):
        assert all(words in " ".join(said.split()) for words in ROUTER[speech]), said
    anything = speech.say(before_cutting())  # what cuts is not known: both
    assert all(words in anything for words in (*ROUTER[speech], *LASER[speech])), anything


@pytest.mark.parametrize("speech", [ENGLISH, GERMAN], ids=["English", "German"])
@pytest.mark.parametrize("scene", ["play", "loosen", "set", "recut"])
def test_every_step_says_the_state_of_power(scene: str, speech: Speech) -> None:
    snapshot = SCENES[scene]()
    guided = snapshot.machines.guided
    assert guided is not None
    assert guided.step is not None
    off = {ENGLISH: "Power off and unplugged.", GERMAN: "Ausgeschaltet und Netzstecker gezogen."}[speech]
    on = {ENGLISH: "Power on, hands and tools out.", GERMAN: "Eingeschaltet, Hände und Werkzeug heraus."}[speech]
    page = correct_page(snapshot)
    for said in (speech.say(page.power), speech.say(page.details), speech.say(guided_lines(guided))):
        assert (off if guided.step.power is Power.OFF else on) in said
    assert (page.setting is not None) is (page.to_go is not None) is (guided.stage is Stage.SET)


def test_a_move_is_worded_where_its_caution_is() -> None:
    """`Direction.words` and `.opposite.words` are used by these modules only, and each says what comes before."""
    users, shouted = set(), set()
    for path in [*Path("core").rglob("*.py"), *Path("ui").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr == "words" and "direction" in ast.unparse(node.value):
                users.add(path.as_posix())
            if isinstance(node, ast.Name) and node.id == "WAY_WORD":
                shouted.add(path.as_posix())
    assert shouted == {
        "ui/pages/setting.py",  # the figures of the step whose cautions were heeded, below the state of power
        "ui/pages/correct.py",  # the move before it is begun, its caution below it
    }
    assert users == {
        "core/machine/move_order.py",  # the one type that says a move, with its caution
        "core/machine/guided_wording.py",  # behind the state of power, after the cautions of that very step
        "core/machine/parallelism.py",  # the live meter of that step
        "ui/bench/practice.py",  # an exercise on an invented machine
    }
