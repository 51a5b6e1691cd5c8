"""What every screen must hold, from its pixels and its geometry: capitals high enough to be read from afar, nothing
harmful where a finger has just been, no more words than a person in gloves reads.

    python -m tests.endurance.screens_hold [heights | harm | words] [--size WxH] [--share 0.1 --seed 1]
    python -m tests.endurance.screens_hold harm --size WxH [--language de] [--twice] --table walked.csv

`--share` walks the touches of a part of the screens, drawn by lot from the seed. With a table all are walked, a screen
or a state that takes many touches in each row: begun anew it goes on behind the last row, and at the end it says what
the rows add up to. Heights are in mm on a panel of 7 inches, whatever its px. Exit status 1 where something does not
hold.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import subprocess
import sys
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from msgspec.structs import replace

os.environ.setdefault("SDL_VIDEODRIVER", "offscreen")

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np

    from tests.ui.offscreen import Offscreen

SIZES = ("800x480", "480x320", "1024x600", "1280x720", "720x1280")
# Long and short side of the picture of a panel of 7 inches, mm, as data sheets have it (from memory); one of 3 to 2,
# which is not made so large, by its diagonal.
SEVEN_INCHES_MM = {"480x320": (147.9, 98.6)}
USUAL_MM = (154.0, 86.0)
# scene, screen, what is measured, the least height of its capitals in mm.
HEIGHTS = (
    ("edges", "bench", "digits", 12.0),
    ("no-go", "bench", "answer", 12.0),
    ("go", "bench", "answer", 12.0),
    ("no-go", "verdict", "band", 12.0),
    ("to-correct", "verdict", "order", 7.0),
    ("to-correct", "verdict", "caution", 4.0),
    ("to-correct", "correct", "title", 7.0),
    ("set", "correct", "to_go", 15.0),
    ("inside", "correct", "title", 8.0),
    ("cautions", "correct", "title", 5.0),
)
# Every word that is to be read from afar is lettered where it stands, be the scene's another one.
WORD_MM = 12.0
WORD_STANDS = (("no-go", "bench", "answer"), ("no-go", "verdict", "band"))
MOST_WORDS = 40
# All numbers, why, and setup may say more; so may everything that is known of a step, for who wants it, and what is a
# list to choose from.
TELLS_MORE = ("numbers", "causes", "setup")
TELL_MORE = {"set-details", "correct-details", "machine-answers", "filter", "filter-machines", "filtered"}
UNITS = {"mm", "in", "MB", "GB"}


def main() -> int:
    """Look at one size, or start one process a size: a surface in memory keeps the size it was made with."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--size", help="one size only")
    parser.add_argument("--share", type=float, default=1.0, help="of the screens whose touches are made")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--piece", default="", help="the touches of one screen, or of a state that takes many touches")
    parser.add_argument("--language", default="en", choices=["en", "de"], help="in which touches are made")
    parser.add_argument("--twice", action="store_true", help="each touch twice, quickly")
    parser.add_argument("--table", type=Path, help="screen by screen; what stands in it is not walked again")
    parser.add_argument("what", nargs="*", default=[], choices=["heights", "harm", "words", []])
    args = parser.parse_args()
    if args.size is None:
        again = [sys.executable, "-m", "tests.endurance.screens_hold", *sys.argv[1:], "--size"]
        runs = [subprocess.run([*again, size], check=False) for size in SIZES]
        return int(any(run.returncode for run in runs))
    if args.table is not None and not args.piece:
        return walked_in_pieces(args)
    from ui.touch.app import configure
    from ui.touch.kivy_settings import ScreenSettings

    width, height = (int(part) for part in args.size.split("x"))
    configure(ScreenSettings(width_px=width, height_px=height, frames_per_s=5000))
    from core.said import NOTHING
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES
    from tests.ui.stand_in_bench import StandInBench
    from ui.pages.theme import TOUCH_GUARD_S

    given = {"switch_off": lambda: NOTHING, "set_clock": lambda _time: NOTHING}
    guard = {"guard_s": TOUCH_GUARD_S} if args.twice else {}
    checks = {"heights": heights, "harm": lambda screen: harmful(screen, args), "words": words}
    faults: list[str] = []
    with Offscreen(StandInBench(SCENES["first"]()), drawn=False, **given, **guard) as screen:
        for name in args.what or checks:
            found = checks[name](screen)
            print(f"{args.size} {name}: {len(found)} faults", flush=True)
            faults += found
    print("\n".join(f"  {fault}" for fault in faults))
    return int(bool(faults))


# ---- harm


def harmful(screen: Offscreen, args: argparse.Namespace) -> list[str]:
    """The touches of all screens or of one; a row of the table, where there is one."""
    from tests.endurance.under_the_finger import harm

    drawn = random.Random(args.seed)
    settings = dict(zip(("en", "de"), languages(), strict=True))[args.language]
    walked = harm(screen, lambda: drawn.random() < args.share, piece=args.piece, settings=settings, twice=args.twice)
    print(f"  {walked.pairs} pairs joined by one touch, of {walked.touches} touches on {walked.starts} screens")
    if args.table is not None:
        row = (*piece_of(args), walked.starts, walked.touches, walked.pairs, len(walked.faults))
        with args.table.open("a", newline="") as file:
            csv.writer(file).writerow(row)
    return list(walked.faults)


