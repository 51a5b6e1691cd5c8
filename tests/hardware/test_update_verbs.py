"""The helper's update verbs on folders: a refusal leaves everything as it was; what is installed is a real release."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest

from hardware import update_verbs
from hardware.releases import Phase, begin_trial, current_release, previous_release, read_change
from hardware.root_verbs import RefusedError, RootPlaces, run_tool
from hardware.update_verbs import check_version, go_back, install_update, look_for_update
from tests.hardware.update_bits import (
    HERE,
    PROGRAM,
    PYTHON,
    InstalledProgram,
    make_archive,
    make_key,
    make_wheel,
    with_real_libraries,
)
from tests.patience import WAIT_S


@pytest.fixture(autouse=True)
def tools_may_take_as_long_as_a_busy_machine_needs(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the bench allows a tool of its own is not asked here; beside a load of eight `pip check` took longer."""
    monkeypatch.setattr(update_verbs, "run_tool", partial(run_tool, timeout_s=2 * WAIT_S))


@pytest.fixture
def installed(tmp_path: Path) -> InstalledProgram:
    return InstalledProgram(tmp_path)


def look(installed: InstalledProgram) -> str:
    return look_for_update(installed.places, "sda1", installed.said.append, open_stick=installed.open_stick)


def install(installed: InstalledProgram, version: str = "0.2.0") -> str:
    return install_update(installed.places, version, installed.said.append, restart=installed.restart)


def refused(installed: InstalledProgram, words: str) -> None:
    """Looking is refused in these words, and nothing below the program's folder has changed."""
    before = installed.touched()
    with pytest.raises(RefusedError, match=words):
        look(installed)
    assert installed.touched() == before
    with pytest.raises(RefusedError, match="no update was looked at"):
        install(installed)
    assert installed.touched() == before


def test_an_update_on_the_stick_is_named(installed: InstalledProgram) -> None:
    installed.on_stick()
    assert look(installed) == "0.2.0"
    assert current_release(installed.program) == HERE
    # Only root looks into what was copied.
    assert (installed.program / "incoming").stat().st_mode & 0o777 == 0o700


def test_a_stick_without_one_says_so(installed: InstalledProgram) -> None:
    (installed.stick / "holiday.jpg").write_bytes(b"x")
    refused(installed, "no update on the stick")


def test_two_of_them_are_one_too_many(installed: InstalledProgram) -> None:
    installed.on_stick("0.2.0")
    installed.on_stick("0.3.0")
    refused(installed, "leave only the one")


@pytest.mark.parametrize(
    ("version", "words"), [("0.0.9", "older than 0.1.0"), ("0.1.0", "what runs here already")], ids=["older", "same"]
)
def test_only_a_newer_version_is_an_update(installed: InstalledProgram, version: str, words: str) -> None:
    installed.on_stick(version)
    refused(installed, words)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"pythons": ("3.99",)}, "is for Python 3.99"),
        ({"machines": ("abacus",)}, "for other machines"),
        ({"system": "cd" * 32}, "services that a stick cannot bring"),
    ],
    ids=["python", "machine", "system"],
)
def test_an_update_for_another_bench_is_refused(
    installed: InstalledProgram, how: dict[str, object], words: str
) -> None:
    installed.on_stick(**how)  # type: ignore[arg-type]
    refused(installed, words)


def test_an_update_of_a_stranger_is_refused(installed: InstalledProgram) -> None:
    wheel = make_wheel(installed.folder / "wheels", "0.2.0")
    make_archive(installed.stick / "cornerwise-0.2.0.update", make_key(installed.folder, "stranger"), [wheel])
    refused(installed, "not signed by a key this bench trusts")


def test_one_that_was_cut_short_is_refused(installed: InstalledProgram) -> None:
    archive = installed.on_stick()
    archive.write_bytes(archive.read_bytes()[:-100])
    refused(installed, "damaged")


def test_a_pipe_or_a_folder_of_that_name_is_no_update(installed: InstalledProgram) -> None:
    (installed.stick / "cornerwise-0.2.0.update").mkdir()
    refused(installed, "no update|could not be read")


