"""Render the README's pictures: `python -m tests.ui.render_pictures`; from the simulated bench, and the shop's pages
from a real browser and server (chromium, postgresql)."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

os.environ["SDL_VIDEODRIVER"] = "offscreen"

from core.machine.procedure import Stage
from core.metrology.live import LiveState
from ui.start import BenchOptions, assembled
from ui.state.snapshot import Snapshot
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings

PICTURES = Path(__file__).resolve().parents[2] / "ui" / "pictures"


def closing_on_an_edge(snapshot: Snapshot) -> bool:
    """The jaws stand on an edge, and three readings are in."""
    return len(snapshot.readings) >= 3 and snapshot.live_length.state is LiveState.INSIDE


def settled(snapshot: Snapshot) -> bool:
    """The verdict is there and cross-checked."""
    return snapshot.evaluation is not None and snapshot.evaluation.settled


def main() -> None:
    configure(ScreenSettings())
    from tests.ui.offscreen import Offscreen
    from tests.ui.scenes import SCENES, correcting
    from tests.ui.shop import render_pages
    from tests.ui.stand_in_bench import StandInBench

    with (
        tempfile.TemporaryDirectory() as folder,
        assembled(BenchOptions(folder=Path(folder), scenario="racked")) as bench,
        Offscreen(bench) as screen,
    ):

        def picture(name: str, when: Callable[[Snapshot], bool]) -> None:
            screen.go(name)
            taken = False
            # The bench goes on while the picture is taken: what it shows must still be so afterwards.
            while not taken:
                while not when(bench.snapshot):
                    screen.frames(1)
                screen.save(PICTURES / f"{name}.png")
                taken = when(bench.snapshot)

        picture("bench", closing_on_an_edge)
        for name in ("verdict",):
            picture(name, settled)

    # The gantry being set is hours of a person's work away: here the tests' scene of it, on the way to its goal.
    # So is a year of two benches.
    for name, scene in (("correct", correcting(Stage.SET, 9.31)), ("history", SCENES["shared"]())):
        with Offscreen(StandInBench(scene)) as screen:
            screen.go(name)
            screen.save(PICTURES / f"{name}.png")
    render_pages.readme_picture(PICTURES / "shop.png")


if __name__ == "__main__":
    main()
