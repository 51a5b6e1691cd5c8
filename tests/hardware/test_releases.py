"""Releases on trial: counted starts, proven by the first screen or taken back; the power may go at any moment."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from hardware import releases
from hardware.releases import (
    STARTS,
    Phase,
    at_boot,
    before_start,
    begin_trial,
    current_release,
    first_screen,
    newer,
    previous_release,
    read_change,
    version_of,
)

OLD, NEW = "0.1.0-11", "0.2.0-22"


@pytest.fixture
def program(tmp_path: Path) -> Path:
    for name in (OLD, NEW):
        (tmp_path / "releases" / name).mkdir(parents=True)
        (tmp_path / "releases" / name / "complete").touch()
    (tmp_path / "current").symlink_to(tmp_path / "releases" / OLD)
    return tmp_path


def phase(program: Path) -> Phase | None:
    change = read_change(program)
    return change and change.phase


def test_a_release_that_draws_its_first_screen_is_proven(program: Path) -> None:
    begin_trial(program, NEW)
    assert (current_release(program), previous_release(program)) == (NEW, OLD)
    before_start(program)
    first_screen(program)
    assert phase(program) is Phase.RUNS
    for _ in range(10):  # whatever comes later is no trial any more
        before_start(program)
    assert current_release(program) == NEW


def test_one_that_never_does_is_taken_back_after_its_starts(program: Path) -> None:
    begin_trial(program, NEW)
    for _ in range(STARTS):
        before_start(program)
        assert current_release(program) == NEW
    before_start(program)
    assert current_release(program) == OLD
    assert phase(program) is Phase.TAKEN_BACK
    assert previous_release(program) == ""  # what did not start is nothing to go back to
    change = read_change(program)
    assert change is not None
    assert not change.told
    first_screen(program)
    told = read_change(program)
    assert told is not None
    assert told.told
    before_start(program)
    assert current_release(program) == OLD


def test_one_whose_unit_does_not_load_is_taken_back_by_boots(program: Path) -> None:
    """Then no start is ever counted; a person with a dark screen switches off and on."""
    begin_trial(program, NEW)
    for _ in range(STARTS):
        at_boot(program)
        assert current_release(program) == NEW
    at_boot(program)
    assert current_release(program) == OLD
    assert phase(program) is Phase.TAKEN_BACK
    first_screen(program)
    for _ in range(STARTS + 1):
        at_boot(program)
    assert current_release(program) == OLD


def test_boots_of_a_proven_release_are_not_counted(program: Path) -> None:
    at_boot(program)
    begin_trial(program, NEW)
    at_boot(program)
    before_start(program)
    first_screen(program)
    for _ in range(STARTS + 1):
        at_boot(program)
    assert (current_release(program), phase(program)) == (NEW, Phase.RUNS)


def test_the_log_says_each_start_on_trial_and_what_became_of_it(
    program: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A person with a dark screen has nothing but the log."""
    monkeypatch.setattr(releases, "PROGRAM", program)
    monkeypatch.setattr(releases, "helper_answers", lambda version: True)
    begin_trial(program, NEW)
    for step in [*["before-start"] * (STARTS + 1), "first-screen", "before-start", "first-screen"]:
        assert releases.main([step]) == 0
    starts = [f"releases: {NEW} is on trial, start {start} of {STARTS}" for start in range(1, STARTS + 1)]
    assert capsys.readouterr().out.splitlines() == [
        *starts,
        f"releases: {NEW} is taken back, no first screen stayed in {STARTS} starts: back to {OLD}",
        f"releases: {OLD} runs again and its first screen stayed",
    ]
    begin_trial(program, NEW)
    for step in ("before-start", "first-screen", "before-start", "first-screen"):
        assert releases.main([step]) == 0
    assert capsys.readouterr().out.splitlines() == [
        starts[0],
        f"releases: {NEW} is kept: its first screen came up and stayed",
    ]


