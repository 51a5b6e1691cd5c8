"""Instruments: what is plugged in, what it says, what could not be understood, and what is to be done about it."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ListProperty, NumericProperty, ObjectProperty
from kivy.uix.boxlayout import BoxLayout

from core.said import NOTHING, said
from ui.bench import LookForRadio
from ui.pages.instruments import CardButton, InstrumentCard, instrument_cards, summary
from ui.state import Snapshot
from ui.touch.pictures.help import CABLE, CALIPER, Help
from ui.touch.screen import BenchScreen, Door, Group
from ui.touch.widgets.basics import Framed, KeyButton


class InstrumentRow(Framed, BoxLayout):
    """One card; its buttons are put up anew only when they change, so that a finger on one is not lost."""

    title = ObjectProperty("")
    state_text = ObjectProperty("")
    lines = ListProperty(["", "", ""])
    check = ObjectProperty(NOTHING)
    hand = ObjectProperty(NOTHING)
    alarm = BooleanProperty(False)
    button_count = NumericProperty(0)

    def __init__(self, screen: InstrumentsScreen, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._screen = screen
        self._buttons: tuple[object, ...] = ()

    def show(self, card: InstrumentCard) -> None:
        """Say how it is."""
        self.title, self.state_text, self.alarm = card.title, card.state, card.alarm
        self.lines, self.check, self.hand = list(card.lines), card.check, card.hand
        if card.buttons == self._buttons:
            return
        self._buttons, self.button_count = card.buttons, len(card.buttons)
        self.ids.buttons.clear_widgets()
        for answer in card.buttons:
            button = KeyButton(text=answer.words)
            button.fbind("on_release", lambda _button, answer=answer: self._screen.do(answer))
            self.ids.buttons.add_widget(button)


class InstrumentsScreen(BenchScreen):
    """Keeps one row for each card."""

    screen_name = "instruments"
    heading = said("Instruments")
    door = Door(place=8, words=said("Instruments"), group=Group.BENCH)
    parent_screen = "bench"
    help = Help(
        (*CALIPER, *CABLE),
        (
            said("What is plugged in, and what it says now."),
            said("Nothing is opened before you touch Listen."),
            said("Check them at the start of the day."),
        ),
    )
    summary = ObjectProperty("")

    def __init__(self, **kwargs: object) -> None:
        super().__init__(**kwargs)
        self._rows: dict[str, InstrumentRow] = {}

    def show(self, snapshot: Snapshot) -> None:
        """Draw the newest snapshot."""
        self.summary = summary(snapshot)
        cards = {card.key: card for card in instrument_cards(snapshot)}
        if list(cards) != list(self._rows):
            self.ids.rows.clear_widgets()
            self._rows = {key: self._rows.get(key) or InstrumentRow(self) for key in cards}
            for row in self._rows.values():
                self.ids.rows.add_widget(row)
        for key, card in cards.items():
            self._rows[key].show(card)

    def look_for_radio(self) -> None:
        """Listen for instruments in the air; nothing does before this was touched."""
        self.send(LookForRadio())

    def do(self, answer: CardButton) -> None:
        """Send what a button of a card means, or open the settings of its port."""
        if answer.command is not None:
            self.send(answer.command)
        else:
            self.look_at(answer.opens)
            self.go("cable")
