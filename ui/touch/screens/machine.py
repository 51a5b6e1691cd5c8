"""Machines: which one is at work, one described question by question in pictures, and what happened to it."""

import math

from kivy.app import App
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty

from core.errors import BadInputError
from core.machine import HowHeld, MachineEventKind, MachineProfile
from core.metrology import Unit
from core.said import NOTHING, Name, Part, lines, said
from ui.bench import ChooseMachine, LoadMachines, LogMachineEvent, SaveMachine
from ui.pages.keypad import Entry, press
from ui.pages.machine import (
    Answers,
    MachineQuestion,
    answer_words,
    answers_of,
    changed,
    consequence,
    facts,
    next_question,
    profile_of,
    questions,
)
from ui.state import Snapshot
from ui.touch.pictures.help import Help
from ui.touch.pictures.machines import HELD
from ui.touch.pictures.questions import answer_picture, number_picture
from ui.touch.screen import Door, SidedScreen

NEW, CHANGE, LOG, KEEP, TAKE, MORE = "new", "change", "log", "keep", "take", "more"
# As many as a gloved finger finds below each other; what is more goes to the next page, nothing is scrolled.
PAGE = 5
LONGEST_NAME = 24
EVENT_WORDS = (
    (MachineEventKind.CRASH.value, said("It crashed")),
    (MachineEventKind.MOVE.value, said("It was moved")),
    (MachineEventKind.BELT_CHANGE.value, said("A belt was changed")),
    (MachineEventKind.TOOL_CHANGE.value, said("The tool was changed")),
    (MachineEventKind.PLAY_CURED.value, said("Play was cured")),
)


