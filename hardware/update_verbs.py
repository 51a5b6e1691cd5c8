"""The helper's verbs for updates: look at the stick, install what was looked at, go back. Runs as root.

Stage: hardware. Input: words already checked by helper_client. Output: a release folder of its own and the links
switched to it on trial, or RefusedError with a sentence and nothing touched. What is verified is never the stick but a
copy that only root can write, so that nobody can change it in between; the stick may go once it was looked at.

A power cut at any moment leaves the release that runs: a release without `complete` is never switched to, and the disk
holds all of it before `complete` is written.
"""

import errno
import hashlib
import os
import platform
import shutil
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from core.records import sync_path
from core.said import Name, Number, Said, said
from hardware.checkup import INSTALL
from hardware.releases import begin_trial, current_release, is_whole, newer, previous_release, version_of
from hardware.root_verbs import RefusedError, RootPlaces, run_tool, stick_of_root
from hardware.system_files import lay_links
from hardware.update_archive import MAX_ARCHIVE_BYTES, Manifest, read_header, read_update, unpack_wheels

PATTERN = "cornerwise-*.update"
# For the copy of the stick's file, what pip unpacks on the way, and what the log needs meanwhile.
_MARGIN_BYTES = 100 * 1024 * 1024
# How much larger than its wheel a library is, unpacked and compiled; generous for those of this program.
_UNPACKED_FACTOR = 5
# Unpacking and compiling what came along, on a slow card; common practice.
_PIP_TIMEOUT_S = 1200.0
# What goes through a whole release beside the bench that runs: a hang is to be told, a slow card is none. The
# self-check took 180 s on an emulated board, some ten times slower than a real one. With all four of them, one hung,
# the word comes before the bench gives up waiting (`INSTALL_TIMEOUT_S`).
_RELEASE_TIMEOUT_S = 600.0
_BLOCK_BYTES = 1024 * 1024

Say = Callable[[Said], None]
Restart = Callable[[], object]
OpenStick = Callable[[RootPlaces, str], AbstractContextManager[Path]]


def look_for_update(places: RootPlaces, partition: str, say: Say, *, open_stick: OpenStick = stick_of_root) -> str:
    """Copy the update on the stick and verify the copy; answers its version, RefusedError where it is not for us."""
    say(said("Reading the stick."))
    copy = _incoming(places)
    shutil.rmtree(copy.parent, ignore_errors=True)
    copy.parent.mkdir(mode=0o700)
    try:
        with _stick_errors(), open_stick(places, partition) as stick:
            _copy(_the_one_update(stick), copy, places)
        say(said("Checking signature and content."))
        manifest = read_update(copy, places.update_keys)
        _judge(places, manifest)
    except BaseException:
        shutil.rmtree(copy.parent, ignore_errors=True)
        raise
    return manifest.version


def install_update(places: RootPlaces, version: str, say: Say, *, restart: Restart | None = None) -> Said:
    """Install the update that was looked at, and start it on trial. Everything is verified once more."""
    copy = _incoming(places)
    if not copy.is_file():
        raise RefusedError(said("no update was looked at: plug the stick in and look at it first"))
    say(said("Checking signature and content."))
    manifest = read_update(copy, places.update_keys)
    if manifest.version != version:
        raise RefusedError(
            said(
                "version {version} was looked at, not {wanted}: look at the stick once more",
                version=Name(manifest.version),
                wanted=Name(version),
            )
        )
    _judge(places, manifest)
    digest = hashlib.sha256(manifest.system.encode() + b"".join(w.sha256.encode() for w in manifest.wheels)).hexdigest()
    release = f"{manifest.version}-{digest[:10]}"
    with _fresh_folder(places, release) as folder:
        _fill(places, folder, manifest, say)
    lay_links(places.program, places.etc)
    begin_trial(places.program, release)
    shutil.rmtree(copy.parent, ignore_errors=True)
    return _started(manifest.version, restart)


def go_back(places: RootPlaces, *, restart: Restart | None = None) -> Said:
    """Start the release before this one, on trial as any other."""
    before = previous_release(places.program)
    if not before:
        raise RefusedError(said("there is no earlier version on this bench to go back to"))
    begin_trial(places.program, before)
    return _started(version_of(before), restart)


def _started(version: str, restart: Restart | None) -> Said:
    try:
        (restart or _restart_bench)()
    except RefusedError:
        return said("{version} is in place: switch this bench off and on to start it", version=Name(version))
    return said("{version} is in place and starts now.", version=Name(version))


