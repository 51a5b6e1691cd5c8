"""What goes into the bench's queue: a command is what a person tells it, a report what its own workers tell it.

Every kind is a frozen value derived from one of these and has its one address in the bench's routing table.
"""

from msgspec import Struct


class Command(Struct, frozen=True):
    """Something a person tells the bench: by screen, keypad, text bench or a button of the lamp box."""


class Report(Struct, frozen=True):
    """Something a worker of the bench has to say."""


class Answer(Report, frozen=True):
    """What the archive answers to one task: exactly one to each."""