def piece_of(args: argparse.Namespace) -> tuple[str, ...]:
    """What one row of the table is about."""
    return args.size, args.language, "twice" if args.twice else "once", args.piece


def walked_in_pieces(args: argparse.Namespace) -> int:
    """Piece by piece, each in a process of its own; what stands in the table was walked before. Says what all came
    to."""
    from tests.endurance.under_the_finger import pieces

    again = [sys.executable, "-m", "tests.endurance.screens_hold", *sys.argv[1:], "--piece"]
    for name in pieces():
        if (args.size, args.language, "twice" if args.twice else "once", name) not in rows_of(args.table):
            subprocess.run([*again, name], check=False)
    mine = [figures for piece, figures in rows_of(args.table).items() if piece[:3] == piece_of(args)[:3]]
    starts, touches, pairs, faults = (sum(figure) for figure in zip(*mine, strict=True))
    print(
        f"{' '.join(piece_of(args)[:3])}: {len(mine)} of {len(pieces())} pieces walked to the end: "
        f"{starts} beginnings, {touches} touches, {pairs} pairs joined by one, {faults} faults"
    )
    return int(faults > 0 or len(mine) < len(pieces()))


def rows_of(table: Path) -> dict[tuple[str, ...], tuple[int, ...]]:
    """The newest row of each piece: beginnings, touches, pairs, faults."""
    if not table.exists():
        return {}
    with table.open(newline="") as file:
        return {tuple(row[:4]): tuple(map(int, row[4:])) for row in csv.reader(file)}


def languages() -> tuple[Any, ...]:
    """A bench in English, and one in German with a decimal comma."""
    from ui.speech.language import Language
    from ui.speech.notation import DecimalMark, Notation
    from ui.state.settings import Settings

    return Settings(), Settings(language=Language.GERMAN, notation=Notation(mark=DecimalMark.COMMA))


# ---- heights


def heights(screen: Offscreen) -> list[str]:
    """Capitals and figures lower than they must be."""
    from tests.ui.scenes import SCENES

    found = []
    for (scene, name, what, least_mm), settings in product(HEIGHTS, languages()):
        screen.go("menu")
        screen.show(replace(SCENES[scene](), settings=settings))
        screen.go(name)
        screen.frames(2)
        mm = first_capital_px(area_of(screen, what)) / px_per_mm_up()
        print(f"  {what} on {name}, {settings.language}: {mm:.1f} mm (least {least_mm:g})")
        if mm < least_mm - 0.05:
            found.append(f"{what} on {name}, {settings.language}: {mm:.1f} mm, least {least_mm:g}")
    return found + low_words(screen)


def low_words(screen: Offscreen) -> list[str]:
    """Verdicts, and what became of a machine, lower than they must be."""
    from tests.ui.scenes import SCENES
    from ui.pages.bench import _UNDER_WAY
    from ui.pages.theme import LARGE_WORD
    from ui.pages.verdict import _BECAME

    found = []
    for (scene, name, what), settings in product(WORD_STANDS, languages()):
        screen.go("menu")
        screen.show(replace(SCENES[scene](), settings=settings))
        screen.go(name)
        screen.frames(2)
        others = [_UNDER_WAY.word] if name == "bench" else [word for _shape, word, _about in _BECAME.values()]
        lettered = answer_block(screen) if name == "bench" else screen.app.root.screen
        for word in (*LARGE_WORD.values(), *others):
            lettered.word = word
            screen.frames(2)
            mm = first_capital_px(area_of(screen, what)) / px_per_mm_up()
            text = f"{screen.app.speech.say(word)} on {name}: {mm:.1f} mm"
            print(f"  {text}")
            if mm < WORD_MM - 0.05:
                found.append(f"{text}, least {WORD_MM:g}")
    return found


def answer_block(screen: Offscreen) -> Any:
    """What letters the word on the bench."""
    from ui.touch.widgets import WordBlock

    (widget,) = (one for one in screen.app.root.screen.ids.face.walk() if isinstance(one, WordBlock))
    return widget


def px_per_mm_up() -> float:
    """Up, on a panel of 7 inches."""
    from kivy.core.window import Window

    long_mm, short_mm = SEVEN_INCHES_MM.get(f"{Window.width:.0f}x{Window.height:.0f}", USUAL_MM)
    return float(Window.height / (short_mm if Window.width > Window.height else long_mm))