def _incoming(places: RootPlaces) -> Path:
    return places.program / "incoming" / "update"


def _the_one_update(stick: Path) -> Path:
    found = sorted(stick.glob(PATTERN))
    if not found:
        raise RefusedError(
            said(
                "there is no update on the stick: its file is called {file} and lies in no folder",
                file=Name(PATTERN),
            )
        )
    if len(found) > 1:
        names = ", ".join(path.name for path in found)
        raise RefusedError(
            said(
                "{count} updates are on the stick ({names}): leave only the one to install",
                count=len(found),
                names=Name(names),
            )
        )
    return found[0]


@contextmanager
def _stick_errors() -> Iterator[None]:
    """A pulled stick shows in a dozen different errors."""
    try:
        yield
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise RefusedError(said("the card is full: nothing was installed")) from error
        raise RefusedError(
            said(
                "the stick could not be read to its end ({why}): plug it in again; nothing was installed",
                why=Name(error.strerror or ""),
            )
        ) from error


def _copy(source: Path, target: Path, places: RootPlaces) -> None:
    """Bounded, by descriptor, whatever the stick claims the file to be; not a byte before it is signed and for us."""
    with os.fdopen(os.open(source, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK), "rb") as reading:
        held = os.fstat(reading.fileno())
        if not stat.S_ISREG(held.st_mode) or held.st_size > MAX_ARCHIVE_BYTES:
            raise RefusedError(said("{name} is no update: it is larger than any can be", name=Name(source.name)))
        _judge(places, read_header(reading, places.update_keys))
        reading.seek(0)
        _check_room(target.parent, held.st_size)
        with target.open("xb") as writing:
            while (left := held.st_size - writing.tell()) and (block := reading.read(min(left, _BLOCK_BYTES))):
                writing.write(block)


def _judge(places: RootPlaces, manifest: Manifest) -> None:
    """Whether this update is for this bench; RefusedError with the reason."""
    here = version_of(current_release(places.program))
    if not here:
        raise RefusedError(said("the program is not installed on this machine by its package"))
    if manifest.version == here:
        raise RefusedError(said("the stick holds version {here}, which is what runs here already", here=Name(here)))
    if not newer(manifest.version, here):
        raise RefusedError(
            said(
                "the stick holds version {version}, older than {here} here: nothing to update",
                version=Name(manifest.version),
                here=Name(here),
            )
        )
    if platform.machine() not in manifest.machines:
        raise RefusedError(
            said(
                "the update is for other machines ({machines}), not {machine}",
                machines=Name(", ".join(manifest.machines)),
                machine=Name(platform.machine()),
            )
        )
    python = "{}.{}".format(*sys.version_info)
    if python not in manifest.pythons:
        raise RefusedError(
            said(
                "the update is for Python {pythons}; this bench has {python}",
                pythons=Name(", ".join(manifest.pythons)),
                python=Name(python),
            )
        )
    try:
        system = (places.program / "system-digest").read_text(encoding="ascii").strip()
    except OSError:
        system = ""
    if manifest.system != system:
        raise RefusedError(
            said(
                "version {version} needs system services that a stick cannot bring: it is put on by "
                "its package ({command})",
                version=Name(manifest.version),
                command=INSTALL,
            )
        )


