"""What can be typed at the text bench, in two columns: the command, and what it does."""

import textwrap
from collections.abc import Callable

from core.said import Part, Said

HelpLines = tuple[tuple[str, Said], ...]

# Where no terminal says how wide it is: a file, a pipe.
WIDE = 120
_EXPLAINED_AT = 32


def help_lines(lines: HelpLines, say: Callable[[Part], str], width: int = WIDE) -> str:
    """The lines as they are printed, `width` letters at most; `say` says an explanation in the person's language."""
    return "\n".join(_wrapped(command, say(explanation), width) for command, explanation in lines)


def _wrapped(command: str, explanation: str, width: int) -> str:
    begin = f"  {command}".ljust(_EXPLAINED_AT)
    indent = " " * _EXPLAINED_AT
    if len(begin) > _EXPLAINED_AT:
        return f"{begin}\n{textwrap.fill(explanation, width, initial_indent=indent, subsequent_indent=indent)}"
    return textwrap.fill(explanation, width, initial_indent=begin, subsequent_indent=indent)
