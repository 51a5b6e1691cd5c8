"""The kiosk on a real kernel: Kivy on a bare panel, fingers through the kernel's input layer, a whole session by touch.

Needs a graphics card with a panel and uinput, as on a Pi without a desktop, and root to make fingers and to look at the
panel; skipped elsewhere. The program itself runs without any right of root. No mock anywhere: each tap is a multi-touch
report of a device, read by libmtdev, that presses a real button.
"""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import numpy as np
import pytest

from ui.pages.theme import LIGHT, Colour, Shape
from ui.touch.kivy_settings import has_display

evdev = pytest.importorskip("evdev")
from evdev import ecodes  # noqa: E402 - after the skip

from tests.kiosk.coupon import READINGS  # noqa: E402
from tests.kiosk.devices import Keyboard, Panel  # noqa: E402
from tests.kiosk.running import ALONE, BARE, CONSOLE, HEIGHT, ROOT, WATCHED, WIDTH, Kiosk  # noqa: E402

pytestmark = [
    pytest.mark.real_kernel,
    pytest.mark.timeout(3000),
    pytest.mark.skipif(not os.access("/dev/uinput", os.W_OK), reason="no uinput here"),
    pytest.mark.skipif(not has_display({}), reason="no panel without a desktop here"),
]

# Source: the kernel's linux/kd.h.
KDGKBMODE, K_OFF = 0x4B44, 4
ACTIVE_CONSOLE = Path("/sys/class/tty/tty0/active")
ON_BENCH = "Menu"
LETTERED_PX = 250


@contextmanager
def started(program: Callable[[Path], list[str]], prepare: Callable[[Path], None] = lambda _folder: None):
    """The program on the panel; `prepare` fills its folder before."""
    # Not pytest's own folder, which is closed to every other user.
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        panel = Panel(WIDTH, HEIGHT)
        stack.callback(panel.close)
        time.sleep(1.0)  # udev names the devices
        prepare(folder)
        running = Kiosk(folder, panel, program(folder))
        stack.callback(lambda: print(running.story()))
        stack.callback(running.end)
        yield running


def watched(folder: Path) -> list[str]:
    return [WATCHED, str(folder)]


@pytest.fixture
def kiosk() -> Iterator[Kiosk]:
    with started(watched) as running:
        yield running


def share(pixels: np.ndarray, colour: Colour) -> float:
    """How much of the picture has this colour, up to rounding."""
    wanted = [round(255 * part) for part in colour[:3]]
    return float((abs(pixels.astype(int) - wanted) <= 2).all(axis=2).mean())


def test_ready_is_said_behind_the_first_frame_by_a_program_without_rights(kiosk: Kiosk) -> None:
    patience_until = time.monotonic() + 200
    while not kiosk.is_ready():
        assert time.monotonic() < patience_until, kiosk.story()
        time.sleep(0.01)
    at_ready = kiosk.picture("ready")
    assert share(kiosk.before, LIGHT.paper) == 0.0
    assert share(at_ready, LIGHT.paper) > 0.2
    kiosk.place(ON_BENCH)
    settled = kiosk.settled_picture("bench")
    assert (at_ready == settled).all(axis=2).mean() > 0.95
    status = kiosk.status()
    assert set(status["Uid"].split()) != {"0"}
    assert int(status["CapEff"], 16) == int(status["CapPrm"], 16) == 0
    assert "libmtdev" in Path(f"/proc/{kiosk.process.pid}/maps").read_text()


def test_a_whole_session_by_touch(kiosk: Kiosk) -> None:
    state = kiosk.until("the first screen", lambda state: state["buttons"] != [])
    assert state["size"] == [WIDTH, HEIGHT]
    kiosk.tap("Type")
    for feature, digits in READINGS.items():
        kiosk.tap(feature)
        kiosk.key_in(digits)
    state = kiosk.until("the verdict", lambda state: state["verdict"] == "no-go")
    assert state["values"] == [float(digits) for digits in READINGS.values()]
    kiosk.picture("measured")
    kiosk.go("Menu", "menu")
    kiosk.go("Verdict", "verdict")
    pixels = kiosk.settled_picture("verdict")
    # The headline's chip at the upper right, on the panel itself: not settled by one reading each, as on the bench.
    assert share(pixels[2:49, WIDTH - 186 :], LIGHT.lamp(Shape.HALF_DIAMOND).fill) > 0.4
    kiosk.tap("Finish coupon")
    state = kiosk.until("the end", lambda state: state["closed"])
    kiosk.settled_picture("closed")
    assert state["touches"] == kiosk.taps
    print(f"{kiosk.taps} taps, {state['touches']} touches, verdict {state['verdict']}")


def test_a_turned_panel_is_pressed_where_it_is_seen(kiosk: Kiosk) -> None:
    kiosk.go("Menu", "menu")
    kiosk.go("Setup", "setup")
    for degrees in (90, 180, 270, 0):
        before = kiosk.settled_picture(f"before-{degrees}")
        with kiosk.finger_on(f"{degrees}°") as (x, y):
            pressed = kiosk.settled_picture(f"finger-on-{degrees}")
        # The panel's own pixels tell which button went down, whatever Kivy makes of the finger's place.
        rows, columns = np.nonzero((pressed != before).any(axis=2))
        assert columns.min() < x < columns.max()
        assert rows.min() < y < rows.max()
        assert max(np.ptp(rows), np.ptp(columns)) < LETTERED_PX
        size = [WIDTH, HEIGHT] if degrees % 180 == 0 else [HEIGHT, WIDTH]
        kiosk.until("the turn", lambda state, size=size, degrees=degrees: state["rotation"] == degrees)
        kiosk.until("its size", lambda state, size=size: state["size"] == size)
    kiosk.settled_picture("turned-back")


