"""What is printed steers no terminal, whoever printed it: names of files, ports and persons come from elsewhere.

Input: text on its way to standard output or error, a traceback's too. Output: the same, every control character and
mark of direction written out, but for the end of a line and the tab. As JSON writes them out, so that JSON stays JSON.
"""

import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO, cast

_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}


def harmless(text: str) -> str:
    """The text with what steers written out."""
    if text.isprintable():
        return text
    return "".join(_written_out(letter) if _steers(letter) else letter for letter in text)


class HarmlessStream:
    """A stream that what is printed goes through on its way to another; all else is that one's."""

    def __init__(self, stream: TextIO) -> None:
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
    return stream._stream if isinstance(stream, HarmlessStream) else stream


@contextmanager
def harmless_streams() -> Iterator[None]:
    """For as long as the block lasts, whatever is printed in this process is harmless."""
    out, err = (cast(TextIO, HarmlessStream(stream)) for stream in (sys.stdout, sys.stderr))
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
