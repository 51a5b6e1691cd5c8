"""`cornerwise belts`: compare two plucked belts, from WAV files or by the microphone."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from core.errors import BadInputError
from core.machine import BY_HAND, BeltNote, compare_belts
from core.machine.belt_note import belt_note
from core.said import NOTHING, Number, Part, Said, said, said_counted
from ui.bench import note_of_file, record
from ui.speech import Speech
from ui.terminal import ExitStatus
from ui.terminal.indented import indented

LISTEN_S = 5
TRIES = 3


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `belts` with its options."""
    parser = subparsers.add_parser(
        "belts",
        help="compare the tension of two belts by their note",
        description="Compares two belts plucked near the microphone, or recorded in two WAV files. Power off and "
        "unplugged first; spans of the same length compare by their note alone.",
    )
    parser.add_argument("files", type=Path, nargs="*", metavar="WAV", help="recordings of the left and right belt")
    parser.add_argument("--lengths", type=float, nargs=2, metavar=("L1", "L2"), help="free lengths plucked, mm")
    parser.add_argument("--mass", type=float, metavar="KG_PER_M", help="mass per metre: weigh a piece; gives newtons")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the comparison; raises BadInputError for what is no belt note, NotAvailableError without a microphone."""
    if len(args.files) not in (0, 2):
        raise BadInputError(said("belts: give two recordings, left and right, or none to listen"))
    if args.mass is not None and args.lengths is None:
        raise BadInputError(said("--mass gives newtons only with --lengths"))
    if any(not number > 0.0 for number in (*(args.lengths or ()), *((args.mass,) if args.mass is not None else ()))):
        raise BadInputError(said("lengths and mass must be more than zero"))
    if args.files:
        first, second = (note_of_file(file) for file in args.files)
    else:
        first, second = (_heard(name, args.speech) for name in (said("left (or near)"), said("right (or far)")))
    comparison = compare_belts(first, second, lengths_mm=args.lengths or (1.0, 1.0), mass_kg_per_m=args.mass)
    print(args.speech.say(comparison.text))
    return ExitStatus.OK


def _heard(belt: Said, speech: Speech) -> BeltNote:
    """Ask for a belt until it is heard; a few tries, for a workshop is loud; its caution stands before every hand."""
    text: Part = NOTHING
    for _ in range(TRIES):
        print(speech.lines(BY_HAND))
        pluck = said(
            "Pluck the {belt} belt two or three times in the {seconds} seconds after Enter.",
            belt=belt,
            seconds=Number(LISTEN_S),
        )
        print(speech.say(pluck), flush=True)
        sys.stdin.readline()
        recording = record(LISTEN_S)
        note = belt_note(recording.samples, recording.rate_hz)
        if isinstance(note, BeltNote):
            tone = Number(note.frequency_hz.value, 1, "Hz", u=note.frequency_hz.U95)
            heard = said_counted("{tone} ({count} pluck)", "{tone} ({count} plucks)", count=note.plucks, tone=tone)
            print(speech.say(indented(heard, "  ")))
            return note
        text = note.text
        print(speech.say(indented(text, "  ")), file=sys.stderr)
    raise BadInputError(said("the {belt} belt was not heard: {text}", belt=belt, text=text))
