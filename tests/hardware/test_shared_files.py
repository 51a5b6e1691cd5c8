"""Two releases with one copy of what is equal in both, as the package's script makes them, on folders."""

from __future__ import annotations

import compileall
import os
import shutil
import subprocess
import sys
from importlib.util import cache_from_source
from pathlib import Path

import pytest

from hardware import shared_files

LIBRARY = Path("lib/python3.11/site-packages/measuring")


def make_release(folder: Path, files: dict[str, str], time_s: int) -> Path:
    for name, text in files.items():
        file = folder / LIBRARY / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text)
        os.utime(file, (time_s, time_s))
    return folder


@pytest.fixture
def releases(tmp_path: Path) -> tuple[Path, Path, Path]:
    """Before, which runs and is compiled; unpacked as dpkg does; and the release of it that is being made."""
    before = make_release(tmp_path / "before", {"equal.py": "A = 1\n", "other.py": "B = 1\n", "gone.py": ""}, 1000)
    compileall.compile_dir(before / "lib", quiet=1)
    unpacked = make_release(tmp_path / "unpacked", {"equal.py": "A = 1\n", "other.py": "B = 2\n", "come.py": ""}, 2000)
    release = tmp_path / "release"
    shutil.copytree(unpacked, release, copy_function=os.link)
    return release, unpacked, before


def content(folder: Path) -> dict[Path, tuple[bytes, float]]:
    return {path: (path.read_bytes(), path.stat().st_mtime) for path in folder.rglob("*") if path.is_file()}


def run(release: Path, unpacked: Path, before: Path) -> None:
    """As the script runs it: by a Python that sees nothing of the program."""
    subprocess.run([sys.executable, "-I", shared_files.__file__, release, unpacked, before], check=True)


def test_what_is_equal_lies_on_the_card_once_and_is_compiled_already(releases: tuple[Path, Path, Path]) -> None:
    release, unpacked, before = releases
    was = content(before)
    run(*releases)
    equal = before / LIBRARY / "equal.py"
    assert (release / LIBRARY / "equal.py").samefile(equal)
    assert (unpacked / LIBRARY / "equal.py").samefile(equal)
    compiled = Path(cache_from_source(str(release / LIBRARY / "equal.py")))
    assert compiled.samefile(cache_from_source(str(equal)))
    assert (release / LIBRARY / "other.py").read_text() == "B = 2\n"
    assert not Path(cache_from_source(str(release / LIBRARY / "other.py"))).exists()
    assert not (release / LIBRARY / "gone.py").exists()
    assert content(before) == was
    # Python takes what was compiled for the other folder: the source's time is the same, for it is the same file.
    code = "import measuring.equal as e; print(e.__cached__)"
    command = [sys.executable, "-B", "-c", code]
    env = {**os.environ, "PYTHONPATH": str(release / LIBRARY.parent), "PYTHONVERBOSE": "1"}
    said = subprocess.run(command, env=env, capture_output=True, text=True, check=True).stderr
    assert f"# code object from '{compiled}'" in said


def test_what_was_compiled_for_the_new_one_is_replaced_as_well(releases: tuple[Path, Path, Path]) -> None:
    """An update's pip compiles at once, with the time of a source that goes: Python would compile at each start."""
    release, _, before = releases
    compileall.compile_dir(release / "lib", quiet=1)
    run(release, release, before)
    compiled = Path(cache_from_source(str(release / LIBRARY / "equal.py")))
    assert compiled.samefile(cache_from_source(str(before / LIBRARY / "equal.py")))
    other = release / LIBRARY / "other.py"
    # PEP 552: behind the magic number and the flags stands the source's time.
    for source in (release / LIBRARY / "equal.py", other):
        named = Path(cache_from_source(str(source))).read_bytes()[8:12]
        assert int.from_bytes(named, "little") == source.stat().st_mtime


def test_dpkg_takes_its_names_away_and_both_releases_are_whole(releases: tuple[Path, Path, Path]) -> None:
    release, unpacked, before = releases
    run(*releases)
    shutil.rmtree(unpacked)
    shutil.rmtree(before)
    assert (release / LIBRARY / "equal.py").read_text() == "A = 1\n"


@pytest.mark.parametrize("step", range(5))
def test_cut_off_anywhere_each_name_leads_to_a_whole_file(
    releases: tuple[Path, Path, Path], step: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What writes is left out from one of its writes on; then the script is run again, as dpkg does."""
    release, unpacked, before = releases
    texts = {name: (release / LIBRARY / name).read_text() for name in ("equal.py", "other.py", "come.py")}
    done = 0

    class PowerGoneError(Exception):
        pass

    def counted(write: object) -> object:
        def or_gone(*args: object, **kwargs: object) -> object:
            nonlocal done
            if done == step:
                raise PowerGoneError
            done += 1
            return write(*args, **kwargs)  # type: ignore[operator]

        return or_gone

    with monkeypatch.context() as patch:
        patch.setattr(shared_files.os, "link", counted(os.link))
        patch.setattr(shared_files.Path, "replace", counted(Path.replace))
        with pytest.raises(PowerGoneError):
            shared_files.share(release, unpacked, before)
    for folder in (release, unpacked):
        assert {name: (folder / LIBRARY / name).read_text() for name in texts} == texts
    shared_files.share(release, unpacked, before)
    assert (release / LIBRARY / "equal.py").samefile(before / LIBRARY / "equal.py")
