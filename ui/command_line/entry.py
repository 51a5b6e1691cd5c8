"""Where the installed program begins: before anything that takes time is loaded.

Ctrl-C while libraries are loading ends the program by the signal, as it ends any other, instead of with a traceback
from wherever the loading had come to. What fails while loading (a damaged card) ends it with 70, for Python's own
status would read as no-go. A standard stream that whoever started it had closed is opened on nothing: otherwise the
archive would be the next to get its number, and whatever a library prints there would be written into it.
"""

import os
import signal
import sys

_STREAMS = (("stdin", os.O_RDONLY, "r"), ("stdout", os.O_WRONLY, "w"), ("stderr", os.O_WRONLY, "w"))
_INTERNAL = 70  # sysexits.h, as ExitStatus.INTERNAL, which may be what cannot be loaded


def main() -> int:
    """Load the program and run it; returns its exit status."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    open_streams()
    try:
        from core.loading import loading

        with loading():
            from ui.bench import keep_journal
            from ui.command_line.cli import main as run

        keep_journal()
    except Exception:
        import traceback

        traceback.print_exc()
        return _INTERNAL
    return run(loaded=lambda: signal.signal(signal.SIGINT, signal.default_int_handler))


def open_streams() -> None:
    """Each of the three that is closed, on nothing."""
    for number, (name, flags, mode) in enumerate(_STREAMS):
        if getattr(sys, name) is None:
            nothing = os.open(os.devnull, flags)
            if nothing != number:
                os.dup2(nothing, number, inheritable=True)
                os.close(nothing)
            setattr(sys, name, os.fdopen(number, mode, closefd=False))
