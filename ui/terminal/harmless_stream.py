"""What is printed steers no terminal, whoever printed it: names of files, ports and persons come from elsewhere.

Input: text on its way to standard output or error, a traceback's too. Output: the same, every control character and
mark of direction written out, but for the end of a line and the tab. As JSON writes them out, so that JSON stays JSON.
A letter that the terminal's encoding lacks is written out too. What cannot be printed is said by StorageError; a
complaint that cannot be printed is dropped, for the status has to say it: it must never become that of a verdict.
"""

import io
import os
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO, cast

from core.errors import StorageError, reason_of
from core.said import said

_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}


def harmless(text: str) -> str:
    """The text with what steers written out."""
    if text.isprintable():
        return text
    return "".join(_written_out(letter) if _steers(letter) else letter for letter in text)


class ArrivingStream:
    """A stream whose failures are said once, by StorageError, and of which a program that ends wants nothing more."""

    def __init__(self, stream: TextIO, *, complaints: bool) -> None:
        self._stream = stream
        self._complaints = complaints

    def write(self, text: str) -> int:
        """Pass it on; raises StorageError, or BrokenPipeError where whoever read it went away."""
        with self._arriving():
            return self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Pass on what waits; raises as `write` does."""
        with self._arriving():
            self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    @contextmanager
    def _arriving(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            # Without this, Python tries once more while it ends, and has a status of its own for that.
            os.dup2(os.open(os.devnull, os.O_WRONLY), self._stream.fileno())
            if self._complaints:
                return
            if isinstance(error, BrokenPipeError):
                raise
            raise StorageError(said("what was to be printed was not taken: {why}", why=reason_of(error))) from error


class HarmlessStream:
    """A stream that what is printed goes through on its way to another; all else is that one's."""

    def __init__(self, stream: ArrivingStream) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Pass it on; the count is that of the text given."""
        self._stream.write(harmless(text))
        return len(text)

    def writelines(self, lines: Iterator[str]) -> None:
        """Pass each on."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def steered(stream: TextIO) -> TextIO:
    """The stream behind, for whoever rewrites its own last line and writes out names by itself."""
    return cast(TextIO, stream._stream) if isinstance(stream, HarmlessStream) else stream


@contextmanager
def harmless_streams() -> Iterator[None]:
    """For as long as the block lasts, whatever is printed in this process is harmless."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    out, err = (
        cast(TextIO, HarmlessStream(ArrivingStream(stream, complaints=stream is sys.stderr)))
        for stream in (sys.stdout, sys.stderr)
    )
    with redirect_stdout(out), redirect_stderr(err):
        yield


def _steers(letter: str) -> bool:
    return letter not in "\n\t" and unicodedata.category(letter) in _STEERING


def _written_out(letter: str) -> str:
    code = ord(letter)
    return f"\\u{code:04x}" if code <= 0xFFFF else "".join(f"\\u{0xD800 + half:04x}" for half in _halves(code))


def _halves(code: int) -> tuple[int, int]:
    """The two halves of a letter beyond the first 65,536, as UTF-16 and JSON have it."""
    return (code - 0x10000) >> 10, 0x400 + ((code - 0x10000) & 0x3FF)
