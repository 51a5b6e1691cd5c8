"""The command line, one program: reads arguments, hands over to one command, maps every ending to a status.

Each command lives in a module of its own with two functions: `add_parser(subparsers)` and `run(args) -> int`.
"""

from __future__ import annotations

import argparse
import sys
import traceback
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import NoReturn

from core import SOFTWARE
from core.errors import BadInputError, CornerwiseError
from core.loading import loading
from core.said import said
from ui.command_line import bench_options
from ui.command_line.data_folder import data_folder
from ui.speech import AS_WORDED, Speech, catalogue_of
from ui.state import SettingsFile
from ui.terminal import ExitStatus, harmless_streams

# In the order in which help lists them, each with its module.
_COMMANDS = {
    "evaluate": "evaluate_command",
    "coupon": "coupon_command",
    "correct-design": "correct_design_command",
    "belts": "belts_command",
    "bed-map": "bed_map_command",
    "doctor": "doctor_command",
    "export": "export_command",
    "fault-report": "fault_report_command",
    "import": "import_command",
    "instruments": "instruments_command",
    "save-bench": "saved_bench_commands",
    "restore-bench": "saved_bench_commands",
    "gauge-study": "gauge_study_command",
    "shop": "shop_command",
}


class _Parser(argparse.ArgumentParser):
    """argparse ends with status 2 on bad usage, which would read as 'undecided' here."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        self.exit(ExitStatus.USAGE, f"{self.prog}: {message}\n")


class _MoreThanTheBenchError(Exception):
    """Something was said that the options of the bench alone do not explain."""


class _BenchAlone(argparse.ArgumentParser):
    """The options of the bench and nothing else: no help, no version, no commands."""

    def error(self, message: str) -> NoReturn:
        raise _MoreThanTheBenchError(message)


class _SelfCheck(argparse.Action):
    """As `--version`, once everything has been loaded."""

    def __call__(self, parser: argparse.ArgumentParser, *_rest: object) -> NoReturn:
        from ui.command_line.self_check import load_everything

        load_everything()
        print(SOFTWARE)
        parser.exit(0)


def build_parser(named: str = "") -> argparse.ArgumentParser:
    """The parser of the whole program, with the named command alone where it is one; every command sets `run` on the
    parsed arguments."""
    parser: argparse.ArgumentParser = _Parser(
        prog="cornerwise",
        description="Tells whether a gantry machine cuts square, which end to move, and proves the repair. "
        "Without a command: the bench on the touchscreen, or in the terminal where there is no display.",
        epilog="Verdicts end with status 0 go, 1 no-go, 2 undecided, 3 inconsistent; 64 bad usage, 65 bad input, "
        "69 something needed is not there, 70 internal error.",
    )
    parser.add_argument("--version", action="version", version=SOFTWARE)
    parser.add_argument("--self-check", action=_SelfCheck, nargs=0, help="load every part, say the version, and end")
    bench_options.add_arguments(parser)
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND")
    for name in {_COMMANDS[named]} if named in _COMMANDS else dict.fromkeys(_COMMANDS.values()):
        import_module(f"ui.command_line.{name}").add_parser(subparsers)
    return parser


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    """Whoever starts the bench waits for no command, and whoever names a command for no other: that is loaded where the
    options of the bench do not explain what was said."""
    bench = _BenchAlone(add_help=False)
    bench_options.add_arguments(bench)
    try:
        args, rest = bench.parse_known_args(argv)
    except _MoreThanTheBenchError:
        return build_parser().parse_args(argv)
    return build_parser(rest[0]).parse_args(argv) if rest else args


def _command(args: argparse.Namespace) -> Callable[[argparse.Namespace], int]:
    """The command that was named; the bench where none was."""
    if "run" in args:
        named: Callable[[argparse.Namespace], int] = args.run
        return named
    with loading():
        from ui.command_line import bench_command

    return bench_command.run


def _speech_of(args: argparse.Namespace) -> Speech:
    """How the person of this data folder is spoken to; as worded where their settings cannot be read. Raises
    NotAvailableError where the catalogue of their language is missing."""
    folder = data_folder(getattr(args, "data", None), simulated=getattr(args, "simulate", False))
    try:
        speech = SettingsFile(folder).load().speech
    except CornerwiseError:
        return AS_WORDED
    catalogue_of(speech.language)
    return speech


def main(argv: Sequence[str] | None = None, loaded: Callable[[], object] = lambda: None) -> int:
    """Run the program with these arguments (the process's own when None) and return its exit status; `loaded` is called
    once the command is there, before it runs."""
    with harmless_streams():
        return _run(argv, loaded)


def _run(argv: Sequence[str] | None, loaded: Callable[[], object]) -> int:
    speech = AS_WORDED
    try:
        args = _arguments(argv)
        run = _command(args)
        loaded()
        args.speech = speech = _speech_of(args)
        status = int(run(args))
        sys.stdout.flush()  # a pipe that was closed shows here, not after the status is decided
        return status
    except BadInputError as error:
        print(speech.say(said("cornerwise: {what}", what=error.what)), file=sys.stderr)
        return ExitStatus.BAD_INPUT
    except CornerwiseError as error:
        print(speech.say(said("cornerwise: {what}", what=error.what)), file=sys.stderr)
        return ExitStatus.NOT_AVAILABLE
    except KeyboardInterrupt:
        return 130  # the shell's status for a program ended by Ctrl-C
    except BrokenPipeError:
        return 141  # the shell's status for a closed pipe (`| head`): an unread verdict must not read as go
    except Exception:
        traceback.print_exc()
        mistake = said("cornerwise: internal error: this is our mistake; the lines above say where")
        print(speech.say(mistake), file=sys.stderr)
        return ExitStatus.INTERNAL


if __name__ == "__main__":
    sys.exit(main())