class MachineScreen(SidedScreen):
    """Keeps the answers given so far, None while the list of machines is shown; `_asked` is the question whose answer
    is being changed, `_before` the profile that is changed."""

    screen_name = "machine"
    heading = said("Machine")
    door = Door(place=6, words=said("Machine"))
    parent_screen = "bench"
    parts = ("words", "pictures", "drawing", "side", "pad", "naming", "list")
    help = Help(
        HELD[HowHeld.SCREWS],
        (
            said("One question a screen, answers drawn from above."),
            said("The thick edge is the front: you stand there."),
            said("Every answer can be changed later."),
        ),
    )
    title = ObjectProperty("")
    note = ObjectProperty("")
    longest_name = LONGEST_NAME
    unit = StringProperty("")
    entry_text = ObjectProperty("")
    picture = ObjectProperty(())
    asking = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._answers: Answers | None = None
        self._asked = ""
        self._before: MachineProfile | None = None
        self._logging = False
        self._first = 0
        self._problem: Part = NOTHING
        self._entry = Entry(unit=Unit.MM)

    def on_pre_enter(self) -> None:
        """Begin with the list."""
        self._answers, self._logging, self._asked, self._before = None, False, "", None
        self.send(LoadMachines())

    def show(self, snapshot: Snapshot) -> None:
        """Draw the list, the question that is up, the answers, or what may have happened."""
        question = self._question(snapshot)
        self.asking = self._answers is not None or self._logging
        self.unit = question.unit if question else ""
        if question is not None:
            self._show_question(question)
        elif self._answers is not None:
            self._show_answers(self._answers)
        else:
            self._show_list(snapshot)

    def _show_question(self, question: MachineQuestion) -> None:
        assert self._answers is not None
        self.title, self.note = question.text, self._problem
        if question.unit:
            self.picture = number_picture(question.name, self._answers)
            self.entry_text = self._entry.text or "–"
            take = ((TAKE, said("Take this number")),) if self._entry.shown else ()
            self.ids.choices.choices = [*question.choices, *take]
            self.shown = ["drawing", "side", "pad"]
        elif question.name == "name":
            take = ((TAKE, said("Take this name")),) if self.ids.name_pad.typed.strip() else ()
            self.ids.offers.choices = [*question.choices, *take]
            self.ids.offers.chosen = TAKE
            self.shown = ["naming"]
        else:
            self.ids.pictures.choices = [
                (name, answer_picture(question.name, name, self._answers), words) for name, words in question.choices
            ]
            self.shown = ["pictures"]

    def _show_answers(self, answers: Answers) -> None:
        """Every answer, each to be changed by touching it, and what follows from them."""
        profile = profile_of(answers, self._before)
        self.title = Name(dict(answers)["name"])
        told = consequence(profile) if isinstance(profile, MachineProfile) else said("Touch an answer to change it.")
        self.note = told
        given = dict(answers)
        rows = [
            (question.name, lines(question.short, answer_words(question, given[question.name])))
            for question in questions(answers)
            if question.name != "name" or self._before is None
        ]
        self.ids.list.choices = [*rows, (KEEP, said("Keep this machine"))]
        self.ids.list.chosen = KEEP
        self.shown = ["list"]

    def _show_list(self, snapshot: Snapshot) -> None:
        choices: list[tuple[str, Part]]
        if self._logging:
            self.title, self.note = said("What happened to the machine?"), said("It goes into the machine's log.")
            choices = [*EVENT_WORDS]
        else:
            self.title, self.note, choices = self._machines(snapshot)
        self.ids.choices.choices = self._page(choices)
        current = snapshot.machines.current
        self.ids.choices.chosen = f"={current.name}" if current else ""
        self.shown = ["words", "side"]

    def _page(self, choices: list[tuple[str, Part]]) -> list[tuple[str, Part]]:
        """The choices of the page that is up; one too many for a page come on several, with a button to the next."""
        if len(choices) <= PAGE:
            return choices
        pages = math.ceil(len(choices) / (PAGE - 1))
        start = self._first % (pages * (PAGE - 1))
        page = choices[start : start + PAGE - 1]
        return [*page, (MORE, said("More"))]

    def _question(self, snapshot: Snapshot) -> MachineQuestion | None:
        if self._answers is None:
            return None
        taken = [profile.name for profile in snapshot.machines.profiles]
        speech = App.get_running_app().speech
        if self._asked:
            return next(one for one in questions(self._answers, taken, speech) if one.name == self._asked)
        return next_question(self._answers, taken, speech)

    def _machines(self, snapshot: Snapshot) -> tuple[Part, Part, list[tuple[str, Part]]]:
        machines = snapshot.machines
        # Names of machines are marked, so that none can be taken for one of the other choices.
        choices: list[tuple[str, Part]] = [(f"={one.name}", Name(one.name)) for one in machines.profiles]
        choices.append((NEW, said("Describe a new machine")))
        if machines.current is None:
            return said("No machine yet"), said("A verdict needs none; a correction does."), choices
        choices += [(CHANGE, said("Change its answers")), (LOG, said("Something happened to it"))]
        return Name(machines.current.name), facts(machines.current), choices

    def answer(self, name: str) -> None:
        """A choice was touched."""
        question = self._question(self.snapshot)
        if name == MORE:
            self._first += PAGE - 1
            self.refresh()
            return
        self._first = 0
        if question is not None:
            self._answered(question, name)
        elif self._answers is not None:
            self._keep_or_change(name)
        elif self._logging:
            self.send(LogMachineEvent(kind=MachineEventKind(name)))
            self._logging = False
        elif name == LOG:
            self._logging = True
        elif name in (NEW, CHANGE):
            self._before = self.snapshot.machines.current if name == CHANGE else None
            self._answers = answers_of(self._before) if self._before else ()
            self._begin_entry()
        else:
            self.send(ChooseMachine(name=name.removeprefix("=")))
        self.refresh()

    def _answered(self, question: MachineQuestion, name: str) -> None:
        assert self._answers is not None
        value = name
        if name == TAKE:
            value = f"{self._entry.value:.10g}" if question.unit else self.ids.name_pad.typed.strip()
        if question.name == "name" and value in [profile.name for profile in self.snapshot.machines.profiles]:
            self._problem = said("There is a machine of this name already.")
            return
        answers = changed(self._answers, question.name, value)
        self._problem, self._asked = NOTHING, ""
        if question.name == "span_mm":
            try:
                MachineProfile(name="", span_mm=float(value))
            except BadInputError as error:
                self._problem, answers = error.what, tuple(one for one in answers if one[0] != question.name)
        self._answers = answers
        self._begin_entry()

    def _keep_or_change(self, name: str) -> None:
        assert self._answers is not None
        if name != KEEP:
            self._asked = name
            self._begin_entry()
            return
        profile = profile_of(self._answers, self._before)
        if not isinstance(profile, MachineProfile):
            self._problem = profile
            return
        self._answers = self._before = None
        self.send(SaveMachine(profile=profile))

    def _begin_entry(self) -> None:
        """A new number for the question that is up, in the person's unit where it is a length; a name is kept."""
        question = self._question(self.snapshot)
        length = question is not None and question.unit == Unit.MM
        self._entry = Entry(unit=self.snapshot.settings.notation.length_unit if length else Unit.MM)
        self.ids.name_pad.typed = dict(self._answers or ()).get("name", "")

    def previous(self) -> None:
        """Take the last answer back, or leave the change; before the first question, back to the list."""
        self._problem = NOTHING
        if self._logging:
            self._logging = False
        elif self._asked:
            self._asked = ""
        elif self._before is not None:
            self._answers = self._before = None
        else:
            self._answers = self._answers[:-1] if self._answers else None
        self._begin_entry()
        self.refresh()

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._entry = press(self._entry, key)
        self.refresh()
