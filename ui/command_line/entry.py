"""Where the installed program begins: before anything that takes time is loaded.

Ctrl-C while libraries are loading ends the program by the signal, as it ends any other, instead of with a traceback
from wherever the loading had come to.
"""

import signal


def main() -> int:
    """Load the program and run it; returns its exit status."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    from ui.bench import keep_journal
    from ui.command_line.cli import main as run

    keep_journal()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    return run()