def _check_room(folder: Path, needed_bytes: int) -> None:
    free = shutil.disk_usage(folder).free
    needed = needed_bytes + _MARGIN_BYTES
    if free < needed:
        raise RefusedError(
            said(
                "the card has {free} free and the update needs {needed}: make room",
                free=Number(free // 10**6, sign="MB"),
                needed=Number(needed // 10**6, sign="MB"),
            )
        )


@contextmanager
def _fresh_folder(places: RootPlaces, release: str) -> Iterator[Path]:
    """A release folder that is `complete` when the block ends well, and gone when it does not."""
    releases = places.program / "releases"
    keep = {current_release(places.program), previous_release(places.program)}
    for old in releases.iterdir():
        if old.name not in keep:  # half-made, or older than the one before
            shutil.rmtree(old)
    folder = releases / release
    if is_whole(places.program, release):
        shutil.rmtree(folder)  # the one before, under the name of what is to be installed
    folder.mkdir(mode=0o755)
    try:
        yield folder
        # All of the release is on the disk before anything says that it is whole.
        os.sync()
        (folder / "complete").touch()
        sync_path(folder)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _fill(places: RootPlaces, folder: Path, manifest: Manifest, say: Say) -> None:
    """An environment of its own: the libraries of the release that runs, over them what came along."""
    running = places.program / "current"
    packages = Path("lib") / "python{}.{}".format(*sys.version_info) / "site-packages"
    _check_room(folder, _UNPACKED_FACTOR * sum(wheel.size_bytes for wheel in manifest.wheels))
    say(said("Taking over the libraries."))
    python = Path(sys.base_prefix) / "bin" / "python{}.{}".format(*sys.version_info)
    run_tool(
        [str(python), "-I", "-m", "venv", "--without-pip", *_as_made(running), str(folder)],
        timeout_s=_RELEASE_TIMEOUT_S,
    )
    # Some of them were built on the board, so they cannot be fetched anew; nothing in them knows the folder it lies in.
    # Each lies on the card once, whatever number of releases has it: pip puts a file in the place of another, and never
    # writes into one.
    shutil.copytree(running / packages, folder / packages, symlinks=True, dirs_exist_ok=True, copy_function=os.link)
    (folder / "system").symlink_to(packages / "hardware")
    say(said("Installing {version}.", version=Name(manifest.version)))
    wheels = places.program / "incoming" / "wheels"
    shutil.rmtree(wheels, ignore_errors=True)
    wheels.mkdir(mode=0o700)
    unpack_wheels(_incoming(places), manifest, wheels)
    version = Name(manifest.version)
    with _in_short(said("the libraries of {version} do not fit those on this bench", version=version)):
        _install_wheels(folder / "bin" / "python", wheels, manifest)
    say(said("Trying it out."))
    with _in_short(said("version {version} does not load on this bench", version=version)):
        self_check = [str(folder / "bin" / "cornerwise"), "--self-check"]
        told = run_tool(self_check, timeout_s=_RELEASE_TIMEOUT_S, env=_plain_environment(wheels))
    check_version(told, manifest.version)
    say(said("Putting it in place."))


def _as_made(release: Path) -> list[str]:
    """A release out of the Debian package has the system's libraries for pins and keyboards let in; so has what
    follows it."""
    made = (release / "pyvenv.cfg").read_text(encoding="utf-8") if (release / "pyvenv.cfg").is_file() else ""
    return ["--system-site-packages"] if "include-system-site-packages = true" in made else []


def _install_wheels(python: Path, wheels: Path, manifest: Manifest) -> None:
    """pip, deaf to network and settings, chooses for this machine among the wheels and holds each to its digest."""
    hashes: dict[str, str] = {}
    for wheel in manifest.wheels:
        hashes[wheel.distribution] = f"{hashes.get(wheel.distribution, '')} --hash=sha256:{wheel.sha256}"
    listed = wheels / "requirements.txt"
    listed.write_text("".join(f"{name}{each}\n" for name, each in hashes.items()), encoding="ascii")
    pip = [str(python), "-I", "-m", "pip", "--isolated", "--disable-pip-version-check", "--no-input"]
    offline = ["--no-index", "--find-links", str(wheels), "--only-binary", ":all:", "--no-deps", "--no-cache-dir"]
    install = [*pip, "install", "-q", *offline, "--require-hashes", "-r", str(listed)]
    env = _plain_environment(wheels)
    run_tool(install, timeout_s=_PIP_TIMEOUT_S, env=env)
    run_tool([*pip, "check"], timeout_s=_RELEASE_TIMEOUT_S, env=env)


def check_version(told: str, version: str) -> None:
    """The new release is what it was signed to be, before anything is switched to it."""
    if told.split()[-1:] != [version]:
        raise RefusedError(
            said(
                "the update calls itself '{told}' where {version} was signed: nothing was switched",
                told=Name(told),
                version=Name(version),
            )
        )


@contextmanager
def _in_short(what: Said) -> Iterator[None]:
    """A tool's last line for the person, all of it for the log."""
    try:
        yield
    except RefusedError as error:
        print(f"helper: {error}", file=sys.stderr)
        why = error.args[0]
        last = Name(why.splitlines()[-1]) if isinstance(why, str) else why  # a tool says more than one
        raise RefusedError(said("{what} ({why}): nothing was switched", what=what, why=last)) from error


def _plain_environment(scratch: Path) -> dict[str, str]:
    return {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin", "HOME": str(scratch), "LC_ALL": "C.UTF-8"}


def _restart_bench() -> None:
    # Units and rules are those of the release that was switched to; its settings for journal and kernel hold at the
    # next boot.
    run_tool(["systemctl", "daemon-reload"])
    run_tool(["udevadm", "control", "--reload"])
    run_tool(["systemctl", "--no-block", "restart", "cornerwise.service"])