def area_of(screen: Offscreen, what: str) -> np.ndarray:
    """The pixels of what is measured."""
    from kivy.core.window import Window

    from ui.touch.widgets import Digits

    root = screen.app.root.screen
    if what == "digits":
        (widget,) = (one for one in root.ids.face.children[0].children if isinstance(one, Digits))
    elif what == "answer":
        widget = answer_block(screen)
    elif what == "title":
        widget = root.ids.order
    elif what == "to_go":
        figures = [one for one in root.ids.figures.walk() if isinstance(one, Digits)]
        widget = max(figures, key=lambda one: one.font_px)
    else:
        widget = root.ids[what]
    x, y = widget.to_window(widget.x, widget.y)
    left = round(x) + (round(screen.app.scale * 90) if what == "band" else 0)  # its shape stands before the word
    top, bottom = round(Window.height - y - widget.height), round(Window.height - y)
    return screen.pixels()[max(top, 0) : bottom, max(left, 0) : round(x + widget.width)]


def first_capital_px(area: np.ndarray) -> int:
    """How high the first letter or figure of the first line stands: ink is what differs from the commonest colour."""
    import numpy as np

    from tests.ui.layout_checks import colours_of

    colours, counts = colours_of(area.reshape(-1, 3))
    ink = np.abs(area.astype(int) - colours[counts.argmax()]).max(axis=2) > 90
    ink = first_line(ink)
    columns = np.flatnonzero(ink.any(axis=0))
    if columns.size == 0:
        return 0
    end = columns[0]
    while end + 1 < ink.shape[1] and ink[:, end + 1].any():
        end += 1
    rows = np.flatnonzero(ink[:, columns[0] : end + 1].any(axis=1))
    return int(rows[-1] - rows[0] + 1)


def first_line(ink: np.ndarray) -> np.ndarray:
    """The first line's rows: down to the first that is empty."""
    import numpy as np

    rows = np.flatnonzero(ink.any(axis=1))
    breaks = np.flatnonzero(np.diff(rows) > 1)
    last = rows[breaks[0]] if breaks.size else rows[-1] if rows.size else 0
    return ink[: last + 1]


# ---- words


def words(screen: Offscreen) -> list[str]:
    """Screens that say more than a person reads, in every state of theirs and both languages; figures and the rows of
    lists do not count."""
    found = []
    for settings in languages():
        most: dict[str, tuple[int, str]] = {}
        for name, where in states(screen, settings):
            count = sum(len(counted(label)) for label in labels(screen))
            most[name] = max(most.get(name, (0, "")), (count, where))
            if count > MOST_WORDS:
                found.append(f"{name} says {count} words ({where}, {settings.language}), at most {MOST_WORDS}")
        for name, (count, where) in sorted(most.items()):
            print(f"  {settings.language} {name}: {count} words ({where})")
    return found


def states(screen: Offscreen, settings: Any) -> Iterator[tuple[str, str]]:
    """Every state of every screen that must be brief, in sight one after the other: its screen, and which state."""
    from core.machine.cautions import ALL_CAUTIONS
    from core.machine.guided_correction import GuidedState
    from tests.endurance.under_the_finger import enter
    from tests.ui.scenes import SCENES
    from tests.ui.touched import TOUCHED, touch_until
    from ui.touch.shell import SCREENS

    brief = [name for name in SCREENS if name not in TELLS_MORE]
    for name, scene in product(brief, SCENES):
        enter(screen, replace(SCENES[scene](), settings=settings), name)
        yield name, scene
    for caution in ALL_CAUTIONS:
        with patch.object(GuidedState, "caution", property(lambda _state, caution=caution: caution)):
            enter(screen, replace(SCENES["cautions"](), settings=settings), "correct")
        yield "correct", caution.name
    for touched, (_scene, name, _words) in TOUCHED.items():
        if name in brief and touched not in TELL_MORE:
            enter(screen, replace(SCENES["first"](), settings=settings), "menu")
            touch_until(screen, touched)
            screen.show(replace(screen.app.snapshot, settings=settings))
            yield name, touched


def labels(screen: Offscreen) -> list[Any]:
    """Every label in sight that is no row of a list, nor part of one."""
    from kivy.uix.label import Label

    from tests.ui.layout_checks import _viewport, in_sight

    found = [one for one in in_sight(screen.app.root) if isinstance(one, Label)]
    return [one for one in found if not (_viewport(one) and in_row(one))]


def in_row(widget: Any) -> bool:
    """Whether it is something that is touched, or part of a card: plain text lies in its list directly."""
    from kivy.uix.behaviors import ButtonBehavior
    from kivy.uix.scrollview import ScrollView

    above = [widget]
    while not isinstance(above[-1], ButtonBehavior | ScrollView):
        above.append(above[-1].parent)
    return isinstance(above[-1], ButtonBehavior) or len(above) > 3


def counted(label: Any) -> list[str]:
    """Its words: what has a figure in it is a value, a unit and a single letter belong to one."""
    words = [word for word in label.read.split() if word not in UNITS]
    return [word for word in words if sum(map(str.isalpha, word)) > 1 and not any(map(str.isdigit, word))]


if __name__ == "__main__":
    sys.exit(main())
