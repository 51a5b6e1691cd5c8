"""Instruments at the text bench: the cards of the instruments screen as lines, their buttons by number. Pure.

Input: the words of a line and the snapshot it answers to. Output: a command, what to print, or None for other words.
"""

from collections.abc import Iterator, Sequence

from core.records import instrument_shown
from core.said import Name, Part, lines, said
from ui.pages.instruments import InstrumentCard, check_line, instrument_cards, summary
from ui.state import Command, Snapshot
from ui.terminal.help_lines import HelpLines
from ui.terminal.indented import indented

_INDENT = "    "
INSTRUMENTS_HELP: HelpLines = (
    ("instruments", said("what is plugged in, what it speaks and says, and what can be done, with numbers")),
    ("instruments 2", said("do what has number 2: use, test, ask, forget")),
)


def parse_instruments_line(words: Sequence[str], snapshot: Snapshot) -> Command | Part | None:
    """The list, or the command behind one of its numbers."""
    cards = instrument_cards(snapshot)
    match words:
        case ["instruments"]:
            return lines(summary(snapshot), *_lines(cards), *_on_record(snapshot))
        case ["instruments", number]:
            commands = [button.command for card in cards for button in card.buttons if button.command]
            if not commands:
                return said("there is nothing to choose from")
            if not number.isdigit() or not 1 <= int(number) <= len(commands):
                return said("there are numbers 1 to {last}", last=len(commands))
            return commands[int(number) - 1]
        case _:
            return None


def _lines(cards: Sequence[InstrumentCard]) -> Iterator[Part]:
    number = 0
    for card in cards:
        yield indented(said("{instrument}: {words}", instrument=card.title, words=card.state), "  ")
        yield from (indented(part, _INDENT) for part in (*card.lines, card.hand, card.check) if part)
        for button in (button for button in card.buttons if button.command):
            number += 1
            yield indented(button.words, f"    {number}  ")


def _on_record(snapshot: Snapshot) -> Iterator[Part]:
    """Instruments that are not on a cable now: what they were, and their last check."""
    book, here = snapshot.book, {status.name for status in snapshot.instruments}
    used = {one.name: Name(f"{one.wire_format} ({one.port_kind})") for one in book.used}
    for history in book.checks:
        if history.instrument not in here:
            name = instrument_shown(history.instrument)
            yield indented(said("{instrument}: on record, not on a cable now", instrument=name), "  ")
            if history.instrument in used:
                yield indented(used[history.instrument], _INDENT)
            yield indented(check_line(history, book), _INDENT)
