"""The installed instrument on a whole emulated board, by touch, from a fresh card to its removal:

    python tests/endurance/on_board.py --pictures FOLDER --boot 'COMMAND' --package DEB [STEP ...]
    python tests/endurance/on_board.py ... protocol                     the twenty minutes of hardware/proof.md

COMMAND drives an emulator of an aarch64 board with Debian; what it is asked is in board/emulated.py. The steps, all of
them in this order unless some are named: package, coupon, stick, cable, single, trial, refused, remove.
By name only: sound, hangs, pins, lamp_box (the latter half of pins), and the protocol's own.
Each step begins at the bench screen and finds its way there, so that any can be done alone on a machine that runs.
Prints a line a step; pictures of the panel and the twin's records stay in FOLDER, so that steps can be done one by one,
on a machine that runs. An hour on two idle cores. The coupon is SIMULATED: typed, never measured.
"""

from __future__ import annotations

import argparse
import base64
import gzip
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from hardware.pins import LAMPS, Line  # noqa: E402
from tests.endurance.board.emulated import LONG_PATIENCE_S, SELDOM_S, Board, same_share  # noqa: E402
from tests.endurance.board.lamp_box import LampBox, soundings  # noqa: E402
from tests.endurance.board.twin import ALIKE, Person, Twin  # noqa: E402
from tests.kiosk.coupon import OPEN_COUPONS, READINGS  # noqa: E402
from ui.pages.theme import LIGHT  # noqa: E402
from ui.state.stick import DownloadState  # noqa: E402

CUT_BEHIND = "near edge"  # in mid-coupon: the plug is pulled when this reading has been seen as accepted
PLUGS = 3
STICK_MB = 64
DATA, LOG = "/var/lib/cornerwise", "/home/pi/install.log"
# READY=1, and three seconds later the end: what a hung-up terminal did to the bench.
DROP_IN = "/run/systemd/system/cornerwise.service.d/zz-broken.conf"
BROKEN = r'[Service]\nNotifyAccess=all\nExecStart=\nExecStart=/bin/sh -c "systemd-notify --ready; sleep 3"\n'
COUNT = f"""
import glob, sqlite3
(file,) = glob.glob("{DATA}/*.sqlite")
kinds = sqlite3.connect(f"file:{{file}}?mode=ro", uri=True).execute("select kind, count(*) from event group by kind")
print(dict(kinds))
"""
CONFIGURE = "dpkg-reconfigure -f noninteractive cornerwise"
# The board's own, in sysfs; and which boot it is.
WATCHDOG, BOOT_ID = "/sys/class/watchdog/watchdog0", "/proc/sys/kernel/random/boot_id"
MANAGER = "/etc/systemd/system.conf.d"
# Long enough for an emulated processor's busy moments, the bench's and the machine's: with 15 s, which a Pi's can wait,
# systemd on a busy emulator fed it too late, and the machine was reset in mid-start.
WATCHDOG_S, MACHINE_WATCHDOG_S = 60, 180
BOX_LIMIT_S = 400.0
WAV_HEAD_BYTES = 44
# Two pictures of the same screen with other news in it; how much of the panel the lamp of a download fills at least.
ROUGHLY, LAMP_SHARE = 0.9, 0.005
# Where a screen's name stands, px from the upper edge: the same whatever is plugged in.
HEAD_PX = 52
CABLE = "usb-serial,chardev=cal,bus=usb.0,id=cal,always-plugged=on"


