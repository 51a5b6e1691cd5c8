"""Units and rules of a release: links through the release that runs, so that they are switched with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware import system_files
from hardware.system_files import FIXED, ONLY_WHERE_IT_IS, PLACES, lay_links

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
UNIT = "systemd/system/cornerwise.service"


@pytest.fixture
def program(tmp_path: Path) -> Path:
    for name in ("old", "new"):
        for source in PLACES:
            file = tmp_path / "opt" / name / "system" / source
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(f"{name} {source}")
    (tmp_path / "opt/current").symlink_to("old")
    return tmp_path / "opt"


def test_every_unit_and_rule_has_its_place() -> None:
    there = {f"{folder}/{path.name}" for folder in ("systemd", "udev") for path in (HARDWARE / folder).iterdir()}
    assert there | {"releases.py"} == {*PLACES, *FIXED}


def test_what_was_put_there_gives_way_and_is_switched_with_the_release(program: Path, tmp_path: Path) -> None:
    etc = tmp_path / "etc"
    (etc / UNIT).parent.mkdir(parents=True)
    (etc / UNIT).write_text("the package's")
    lay_links(program, etc)
    lay_links(program, etc)
    assert (etc / UNIT).read_text() == "old systemd/cornerwise.service"
    (program / "current").unlink()
    (program / "current").symlink_to("new")
    for source, place in PLACES.items():
        if source not in ONLY_WHERE_IT_IS:
            assert (etc / place).read_text() == f"new {source}"
    found = {str(path.relative_to(etc)) for path in etc.rglob("*") if not path.is_dir()}
    assert found == {place for source, place in PLACES.items() if source not in ONLY_WHERE_IT_IS}


def test_pins_are_let_in_only_where_a_board_has_them(program: Path, tmp_path: Path) -> None:
    (name,) = ONLY_WHERE_IT_IS
    place = tmp_path / "etc" / PLACES[name]
    place.parent.mkdir(parents=True)
    place.touch()
    lay_links(program, tmp_path / "etc")
    assert place.read_text() == f"old {name}"


@pytest.mark.parametrize("links", range(len(PLACES)))
def test_the_power_may_go_between_any_two_links(
    program: Path, tmp_path: Path, links: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each place has what it had or what the running release has; the next try makes the rest."""
    etc = tmp_path / "etc"
    for place in PLACES.values():
        (etc / place).parent.mkdir(parents=True, exist_ok=True)
        (etc / place).write_text("installed")
    left = [links]

    class CutError(Exception):
        pass

    replace = Path.replace

    def until_the_cut(self: Path, target: Path) -> Path:
        if not left[0]:
            raise CutError
        left[0] -= 1
        return replace(self, target)

    monkeypatch.setattr(system_files.Path, "replace", until_the_cut)
    with pytest.raises(CutError):
        lay_links(program, etc)
    monkeypatch.undo()
    texts = {(etc / place).read_text() for place in PLACES.values()}
    assert texts <= {"installed", *(f"old {source}" for source in PLACES)}
    lay_links(program, etc)
    assert all((etc / place).is_symlink() for place in PLACES.values())
