"""Rule of the screens: what voids, forgets, resets, finishes or confirms never comes up where a finger has just been.

Every pair of screens and panels that one touch joins: each screen in each scene, and each state that only touches bring
up, is entered, everything on it is touched once, and what came up is held against where the finger was. What a button
does is told by the command it sends, so that a harmful one whose words are not in HARMFUL is found as well.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from functools import cache, partial
from itertools import product
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from msgspec import Struct
from msgspec.structs import replace

if TYPE_CHECKING:
    from tests.ui.offscreen import Offscreen

Box = tuple[float, float, float, float]  # left, low, right, high; px of the window
Target = tuple[Box, str]
Face = tuple[str, Target, tuple[Target, ...]]  # screen, what is touched on it, and all that can be
EVERYWHERE = ("< Back", "Bench")
LEISURE_S = 60.0
FEW_TOUCHES = 4
VERDICTS = ("GO", "NO-GO", "UNDECIDED", "INCONSISTENT", "no verdict")

# What is drawn, and confirms a caution where it is touched.
DRAWN = "the thing drawn"
# What voids, forgets, resets, finishes, gives up, replaces, switches off: the words on its buttons.
HARMFUL = {
    "Slipped", "Wrong place", "Burr or dirt", "Finish coupon", "Forget", "Forget it", "Switch off",
    "Begin the correction", "Nothing was loosened", "Loosened, not set", "Set and tight again", "Play found and cured",
    "Squared to its frame", "I have looked: try it", "Zero lost", "Take it back", "Install 0.3.0", "Back to 0.1.0",
    "Join", "Be alone again", "Wipe it off", DRAWN,
}  # fmt: skip
# An open coupon, one settled, a move, every stage of a correction, records, instruments, what replaces all: between
# them every screen has what is touched on it.
WALKED = (
    "edges", "question", "no-go", "go", "to-correct", "no-witness", "cautions", "play", "gaps", "loosen", "set",
    "recut", "cable", "stranger", "drifting", "grid", "keep-found", "keep", "update-found", "update-taken-back",
    "design-ready", "shop-found", "shop-joined", "shop-wipe", "shop-asks",
    "shop-answered", "shop-forked", "shop-forked-found",
    "practice-asked",
)  # fmt: skip


class Walked(Struct, frozen=True, kw_only=True):
    """What one walk came to: beginnings entered, touches made, pairs of screens or panels that one touch joined."""

    starts: int
    touches: int
    pairs: int
    faults: tuple[str, ...]


def harm(
    screen: Offscreen,
    is_walked: Callable[[], bool],
    *,
    piece: str = "",
    settings: Any = None,
    twice: bool = False,
) -> Walked:
    """What harms and comes up under the finger, and what harms and is not known to; `twice`: what the second of two
    quick touches at one place told. `is_walked` draws whether the touches of a beginning are made; `piece`: one of
    `pieces` only."""
    found: set[str] = set()
    stayed: set[Face] = set()
    begun = pairs = touches = 0
    with at_leisure(screen) if twice else nullcontext():
        for where, come in starts(screen, piece, settings):
            if not is_walked():
                continue
            begun += 1
            for touched, before, after, sent in touched_once(screen, come, stayed, where.rpartition(", ")[2], twice):
                touches += 1
                pairs += after != before
                faults = told_by_the_second(touched, sent) if twice else faults_of(touched, before, after, sent)
                found |= {f"{fault} ({where})" for fault in faults}
    return Walked(starts=begun, touches=touches, pairs=pairs, faults=tuple(sorted(found)))


def told_by_the_second(touched: Target, sent: list[Any]) -> list[str]:
    """A second touch close behind the first, at the same place, tells the bench nothing; a feature of the drawing may
    be chosen again, which changes nothing."""
    from ui.bench.desks.measuring import SelectFeature

    told = [command for command in sent if not isinstance(command, SelectFeature)]
    return [f"the second touch of {touched[1]!r} sends {type(command).__name__}" for command in told]


def faults_of(touched: Target, before: list[Target], after: list[Target], sent: list[Any]) -> list[str]:
    """What is wrong with one touch: where it was, what could be touched before and after it, and what it told."""
    box, words_there = touched
    found = [
        f"{words!r} comes up where {words_there!r} was touched"
        for place, words in after
        if words in HARMFUL and (place, words) not in before and overlap(place, box)
    ]
    return found + [
        f"{words_there!r} sends {type(command).__name__} and is not known to harm"
        for command in sent
        if does_harm(command) and words_there not in HARMFUL
    ]


def does_harm(command: Any) -> bool:
    """Whether what is told voids, forgets, resets, finishes, gives up, begins a correction or replaces; what confirms a
    caution is DRAWN."""
    from ui.bench.desks import cables, keeping, machines, measuring, shop, update

    if isinstance(command, update.ChangeVersion):
        return command.step in (update.UpdateStep.INSTALL, update.UpdateStep.GO_BACK)
    if isinstance(command, keeping.KeepBench):
        return command.step is keeping.KeepStep.TAKE_BACK
    return isinstance(
        command,
        measuring.VoidReading
        | measuring.CloseSession
        | cables.ForgetInstrument
        | machines.AbandonCorrection
        | machines.BeginCorrection
        | machines.BeginCorrectionByReference
        | machines.LogCoarseReset
        | shop.JoinShop
        | shop.WipeShopFile
        | shop.LeaveShop,
    )


def pieces() -> tuple[str, ...]:
    """What the walk falls into: each screen in its scenes, with the states that a few touches bring up; each state that
    takes many. Between them they are everything, and the same face of a screen is never in two."""
    from tests.ui.touched import TOUCHED
    from ui.touch.shell import SCREENS

    return (*SCREENS, *(state for state, way in TOUCHED.items() if _piece_of(state, *way) == state))


def _piece_of(state: str, _scene: str, name: str, words: tuple[str, ...]) -> str:
    return state if len(words) > FEW_TOUCHES else name


def starts(screen: Offscreen, piece: str = "", settings: Any = None) -> Iterator[tuple[str, Callable[[], object]]]:
    """Every screen in every scene, and every state that touches bring up (or those of one piece): its name, and the way
    there."""
    from tests.ui.scenes import SCENES
    from tests.ui.touched import AS_SUPPLIED, TOUCHED, touch_until
    from ui.touch.shell import SCREENS

    spoken = settings or AS_SUPPLIED
    scene_of = cache(lambda name: replace(SCENES[name](), settings=spoken))

    def enter_scene(scene: str, name: str) -> None:
        enter(screen, scene_of(scene), name)

    def touch_afresh(state: str) -> None:
        forget(screen, TOUCHED[state][1])
        touch_until(screen, state, spoken)

    for scene, name in product(WALKED, SCREENS):
        if piece in ("", name):
            yield f"{name}, {scene}", partial(enter_scene, scene, name)
    for state, way in TOUCHED.items():
        if piece in ("", _piece_of(state, *way)):
            yield f"touched: {state}", partial(touch_afresh, state)


def touched_once(
    screen: Offscreen, come: Callable[[], object], stayed: set[Face], scene: str = "", twice: bool = False
) -> Iterator[tuple[Target, list[Target], list[Target], list[Any]]]:
    """Everything there, touched once as it is when one comes to it: where the finger was, what could be touched
    before and after, and the commands that were sent. What stayed on its screen is not touched again where the same
    can be touched on it in another scene; what leads to another screen is, for that one may show something else. The
    keys that every screen has lead to the same from everywhere: Back (here to the menu) and Bench once a scene.
    `twice`: a second touch follows at once, and the commands are those that it sent."""
    come()
    wanted = targets(screen)
    name = screen.app.root.screen.name
    at_start = True
    for target in wanted:
        if (name, target, of_the_screen(wanted)) in stayed or (
            target[1] in EVERYWHERE and (scene, target, ()) in stayed
        ):
            continue
        if not at_start:
            come()
        before = targets(screen)
        touched = target if target in before else next((one for one in before if one[1] == target[1]), None)
        if touched is None:
            print(f"  {target[1]!r} was not there again")
            continue
        told = len(screen.bench.sent)
        (left, low, right, high), _words = touched
        place = (left + right) / 2, (low + high) / 2
        screen.tap(*place)
        if twice:
            told = len(screen.bench.sent)
            screen.tap(*place, bounced=True)
        after = targets(screen)
        sent = screen.bench.sent[told:]
        at_start = after == before and not sent
        stayed.add((scene, touched, ()))
        if screen.app.root.screen.name == name:
            stayed.add((name, touched, of_the_screen(before)))
            if not at_start:
                forget(screen, name)
        yield touched, before, after, sent


@contextmanager
def at_leisure(screen: Offscreen) -> Iterator[None]:
    """Each touch is made long after what it meets came up, but the second of two: by a clock that stands still
    meanwhile, so that a slow machine makes no difference."""
    from ui.touch import shell
    from ui.touch.widgets import basics

    tap, now_s = screen.tap, [time.monotonic()]

    def tap_later(x: float, y: float, *, bounced: bool = False) -> None:
        now_s[0] += 0.0 if bounced else LEISURE_S
        tap(x, y, bounced=bounced)

    clock = SimpleNamespace(time=time.time, monotonic=lambda: now_s[0])
    with (
        patch.object(basics, "time", clock),
        patch.object(shell, "time", clock),
        patch.object(screen, "tap", tap_later),
    ):
        yield


def of_the_screen(found: list[Target]) -> tuple[Target, ...]:
    """Without the chip of the verdict, which says another word in another scene and changes nothing else."""
    return tuple(one for one in found if one[1] not in VERDICTS)


def forget(screen: Offscreen, name: str) -> None:
    """Whatever was begun on this screen: it is made anew when it is next entered, for a screen keeps that."""
    from ui.touch.in_hand import InHand

    app, manager = screen.app, screen.app.root.ids.screens
    if manager.has_screen(name):
        screen.go("menu" if name != "menu" else "bench")
        manager.remove_widget(manager.get_screen(name))
    app.in_hand, app.coupon_draft, app.looked_at = InHand(), None, ""


def enter(screen: Offscreen, snapshot: Any, name: str) -> None:
    """The screen as it is when one comes to it."""
    screen.go("menu" if name != "menu" else "bench")
    screen.show_on(name, snapshot)


def targets(screen: Offscreen) -> list[Target]:
    """Everything that can be touched, its box in px of the window and its words: buttons, and on the drawing of the
    coupon each feature."""
    return [*buttons(screen), *features(screen)]


def buttons(screen: Offscreen) -> list[Target]:
    """Every button in sight."""
    from kivy.uix.behaviors import ButtonBehavior

    from tests.ui.layout_checks import _viewport, in_sight
    from ui.touch.widgets.picture import TouchedPicture

    found = []
    for widget in in_sight(screen.app.root):
        if isinstance(widget, ButtonBehavior) and not widget.disabled:
            words = " ".join(str(part.text) for part in widget.walk(restrict=True) if getattr(part, "text", ""))
            x, y = widget.to_window(widget.x, widget.y)
            if isinstance(widget, TouchedPicture):
                corner, side = widget.drawn_square()
                x, y = widget.to_window(*corner)
                found.append(((x, y, x + side, y + side), DRAWN))
                continue
            box = in_its_list((x, y, x + widget.width, y + widget.height), _viewport(widget))
            if box is not None:
                found.append((box, words))
    return found


def in_its_list(box: Box, view: Box | None) -> Box | None:
    """The part of a row that is in sight; None for one that is scrolled away: a touch there meets another."""
    if view is None:
        return box
    left, low = max(box[0], view[0]), max(box[1], view[1])
    right, high = min(box[2], view[2]), min(box[3], view[3])
    return (left, low, right, high) if right - left > 1 and high - low > 1 else None


def features(screen: Offscreen) -> list[Target]:
    """Where a finger lies on each feature of the drawing, as wide as one."""
    from core.geometry.features import TEN_FEATURES
    from tests.ui.touching import feature_place

    if screen.app.root.helping or screen.app.root.screen.name != "bench":
        return []
    figure = screen.app.root.screen.ids.figure
    if figure.figure is None:
        return []
    half = screen.app.target / 2
    places = [(feature_place(screen, feature), str(feature)) for feature in TEN_FEATURES]
    return [((x - half, y - half, x + half, y + half), words) for (x, y), words in places]


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes share more than a line."""
    return min(one[2], other[2]) - max(one[0], other[0]) > 1 and min(one[3], other[3]) - max(one[1], other[1]) > 1