class Walk:
    """What is done to one board, step by step."""

    def __init__(self, board: Board, folder: Path, qtest: str, deb: Path) -> None:
        self.board, self.folder, self.qtest, self.deb = board, folder, qtest, deb
        # A sound card, and what is heard of it.
        self.heard = folder / "heard.wav"
        sounds = ["-audiodev", f"wav,id=heard,path={self.heard}", "-device", "intel-hda"]
        self.machine = ["-chardev", "null,id=cal", *sounds, "-device", "hda-output,audiodev=heard"]
        self.twin = Twin(folder / "twin")
        self.person = Person(board, self.twin)
        self._touches_at_home = -1

    def power_on(self) -> None:
        """As the card was left, with the plug of an adapter in reach; until the first screen is the twin's."""
        self.board.start("virt", "--", *self.machine)
        self.person.sees("first-screen")
        self._touches_at_home = self.person.touches

    def home(self, name: str) -> None:
        """The bench screen, whatever was on the panel: both are started once more where anything was touched."""
        if self._touches_at_home != self.person.touches:
            self.board.run("systemctl restart cornerwise.service")
            self.twin.again()
        self.person.sees(name)
        self._touches_at_home = self.person.touches

    def package(self) -> None:
        """On a fresh card, by `apt install` of the one package; then it comes up by itself."""
        with tempfile.TemporaryDirectory() as name:
            given = Path(name, "given")
            given.mkdir()
            shutil.copy(self.deb, given)
            subprocess.run(["git", "clone", "-q", ROOT, given / "checkout"], check=True)
            self.board.start("virt", "--copy", str(given), "--", *self.machine)
        install = (
            f"apt-get -q update && DEBIAN_FRONTEND=noninteractive apt-get -y install /home/pi/given/{self.deb.name}"
        )
        self._in_background(install)
        self.board.ask("stop")
        self.power_on()
        self.stays()

    def remove(self) -> None:
        """The package removed and purged: the login is back, the records stay, byte for byte."""
        self.board.run("systemctl stop cornerwise")
        before = self.board.run(f"sha256sum {DATA}/*.sqlite")
        for verb in ("remove", "purge"):
            print(self.board.run(f"DEBIAN_FRONTEND=noninteractive apt-get -y {verb} cornerwise").splitlines()[-1])
            self._is_off()
            assert self.board.run(f"sha256sum {DATA}/*.sqlite") == before

    def stands(self) -> None:
        """A bench that stands still is ended by the watchdog and started again."""
        self.board.run(f"printf '[Service]\\nWatchdogSec={WATCHDOG_S}\\n' >{DROP_IN}; systemctl daemon-reload")
        self.board.run("systemctl restart cornerwise")
        self.board.run("kill -STOP $(systemctl show cornerwise -p MainPID --value)")
        self.board.until("its next start", lambda: self.board.shown("NRestarts")["NRestarts"] == "1")
        self.board.run(f"rm {DROP_IN}; systemctl daemon-reload")
        self.board.until("the first screen", lambda: self.board.shown("ActiveState")["ActiveState"] == "active")
        self._touches_at_home = -1
        said = "journalctl -u cornerwise --no-pager -o cat -n 40 | grep -iE 'watchdog|main process|restart'"
        print(self.board.run(said))

    def hangs(self) -> None:
        """The whole machine hangs in its kernel: the watchdog that systemd fed resets it, and the bench is back."""
        limit = f"[Manager]\\nRuntimeWatchdogSec={MACHINE_WATCHDOG_S}\\n"
        self.board.run(f"mkdir -p {MANAGER}; printf '{limit}' >{MANAGER}/zz-emulated.conf")
        self.board.ask("stop")
        self.machine += ["-device", "i6300esb"]
        self.twin.again()
        self.power_on()
        print(self.board.run(f"systemctl show -p RuntimeWatchdogUSec; grep . {WATCHDOG}/identity {WATCHDOG}/timeout"))
        assert self.board.run(f"cat {WATCHDOG}/state") == "active"
        before = self.board.run(f"cat {BOOT_ID}")
        self.board.run("sync; systemd-run -q sh -c 'sleep 2; echo c >/proc/sysrq-trigger'")

        def has_begun_anew() -> bool:
            return self.board.is_up() and self.board.run(f"cat {BOOT_ID}") != before

        self.board.until("its next boot", has_begun_anew)
        self.twin.again()
        self.person.sees("behind-the-hang")
        self._touches_at_home = self.person.touches
        self.stays()

    def stays(self) -> None:
        """The bench runs, and has never been started again. Its first picture comes before it says that it is ready."""
        self.board.until("READY", lambda: self.board.shown("ActiveState")["ActiveState"] != "activating")
        shown = self.board.shown("ActiveState", "NRestarts")
        assert shown == {"ActiveState": "active", "NRestarts": "0"}, shown
        print(f"  {shown}")

    def coupon(self) -> None:
        """A whole coupon to its verdict by touch, the plug pulled once in the middle."""
        person = self.person
        self.home("bench")
        for feature, digits in READINGS.items():
            person.key_in(feature, digits)
            if feature == CUT_BEHIND:
                person.sees("before-the-cut")
                self.board.ask("cut")
                self.twin.again()
                self.power_on()
                self.stays()
        person.sees("measured")
        person.tap("Menu", "menu-measured")
        person.tap("Verdict", "verdict")
        person.tap("Finish coupon", "finished")
        print(f"  {person.touches} touches; verdict read off the panel's picture; {self._kept()}")

    def stick(self) -> None:
        """A download onto a stick, and the session taken over from it by a bench without records."""
        self._plug_stick()
        self.board.run("mkfs.vfat -I -n STICK /dev/sda")
        self._pull_stick()
        self._plug_stick()
        # The twin has neither helper nor stick: it shows where to touch, and a person looks at the pictures.
        self.home("bench-measured")
        if self.twin.bench.snapshot.session:
            # Another bench takes over closed ones only.
            self.person.tap("Menu", "stick-menu")
            self.person.tap("Verdict", "stick-verdict")
            self.person.tap("Finish coupon", "stick-finished")
            self.home("bench-finished")
        self.person.tap("Menu", "menu")
        x, y = self.twin.place("Download")
        self.twin.touch(x, y)
        self.board.ask("tap", str(x), str(y))
        head = self.twin.pixels()[:HEAD_PX]
        self.board.until("the screen", lambda: same_share(self.board.picture("stick")[:HEAD_PX], head) > ALIKE)
        x, y = self.twin.place(self.twin.whole("Download coupon"))
        # Between the head and that button, which names each bench's own session.
        body = slice(HEAD_PX, y - HEAD_PX)
        without = self.twin.pixels()[body]
        self.board.until("the stick", lambda: same_share(self.board.picture("stick")[body], without) < ALIKE)
        self.board.ask("tap", str(x), str(y))
        self.board.until("safe to remove", self._is_safe)
        self._pull_stick()
        self._plug_stick()
        found = "$(dirname $(find /mnt -name session.json))"
        try:
            self.board.run("mount -o ro /dev/sda /mnt && fsck.vfat -n /dev/sda")
            print(self.board.run(f"ls {found}; cd {found} && sha256sum -c SHA256SUMS", fails=True))
            print(self.board.run(f"rm -rf /tmp/other; cornerwise --data /tmp/other import {found}"))
        finally:
            self.board.run("umount /mnt", fails=True)
            self._pull_stick()

    def touches(self) -> None:
        """Each button opens what it is named after."""
        self.home("touches-bench")
        self.person.tap("Menu", "touches-menu")
        # Installed, it can set the clock and switch off as well.
        self.person.tap("Setup", "touches-setup", alike=ROUGHLY)
        self.person.tap("< Back", "touches-back")
        self.person.tap("Instruments", "touches-instruments", alike=ROUGHLY)
        self.person.tap("Bench", "touches-home")

    def doctor(self) -> None:
        """What it says from inside the sandbox: nothing is wrong, and each line is for a person to look at."""
        said = self.board.run("cornerwise doctor")
        print("\n".join(f"  {line}" for line in said.splitlines()))
        assert "Nothing is wrong" in said, said
        assert f"{DATA}:" in said, said
        assert "the running bench, from inside its sandbox" in said, said

    def readings(self) -> None:
        """Two diagonals, a corner touched, the plug pulled at once: after it both are there, and the coupon is open."""
        self.home("readings-bench")
        for feature in list(READINGS)[:2]:
            self.person.key_in(feature, READINGS[feature])
        before = self.twin.pixels().copy()
        self.person.tap("corner NR", "readings-corner")
        assert same_share(self.twin.pixels(), before) < ALIKE, "the corner was not taken"
        self.board.ask("cut")
        self.twin.again()
        self.power_on()
        self.stays()
        print(f"  {self._kept()}")

    def sound(self) -> None:
        """The speaker switched on by touch; a reading is heard outside."""
        self.home("sound-bench")
        self.person.tap("Menu", "sound-menu")
        self.person.tap("Setup", "sound-setup", alike=ROUGHLY)
        self.person.tap("Sounds, figures", "sound-chosen", alike=ROUGHLY)
        self.home("sound-on")
        self.person.key_in("near edge", READINGS["near edge"])
        self.board.until("a sound", lambda: any(self.heard.read_bytes()[WAV_HEAD_BYTES:]))

    def dark(self) -> None:
        """Left alone the panel goes dark; the first touch wakes it and presses nothing, the next one presses."""
        self.home("dark-bench")
        self.person.tap("Menu", "dark-menu")
        self.person.tap("Setup", "dark-setup", alike=ROUGHLY)
        self.person.tap("5 min", "dark-chosen", alike=ROUGHLY)
        self.home("dark-awake")
        lit, place = self.board.picture("dark-awake"), [str(px) for px in self.twin.place("Menu")]
        self.board.until("the dark", lambda: not self.board.picture("dark-asleep").any())
        self._touches_at_home = -1  # the twin knows nothing of these touches
        self.board.ask("tap", *place)
        self.board.until("the light", lambda: same_share(self.board.picture("dark-woken"), lit) > ROUGHLY)
        self.board.ask("tap", *place)
        self.board.until("the menu", lambda: same_share(self.board.picture("dark-pressed"), lit) < ROUGHLY)

    def report(self) -> None:
        """The fault report on the stick, whole."""
        self._plug_stick()
        self.board.run("blkid -t TYPE=vfat /dev/sda || mkfs.vfat -I -n STICK /dev/sda")
        again = self.board.shown("NRestarts")
        print(f"  {again}; {self.board.run('cornerwise fault-report --stick')}")
        self._pull_stick()
        self._plug_stick()
        found = "$(dirname $(find /mnt -path '*report*' -name SHA256SUMS))"
        try:
            print(self.board.run(f"mount -o ro /dev/sda /mnt && cd {found} && pwd && sha256sum -c SHA256SUMS"))
        finally:
            self.board.run("umount /mnt", fails=True)
            self._pull_stick()

    def up_again(self) -> None:
        """The plug pulled and in again: it comes up by itself."""
        self.board.ask("cut")
        self.twin.again()
        self.power_on()
        self.stays()

    def _is_safe(self) -> bool:
        """The lamp of a download that is checked and unmounted, in its colour on the panel."""
        from ui.pages.errand import LAMPS as OF_ERRANDS

        fill = [round(255 * part) for part in LIGHT.lamp(OF_ERRANDS[DownloadState.SAFE][0]).fill[:3]]
        pixels = self.board.picture("stick-written")
        return bool((abs(pixels.astype(int) - fill) <= 2).all(axis=2).mean() > LAMP_SHARE)

    def _plug_stick(self) -> None:
        image = self.folder / "stick.img"
        with image.open("ab") as file:
            file.truncate(STICK_MB * 1024 * 1024)
        self.board.ask("monitor", f"drive_add 0 if=none,file={image},format=raw,id=st")
        self.board.ask("monitor", "device_add usb-storage,drive=st,bus=usb.0,id=st")
        self.board.until("the stick", lambda: "sda" in self.board.run("ls /sys/class/block").split())

    def _pull_stick(self) -> None:
        self.board.ask("monitor", "device_del st")
        self.board.until("no stick", lambda: "sda" not in self.board.run("ls /sys/class/block").split())

    def cable(self) -> None:
        """An adapter plugged in and pulled, time and again: offered each time, gone each time."""
        self.home("cable-bench")
        self.person.tap("Menu", "cable-menu")
        self.person.tap("Instruments", alike=ROUGHLY)
        # Between the head and the line below, which says what came and went last.
        body = slice(HEAD_PX, -HEAD_PX)
        none = self.board.picture("cable-none")[body]
        for plug in range(1, PLUGS + 1):
            self.board.ask("monitor", f"device_add {CABLE}")
            name = f"cable-{plug}-plugged"
            self.board.until("its offer", lambda name=name: same_share(none, self.board.picture(name)[body]) < ALIKE)
            self.board.ask("monitor", "device_del cal")
            name = f"cable-{plug}-pulled"
            self.board.until("its end", lambda name=name: "ttyUSB0" not in self.board.run("ls /dev"))
            self.board.until("no offer", lambda name=name: same_share(none, self.board.picture(name)[body]) >= ALIKE)
        self.stays()

    def single(self) -> None:
        """A panel of one finger, with the axes and the button of a mouse: each touch presses what it is on."""
        self.board.ask("monitor", "device_add usb-tablet,bus=usb.0,id=finger")
        self._touches_at_home = -1  # the panel is looked for when the bench starts
        self.home("single-bench")
        self.person.tap("Menu", "single-menu", verb="point")
        # Installed, it can set the clock and switch off as well.
        self.person.tap("Setup", "single-setup", verb="point", alike=ROUGHLY)
        self.person.tap("< Back", "single-back", verb="point")
        self.person.tap("Instruments", "single-instruments", verb="point", alike=ROUGHLY)
        self.board.ask("monitor", "device_del finger")

    def trial(self) -> None:
        """Releases on trial, kept and taken back by the board's systemd."""
        self._plug_stick()
        script = "/home/pi/given/checkout/tests/endurance/update_on_systemd.py --this-machine-is-for-trials sda"
        self._in_background(f"/opt/cornerwise/current/bin/python -u {script}")
        self._pull_stick()

    def refused(self) -> None:
        """A bench that does not stay up: the package says so, and whom to ask; mended, it says nothing of it."""
        self.board.run(
            f"printf '{BROKEN}' >{DROP_IN}; systemctl daemon-reload; systemctl restart cornerwise", fails=True
        )
        assert "does not come up and stay; ask: sudo cornerwise doctor" in self._in_background(CONFIGURE)
        self.board.run(f"rm {DROP_IN}; systemctl daemon-reload; systemctl restart cornerwise")
        assert "does not come up" not in self._in_background(CONFIGURE)
        self.stays()

    def pins(self) -> None:
        """On the board with pins: each lamp, buzzer, pedal and button, and dark when the program is killed."""
        # QEMU resets the machine as soon as systemd opens this board's watchdog.
        self.board.run("echo 'blacklist bcm2835_wdt' >/etc/modprobe.d/emulator.conf")
        self.board.ask("stop")
        self.board.start("board")
        # Device rules for the pins' registers are put where there are pins.
        self._in_background(CONFIGURE)
        self.lamp_box()

    def lamp_box(self) -> None:
        """The same on a board with pins that runs, the package set up on it."""
        with LampBox(Path(self.qtest)) as box:
            box.let_go()
            for lamp, verdict in ((Line.LAMP_GO, "go"), (Line.LAMP_NO_GO, "no-go")):
                self._resume(verdict)
                trace = box.trace(lambda seen, lamp=lamp: is_behind_test(seen, lamp), BOX_LIMIT_S)
                print(f"  {verdict}: {in_words(trace)}", flush=True)
                assert is_behind_test(trace, lamp), trace
            self._press(box, Line.PEDAL, lambda seen: soundings(seen) == 2 and not seen[-1] & {Line.BUZZER})
            before = self._kept()
            self._press(box, Line.VOID, lambda seen: Line.LAMP_NO_GO not in seen[-1])
            print(f"  readings before {before}, behind one press of void {self._kept()}")
            self._resume("no-go")
            box.trace(lambda seen: is_behind_test(seen, Line.LAMP_NO_GO), BOX_LIMIT_S)
            self.board.run("systemctl kill -s KILL cornerwise")
            trace = box.trace(lambda seen: not seen[-1], BOX_LIMIT_S)
            print(f"  killed: {in_words(trace)}")
            assert not trace[-1], trace

    def _press(self, box: LampBox, button: Line, until: Callable[[list[frozenset[Line]]], bool]) -> None:
        """One press with its bounce; what comes of it."""
        box.turn(button, closed=True)
        trace = box.trace(until, BOX_LIMIT_S)
        box.turn(button, closed=False)
        print(f"  {button.value}: {in_words(trace)}", flush=True)
        assert until(trace), trace

    def _resume(self, verdict: str) -> None:
        """Start the board's bench on an open coupon of this verdict, which the twin was typed into."""
        archive = self.folder / verdict / "archive.sqlite"
        if not archive.exists():
            self.twin.end()
            twin = Twin(archive.parent)
            twin.touch(*twin.place("Type"))
            # As the bench asks for them: read once each, the word may still turn, and the lamp says so.
            for digits in OPEN_COUPONS[verdict] * 2:
                for words in (*digits, "Take reading"):
                    twin.touch(*twin.place(words))
            twin.end()
        packed = base64.b64encode(gzip.compress(archive.read_bytes())).decode()
        file = f"{DATA}/archive.sqlite"
        self.board.run(f"systemctl stop cornerwise; rm -f {file}*; echo {packed} | base64 -d | gunzip >{file}")
        self.board.run(f"chown cornerwise: {file}; systemctl start --no-block cornerwise")

    def _is_off(self) -> None:
        """The login has the panel again, nothing of the program is left but the records."""
        places = ("/opt/cornerwise", "/etc/systemd/system/cornerwise*", "/lib/systemd/system/cornerwise*")
        left = self.board.run(f"ls -d {' '.join(places)}", fails=True)
        assert left.count("No such file") == len(places), left
        assert "sqlite" in self.board.run(f"ls {DATA}")
        assert self.board.run("systemctl is-active getty@tty1") == "active"
        self.board.picture("removed")

    def _kept(self) -> str:
        """The readings in the archive of the board."""
        return self.board.run(f"python3 -c {shlex.quote(COUNT)}")

    def _in_background(self, command: str) -> str:
        """Longer than the line waits: what it says, and it ends well."""
        noted = shlex.quote(f"({command}) >{LOG} 2>&1; echo $? >{LOG}.status")
        self.board.run(f"rm -f {LOG}.status; systemd-run -q sh -c {noted}")

        def has_ended() -> bool:
            return self.board.run(f"cat {LOG}.status", fails=True).isdigit()

        self.board.until("its end", has_ended, patience_s=LONG_PATIENCE_S, every_s=SELDOM_S)
        status, said = int(self.board.run(f"cat {LOG}.status")), self.board.run(f"cat {LOG}")
        print("\n".join(f"  {line}" for line in said.splitlines()), flush=True)
        assert status == 0, status
        return said