def test_a_release_whose_helper_is_broken_does_not_pass_its_trial(
    program: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its first screen comes up at every start, and nobody is at the socket."""
    answers = releases.helper_answers
    monkeypatch.setattr(releases, "PROGRAM", program)
    monkeypatch.setattr(releases, "helper_answers", lambda version: answers(version, program / "no.socket"))
    begin_trial(program, NEW)
    for _ in range(STARTS):
        assert (releases.main(["before-start"]), releases.main(["first-screen"])) == (0, 69)
        assert (current_release(program), phase(program)) == (NEW, Phase.TRIAL)
        assert "no helper of this release" in capsys.readouterr().err
    assert releases.main(["before-start"]) == 0
    assert (current_release(program), phase(program)) == (OLD, Phase.TAKEN_BACK)


def test_a_later_trial_starts_from_nothing(program: Path) -> None:
    begin_trial(program, NEW)
    for _ in range(STARTS + 1):
        before_start(program)
    first_screen(program)
    begin_trial(program, NEW)
    before_start(program)
    assert current_release(program) == NEW
    first_screen(program)
    assert phase(program) is Phase.RUNS


def test_the_way_back_is_a_trial_too(program: Path) -> None:
    begin_trial(program, NEW)
    before_start(program)
    first_screen(program)
    begin_trial(program, OLD)
    assert (current_release(program), previous_release(program)) == (OLD, NEW)
    for _ in range(STARTS + 1):
        before_start(program)
    assert current_release(program) == NEW


class PowerCutError(Exception):
    """Nothing after this reaches the disk."""


WRITES = ("_write_change", "_put_link")


@pytest.mark.parametrize("writes", range(4))
def test_the_power_may_go_between_any_two_writes_of_the_switch(
    program: Path, monkeypatch: pytest.MonkeyPatch, writes: int
) -> None:
    """Then either release runs to its first screen, the links are whole, and what is said is true."""
    cut_after(monkeypatch, writes)
    with suppress(PowerCutError):
        begin_trial(program, NEW)
    monkeypatch.undo()
    before_start(program)
    assert current_release(program) in (OLD, NEW)
    expected = {0: None, 1: Phase.NOT_SWITCHED, 2: Phase.NOT_SWITCHED, 3: Phase.TRIAL}[writes]
    assert phase(program) is expected
    assert current_release(program) == (NEW if writes == 3 else OLD)
    first_screen(program)
    assert phase(program) is {Phase.TRIAL: Phase.RUNS}.get(expected, expected)


@pytest.mark.parametrize("writes", range(3))
def test_the_power_may_go_between_any_two_writes_of_the_way_back(
    program: Path, monkeypatch: pytest.MonkeyPatch, writes: int
) -> None:
    begin_trial(program, NEW)
    for _ in range(STARTS):
        before_start(program)
    cut_after(monkeypatch, writes)
    with suppress(PowerCutError):
        before_start(program)
    monkeypatch.undo()
    before_start(program)
    assert current_release(program) == OLD
    assert phase(program) is Phase.TAKEN_BACK


def cut_after(monkeypatch: pytest.MonkeyPatch, writes: int) -> None:
    left = [writes]
    for name in WRITES:
        real = getattr(releases, name)

        def write(*args: object, real=real) -> None:
            if left[0] == 0:
                raise PowerCutError
            left[0] -= 1
            real(*args)

        monkeypatch.setattr(releases, name, write)


def test_without_the_release_before_the_new_one_stays(program: Path) -> None:
    begin_trial(program, NEW)
    (program / "releases" / OLD / "complete").unlink()
    for _ in range(STARTS + 3):
        before_start(program)
    assert current_release(program) == NEW


def test_a_half_made_release_is_nothing_to_go_back_to(program: Path) -> None:
    begin_trial(program, NEW)
    (program / "releases" / OLD / "complete").unlink()
    assert previous_release(program) == ""


@pytest.mark.parametrize("content", ["", "{", "[]", '{"phase": "dancing"}', '{"phase": "trial", "voice": 1}'])
def test_a_state_that_cannot_be_read_holds_no_start_up(program: Path, content: str) -> None:
    (program / "update.json").write_text(content)
    assert read_change(program) is None
    before_start(program)
    first_screen(program)
    assert current_release(program) == OLD


def test_a_version_is_the_front_of_a_folder_name() -> None:
    assert version_of("0.2.0-31ba77") == "0.2.0"
    assert version_of("") == ""


def test_it_needs_nothing_but_the_systems_own_python(tmp_path: Path) -> None:
    """What takes a broken release back may import nothing of it: it runs from another folder, isolated."""
    source = Path(releases.__file__)
    names = [node for node in ast.walk(ast.parse(source.read_text())) if isinstance(node, (ast.Import, ast.ImportFrom))]
    tops = {(node.module if isinstance(node, ast.ImportFrom) else node.names[0].name) or "" for node in names}
    assert {top.split(".")[0] for top in tops} <= set(sys.stdlib_module_names)
    copy = shutil.copy(source, tmp_path / "releases.py")
    for words, status in (("before-start", 0), ("first-screen", 0), ("at-boot", 0), ("dance", 64)):
        done = subprocess.run([sys.executable, "-I", copy, words], capture_output=True, cwd=tmp_path, check=False)
        assert done.returncode == status, done.stderr


@pytest.mark.parametrize(
    ("version", "than", "expected"),
    [("0.2.0", "0.1.9", True), ("0.10.0", "0.9.0", True), ("0.1.0", "0.1.0", False), ("1.0", "1.0.0", False),
     ("0.1.9", "0.2.0", False)],
)  # fmt: skip
def test_versions_are_compared_number_by_number(version: str, than: str, expected: bool) -> None:
    assert newer(version, than) is expected
