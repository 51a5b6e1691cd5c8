"""What can be typed at the text bench, in two columns: the command, and what it does."""

from __future__ import annotations

import textwrap
from collections.abc import Callable

HelpLines = tuple[tuple[str, str], ...]

WIDTH = 120
_EXPLAINED_AT = 32


def help_lines(lines: HelpLines, say: Callable[[str], str]) -> str:
    """The lines as they are printed; `say` says an explanation in the person's language."""
    return "\n".join(_wrapped(command, say(explanation)) for command, explanation in lines)


def _wrapped(command: str, explanation: str) -> str:
    begin = f"  {command}".ljust(_EXPLAINED_AT)
    indent = " " * _EXPLAINED_AT
    if len(begin) > _EXPLAINED_AT:
        return f"{begin}\n{textwrap.fill(explanation, WIDTH, initial_indent=indent, subsequent_indent=indent)}"
    return textwrap.fill(explanation, WIDTH, initial_indent=begin, subsequent_indent=indent)
