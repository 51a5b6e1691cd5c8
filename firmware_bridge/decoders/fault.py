"""What a decoder says about bytes that are no indication, and the shape every decoder has."""

from enum import StrEnum
from typing import Protocol

from msgspec import Struct

from core.metrology import Indication
from core.said import Said


class FaultReason(StrEnum):
    """Why bytes were refused."""

    GARBLED = "garbled"  # no frame of this format
    CHECKSUM = "checksum"  # a frame, but damaged
    REFUSED = "refused"  # a well-formed frame that says something this instrument setting does not allow
    INSTRUMENT_ERROR = "instrument-error"  # the instrument itself reports an error
    OVERFLOW = "overflow"  # too long without an end


class Fault(Struct, frozen=True, kw_only=True):
    """Bytes that are no indication; `text` is a sentence for the instruments screen, `channel` empty when unknown."""

    reason: FaultReason
    text: Said
    raw: bytes = b""
    channel: str = ""


class Decoder(Protocol):
    """Sans-I/O: keeps a bounded buffer, knows no port, clock or thread, never raises for bytes."""

    def feed(self, data: bytes) -> list[Indication | Fault]:
        """Take the next bytes as they came; return what became complete, in order."""
        ...

    def reset(self) -> None:
        """Forget a half-received frame (after the link was lost)."""
        ...