def test_without_room_on_the_card_nothing_is_begun(
    installed: InstalledProgram, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(installed.folder)
    monkeypatch.setattr(update_verbs.shutil, "disk_usage", lambda _path: usage._replace(free=10_000_000))
    installed.on_stick()
    refused(installed, "10 MB free and the update needs")


def test_a_stick_pulled_while_it_is_read(installed: InstalledProgram) -> None:
    """A real error of reading: a folder where the file was cannot be opened as one."""
    installed.on_stick()

    @contextmanager
    def pulled(_places: RootPlaces, _partition: str) -> Iterator[Path]:
        yield installed.stick
        raise OSError(5, "Input/output error")

    before = installed.touched()
    with pytest.raises(RefusedError, match="could not be read to its end"):
        look_for_update(installed.places, "sda1", installed.said.append, open_stick=pulled)
    assert installed.touched() == before


def test_what_is_installed_is_the_copy_that_was_verified(installed: InstalledProgram) -> None:
    """The stick may change or go after the look; a changed copy is found out."""
    installed.on_stick()
    look(installed)
    copy = installed.program / "incoming" / "update"
    copy.write_bytes(copy.read_bytes()[:-100])
    with pytest.raises(RefusedError, match="damaged"):
        install(installed)
    assert current_release(installed.program) == HERE


def test_another_version_than_was_looked_at_is_not_installed(installed: InstalledProgram) -> None:
    installed.on_stick()
    look(installed)
    with pytest.raises(RefusedError, match=r"was looked at, not 0\.3\.0"):
        install(installed, "0.3.0")
    assert current_release(installed.program) == HERE


@pytest.fixture(scope="module")
def libraries(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What pip puts into a release, made once; each test has a copy."""
    installed = InstalledProgram(tmp_path_factory.mktemp("made"))
    with_real_libraries(installed)
    return installed.program / "releases" / HERE / "lib"


@pytest.fixture
def running(tmp_path: Path, libraries: Path) -> InstalledProgram:
    installed = InstalledProgram(tmp_path)
    shutil.copytree(libraries, installed.program / "releases" / HERE / "lib")
    return installed


def test_from_the_stick_to_a_release_on_trial(running: InstalledProgram) -> None:
    """Real signature, real wheel, real environment, real pip without network. Half-made and forgotten releases go."""
    for name in ("0.0.8-1", "0.0.9-1"):
        running.release(name)
    (running.program / "previous").symlink_to(running.program / "releases" / "0.0.9-1")
    (running.program / "releases" / "0.2.0-half").mkdir()
    wheel = make_wheel(running.folder / "wheels", "0.2.0", needs="measuring>=1.0")
    make_archive(running.stick / "cornerwise-0.2.0.update", running.key, [wheel])
    before = running.program / "releases" / HERE / "lib"
    was = {path: (path.read_bytes(), path.stat().st_mtime) for path in before.rglob("*") if path.is_file()}
    assert look(running) == "0.2.0"
    assert str(install(running)) == "0.2.0 is in place and starts now."
    release = current_release(running.program)
    assert release.startswith("0.2.0-")
    assert previous_release(running.program) == HERE
    change = read_change(running.program)
    assert change is not None
    assert (change.phase, change.came_from, change.goes_to) == (Phase.TRIAL, HERE, release)
    assert running.restarts == 1
    program = running.program / "current" / "bin" / "cornerwise"
    said = subprocess.run([program, "--self-check"], capture_output=True, text=True, check=True).stdout
    assert said == "cornerwise 0.2.0\n"
    packages = running.program / "current" / "lib" / f"python{PYTHON}" / "site-packages"
    assert (packages / "measuring_program.py").is_file()
    assert [path.name for path in packages.glob("cornerwise-*")] == ["cornerwise-0.2.0.dist-info"]
    assert not (running.program / "incoming").exists()
    # What both have lies on the card once, and nothing was written into a file of the one that ran.
    assert {path: (path.read_bytes(), path.stat().st_mtime) for path in was} == was
    libraries = before / packages.relative_to(running.program / "current/lib")
    assert (packages / "measuring_program.py").samefile(libraries / "measuring_program.py")
    assert not (packages / "cornerwise_program.py").samefile(libraries / "cornerwise_program.py")
    unit = running.places.etc / "systemd/system/cornerwise.service"
    assert unit.readlink() == running.program / "current/system/systemd/cornerwise.service"
    assert (running.program / "current/system").readlink() == packages.relative_to(
        running.program / "current"
    ) / "hardware"
    assert {path.name for path in (running.program / "releases").iterdir()} == {HERE, "0.0.9-1", release}
    # And back again: what was there before is still whole.
    assert str(go_back(running.places, restart=running.restart)) == "0.1.0 is in place and starts now."
    assert current_release(running.program) == HERE
    assert previous_release(running.program) == release


def test_a_slow_card_is_no_hang(running: InstalledProgram, monkeypatch: pytest.MonkeyPatch) -> None:
    """The self-check took 180 s beside an emulated board's running bench, and was refused behind a tool's 100 s."""
    monkeypatch.setattr(update_verbs, "run_tool", partial(run_tool, timeout_s=0.1))
    wheel = make_wheel(running.folder / "wheels", "0.2.0", program=f"import time\ntime.sleep(0.2)\n{PROGRAM}")
    make_archive(running.stick / "cornerwise-0.2.0.update", running.key, [wheel])
    look(running)
    assert str(install(running)) == "0.2.0 is in place and starts now."


@pytest.mark.parametrize("lets_in", ["true", "false"])
def test_an_update_lets_in_the_system_s_libraries_as_the_release_before_did(
    running: InstalledProgram, lets_in: str
) -> None:
    """A release out of the Debian package has pins and keyboards from Debian's own packages."""
    settings = f"home = /usr/bin\ninclude-system-site-packages = {lets_in}\n"
    (running.program / "current" / "pyvenv.cfg").write_text(settings)
    running.on_stick()
    look(running)
    install(running)
    made = (running.program / "current" / "pyvenv.cfg").read_text()
    assert f"include-system-site-packages = {lets_in}" in made


BROKEN = {
    "needs a newer library": (r"libraries of 0\.2\.0 do not fit .*measuring", {"needs": "measuring>=2.0"}),
    "does not load": (
        r"does not load on this bench \(RuntimeError: zebra\)",
        {"program": "raise RuntimeError('zebra')\n"},
    ),
}


@pytest.mark.parametrize(("words", "how"), BROKEN.values(), ids=BROKEN)
def test_one_that_does_not_hold_together_is_never_switched_to(
    running: InstalledProgram, words: str, how: dict[str, str]
) -> None:
    wheel = make_wheel(running.folder / "wheels", "0.2.0", **how)
    make_archive(running.stick / "cornerwise-0.2.0.update", running.key, [wheel])
    look(running)
    with pytest.raises(RefusedError, match=words):
        install(running)
    assert current_release(running.program) == HERE
    assert read_change(running.program) is None
    assert [path.name for path in (running.program / "releases").iterdir()] == [HERE]
    assert running.restarts == 0


def test_one_that_calls_itself_otherwise_is_no_release() -> None:
    check_version("cornerwise 0.2.0", "0.2.0")
    for said in ("cornerwise 9.9", ""):
        with pytest.raises(RefusedError, match="was signed: nothing was switched"):
            check_version(said, "0.2.0")


def test_where_the_service_cannot_be_restarted_it_is_said_what_to_do(installed: InstalledProgram) -> None:
    installed.release("0.2.0-2")
    begin_trial(installed.program, "0.2.0-2")

    def no_systemd() -> None:
        raise RefusedError("systemctl could not be run")

    assert "switch this bench off and on" in str(go_back(installed.places, restart=no_systemd))
    assert current_release(installed.program) == HERE


def test_with_nothing_before_there_is_no_way_back(installed: InstalledProgram) -> None:
    with pytest.raises(RefusedError, match="no earlier version"):
        go_back(installed.places, restart=installed.restart)
    assert installed.restarts == 0