def test_the_dark_panel_is_woken_by_a_touch_that_presses_nothing(kiosk: Kiosk) -> None:
    kiosk.go("Menu", "menu")
    kiosk.go("Setup", "setup")
    kiosk.tap("5 min")
    kiosk.go("Bench", "bench")
    lit = kiosk.settled_picture("awake")
    begin_s = time.monotonic()
    kiosk.until("the dark", lambda state: state["asleep"], patience_s=600)
    assert time.monotonic() - begin_s > 200
    assert (kiosk.settled_picture("asleep") == 0).all()
    kiosk.tap(ON_BENCH)
    state = kiosk.until("the light", lambda state: not state["asleep"])
    assert (kiosk.settled_picture("woken") == lit).all()
    assert state["screen"] == "bench"
    kiosk.go(ON_BENCH, "menu")


def test_no_key_leads_out_of_the_program(kiosk: Kiosk) -> None:
    kiosk.place(ON_BENCH)
    before, console = kiosk.settled_picture("before-keys"), ACTIVE_CONSOLE.read_text()
    keyboard = Keyboard()
    time.sleep(2.0)
    keyboard.strike(ecodes.KEY_A)
    kiosk.until("a key", lambda state: state["keys"] >= 1)  # they do arrive, and so could do harm
    alone = ("ESC", "F1", "F11", "F12", "MENU", "HOME", "BACK", "TAB", "SPACE", "1", "ENTER", "SYSRQ", "PAUSE")
    together = (
        ("LEFTALT", "F4"),
        ("LEFTALT", "TAB"),
        ("LEFTCTRL", "C"),
        ("LEFTCTRL", "E"),
        ("LEFTCTRL", "Z"),
        ("LEFTALT", "F2"),
        ("LEFTCTRL", "LEFTALT", "F2"),
        ("LEFTCTRL", "LEFTALT", "F3"),
        ("LEFTCTRL", "LEFTALT", "BACKSPACE"),
        ("LEFTCTRL", "LEFTALT", "DELETE"),
    )
    for names in (*((name,) for name in alone), *together):
        keyboard.strike(*(getattr(ecodes, f"KEY_{name}") for name in names))
    state = kiosk.until("the keys", lambda state: state["keys"] >= 20)
    look = state["look"]
    state = kiosk.until("later looks", lambda state: state["look"] > look + 5)
    assert (state["screen"], state["touches"]) == ("bench", 0)
    assert (kiosk.settled_picture("after-keys") == before).all()
    assert ACTIVE_CONSOLE.read_text() == console
    with CONSOLE.open("rb") as terminal:
        assert int.from_bytes(fcntl.ioctl(terminal, KDGKBMODE, bytes(4)), sys.byteorder) == K_OFF
    keyboard.close()


def test_what_an_instrument_types_is_a_reading_and_no_key(tmp_path: Path) -> None:
    instrument = Keyboard("kiosk test instrument")
    time.sleep(1.0)

    def remember_it(folder: Path) -> None:
        """By hand, as README tells: the kernel gives a cable made by uinput no stable name."""
        what = ["--set", "caliper", "--port", instrument.path, "--format", "typed-length"]
        command = [sys.executable, "-m", "ui.command_line.cli", "--data", str(folder / "data"), "instruments", *what]
        subprocess.run(command, cwd=ROOT, check=True, env={**os.environ, "XDG_CACHE_HOME": str(folder)})

    with started(watched, remember_it) as kiosk:
        kiosk.place(ON_BENCH)
        instrument.burst("136.37")
        kiosk.until("a reading", lambda state: state["values"] == [136.37])
        kiosk.tap("Type")
        instrument.burst("139.83")
        state = kiosk.until("another", lambda state: state["values"] == [136.37, 139.83])
        kiosk.picture("typed")
        assert (state["typing"], state["entry"], state["keys"]) == (True, "", 0)
    instrument.close()


@pytest.mark.parametrize("turns", [0, 1])
def test_a_frame_in_part_is_what_a_whole_one_is_in_buffers_of_any_age(turns: int) -> None:
    command = [sys.executable, "-m", "tests.kiosk.stale", str(turns)]
    environ = {**os.environ, "SDL_VIDEODRIVER": "kmsdrm"}
    ended = subprocess.run(command, cwd=ROOT, env=environ, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    told = json.loads(ended.stdout.splitlines()[-1])
    print(told)
    assert told["parts"] > 30


def test_an_idle_bench_costs_little_more_than_a_bare_window() -> None:
    def share_of_a_core(program: Callable[[Path], list[str]], is_up: Callable[[Kiosk], bool]) -> float:
        with started(program) as running:
            while not is_up(running):
                assert running.process.poll() is None, running.story()
                time.sleep(0.5)
            time.sleep(20.0)
            used_s, begin_s = running.used_s(), time.monotonic()
            time.sleep(30.0)
            return (running.used_s() - used_s) / (time.monotonic() - begin_s)

    bare = share_of_a_core(lambda _folder: [BARE], lambda running: (running.folder / "up").exists())
    bench = share_of_a_core(
        lambda folder: ["-m", ALONE, "--data", str(folder / "data")], lambda running: running.is_ready()
    )
    print(f"of a core here: bare window {100 * bare:.0f} %, idle bench {100 * bench:.0f} %")
    assert bench < 0.5
    assert bench < 3 * bare
