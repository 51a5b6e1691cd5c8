"""Stage: bytes to lines. Input: bytes as they came; output: whole lines without their end, or a Fault when one is
too long. Lines end with CR, LF or both; empty lines are dropped."""

from core.said import said
from firmware_bridge.decoders.fault import Fault, FaultReason

MAX_LINE_BYTES = 96


class LineBuffer:
    """Keeps at most `max_bytes` of a line that has not ended; what follows a too long line is dropped to its end."""

    def __init__(self, max_bytes: int = MAX_LINE_BYTES) -> None:
        self._max_bytes = max_bytes
        self._pending = b""
        self._skipping = False

    def feed(self, data: bytes) -> list[bytes | Fault]:
        """Take bytes; return the lines that became complete, in order, and one Fault for each too long line."""
        *lines, pending = (self._pending + data.replace(b"\r", b"\n")).split(b"\n")
        if self._skipping and lines:
            lines[0], self._skipping = b"", False
        out = [self._whole(line) for line in lines if line]
        if len(pending) > self._max_bytes and not self._skipping:
            out.append(self._whole(pending))
            self._skipping = True
        self._pending = b"" if self._skipping else pending
        return out

    def reset(self) -> None:
        """Forget a half-received line."""
        self._pending = b""
        self._skipping = False

    def _whole(self, line: bytes) -> bytes | Fault:
        return line if len(line) <= self._max_bytes else _too_long(line[: self._max_bytes + 1])


def _too_long(raw: bytes) -> Fault:
    return Fault(
        reason=FaultReason.OVERFLOW,
        text=said("{count} bytes without the end of a line: wrong baud rate, or another instrument", count=len(raw)),
        raw=raw[:32],
    )
