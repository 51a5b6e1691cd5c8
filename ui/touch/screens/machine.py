"""Machines: which one is at work, a new one described question by question, and what happened to it."""

from __future__ import annotations

import math

from kivy.properties import BooleanProperty, ObjectProperty, StringProperty

from core.machine.machine_log import MachineEventKind
from core.metrology.readings import Unit
from core.said import Name, Part
from ui.bench.desks.machines import ChooseMachine, LoadMachines, LogMachineEvent, SaveMachine
from ui.pages.keypad import Entry, press
from ui.pages.machine import Answers, MachineQuestion, facts, next_question, profile_of
from ui.state.snapshot import Snapshot
from ui.touch.screen import BenchScreen, Door

NEW, LOG, TAKE_NUMBER, BACK_TO_LIST, MORE = "new", "log", "take-number", "list", "more"
# As many as a gloved finger finds below each other; what is more goes to the next page, nothing is scrolled.
PAGE = 6
EVENT_WORDS = (
    (MachineEventKind.CRASH, "It crashed"),
    (MachineEventKind.MOVE, "It was moved"),
    (MachineEventKind.BELT_CHANGE, "A belt was changed"),
    (MachineEventKind.TOOL_CHANGE, "The tool was changed"),
    (MachineEventKind.PLAY_CURED, "Play was cured"),
)


class MachineScreen(BenchScreen):
    """Keeps the answers given so far; None while the list of machines is shown."""

    screen_name = "machine"
    heading = "Machine"
    door = Door(place=6, words="Machine")
    parent_screen = "home"
    title = ObjectProperty("")
    text = ObjectProperty("")
    unit = StringProperty("")
    entry_text = StringProperty("")
    asking = BooleanProperty(False)

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._answers: Answers | None = None
        self._logging = False
        self._first = 0
        self._problem = ""
        self._entry = Entry(unit=Unit.MM)

    def on_pre_enter(self) -> None:
        """Begin with the list."""
        self._answers, self._logging = None, False
        self.send(LoadMachines())

    def show(self, snapshot: Snapshot) -> None:
        """Draw the list, the question that is up, or what may have happened."""
        question = self._question(snapshot)
        self.asking = self._answers is not None
        self.unit = question.unit if question else ""
        self.entry_text = self._entry.text or "–"
        if question is not None:
            self.title, self.text = question.text, self._problem
            number = ((TAKE_NUMBER, "Take this number"),) if question.unit and self._entry.shown else ()
            choices = (*number, *question.choices)
        elif self._logging:
            self.title, self.text = "What happened to the machine?", "It goes into the machine's log."
            choices = (*EVENT_WORDS, (BACK_TO_LIST, "Nothing"))
        else:
            self.title, self.text, choices = self._list(snapshot)
        self.ids.choices.choices = self._page([(str(name), words) for name, words in choices])
        current = snapshot.machines.current
        self.ids.choices.chosen = f"={current.name}" if current and question is None else TAKE_NUMBER

    def _page(self, choices: list[tuple[str, str]]) -> list[tuple[str, str]]:
        """The choices of the page that is up; one too many for a page come on several, with a button to the next."""
        if len(choices) <= PAGE:
            return choices
        pages = math.ceil(len(choices) / (PAGE - 1))
        start = self._first % (pages * (PAGE - 1))
        page = choices[start : start + PAGE - 1]
        return [*page, (MORE, "More")]

    def _question(self, snapshot: Snapshot) -> MachineQuestion | None:
        if self._answers is None:
            return None
        names = [profile.name for profile in snapshot.machines.profiles]
        return next_question(self._answers, names, snapshot.settings.language)

    def _list(self, snapshot: Snapshot) -> tuple[Part | str, Part | str, tuple[tuple[str, str], ...]]:
        machines = snapshot.machines
        # Names of machines are marked, so that none can be taken for one of the other choices.
        choices = [(f"={profile.name}", profile.name) for profile in machines.profiles]
        choices.append((NEW, "Describe a new machine"))
        if machines.current is None:
            return "No machine yet", "A verdict needs none; a correction does.", tuple(choices)
        choices.append((LOG, "Something happened to it"))
        return Name(machines.current.name), facts(machines.current), tuple(choices)

    def answer(self, name: str) -> None:
        """A choice was touched."""
        question = self._question(self.snapshot)
        if name == MORE:
            self._first += PAGE - 1
            self.refresh()
            return
        self._first = 0
        if question is not None and self._answers is not None:
            self._answered(
                (*self._answers, (question.name, f"{self._entry.value:.10g}" if name == TAKE_NUMBER else name))
            )
        elif self._logging:
            if name != BACK_TO_LIST:
                self.send(LogMachineEvent(kind=MachineEventKind(name)))
            self._logging = False
        elif name == NEW:
            self._answers = ()
        elif name == LOG:
            self._logging = True
        else:
            self.send(ChooseMachine(name=name.removeprefix("=")))
        self.refresh()

    def _answered(self, answers: Answers) -> None:
        self._answers, self._problem = answers, ""
        question = self._begin_entry()
        if question is not None:
            return
        profile = profile_of(answers)
        if isinstance(profile, str):
            # Ask again from the number that was refused.
            self._answers = answers[: next(i for i, (name, _) in enumerate(answers) if name == "span_mm")]
            self._problem = profile
            return
        self._answers = None
        self.send(SaveMachine(profile=profile))

    def _begin_entry(self) -> MachineQuestion | None:
        """A new number for the question that is up, in the person's unit where it is a length."""
        question = self._question(self.snapshot)
        length = question is not None and question.unit == Unit.MM
        self._entry = Entry(unit=self.snapshot.settings.notation.length_unit if length else Unit.MM)
        return question

    def previous(self) -> None:
        """Take the last answer back; before the first question, back to the list."""
        self._answers = self._answers[:-1] if self._answers else None
        self._begin_entry()
        self.refresh()

    def press_key(self, key: str) -> None:
        """A key of the pad."""
        self._entry = press(self._entry, key)
        self.refresh()