STEPS = ("package", "coupon", "stick", "cable", "single", "trial", "refused", "remove")
# The rows of hardware/proof.md, in their order; the lamp box wants another machine.
PROTOCOL = ("package", "up_again", "touches", "doctor", "cable", "readings", "stick", "stands", "dark", "report")
BY_NAME = ("protocol", *dict.fromkeys(PROTOCOL), "sound", "hangs", "pins", "lamp_box")


def is_behind_test(seen: list[frozenset[Line]], lamp: Line) -> bool:
    """Every lamp was lit at once at the start, the buzzer sounded, and now this lamp alone is lit."""
    return any(now >= set(LAMPS) for now in seen) and soundings(seen) > 0 and seen[-1] == {lamp}


def in_words(trace: list[frozenset[Line]]) -> str:
    """A trace for the person."""
    return ", then ".join(" + ".join(sorted(line.value for line in now)) or "dark" for now in trace)


def main() -> int:
    """Walk the steps."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--boot", required=True, help="the command that drives the emulator")
    parser.add_argument("--pictures", required=True, type=Path, help="where pictures of the panel go")
    parser.add_argument("--qtest", default="", help="QEMU's qtest socket of the board with pins, for the step pins")
    parser.add_argument("--package", type=Path, default=Path(), help="the Debian package, for the step package")
    parser.add_argument("steps", nargs="*", default=STEPS, metavar="STEP", help=" ".join((*STEPS, *BY_NAME)))
    args = parser.parse_args()
    args.pictures.mkdir(parents=True, exist_ok=True)
    board = Board(command=tuple(shlex.split(args.boot)), pictures=args.pictures.resolve())
    walk = Walk(board, args.pictures.resolve(), args.qtest, args.package)
    named = [row for step in args.steps for row in (PROTOCOL if step == "protocol" else (step,))]
    begun_s = time.monotonic()
    try:
        for step in named:
            print(f"{step}: {getattr(walk, step).__doc__.splitlines()[0]}", flush=True)
            getattr(walk, step)()
            print(f"  {(time.monotonic() - begun_s) / 60:.0f} min", flush=True)
    finally:
        walk.twin.end()
    print("all as it should be")
    return 0


if __name__ == "__main__":
    sys.exit(main())
