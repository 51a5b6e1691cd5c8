"""Stage: bytes to lines. Input: bytes as they came; output: whole lines without their end, or a Fault when one is
too long. Lines end with CR, LF or both; empty lines are dropped."""

from core.said import said
from firmware_bridge.decoders.fault import Fault, FaultReason

MAX_LINE_BYTES = 96


class LineBuffer:
    """Keeps at most `max_bytes` of a line that has not ended; what follows a too long line is dropped to its end."""

    def __init__(self, max_bytes: int = MAX_LINE_BYTES) -> None:
        self._max_bytes = max_bytes
        self._pending = bytearray()
        self._skipping = False

    def feed(self, data: bytes) -> list[bytes | Fault]:
        """Take bytes; return the lines that became complete, in order, and one Fault for each too long line."""
        out: list[bytes | Fault] = []
        pieces = data.replace(b"\r", b"\n").split(b"\n")
        for index, piece in enumerate(pieces):
            ended = index < len(pieces) - 1
            if not self._skipping:
                room = self._max_bytes - len(self._pending)
                self._pending += piece[: room + 1]
                if len(self._pending) > self._max_bytes:
                    out.append(_too_long(bytes(self._pending)))
                    self._pending.clear()
                    self._skipping = True
            if ended:
                if self._pending:
                    out.append(bytes(self._pending))
                self._pending.clear()
                self._skipping = False
        return out

    def reset(self) -> None:
        """Forget a half-received line."""
        self._pending.clear()
        self._skipping = False


def _too_long(raw: bytes) -> Fault:
    return Fault(
        reason=FaultReason.OVERFLOW,
        text=said("{count} bytes without the end of a line: wrong baud rate, or another instrument", count=len(raw)),
        raw=raw[:32],
    )
