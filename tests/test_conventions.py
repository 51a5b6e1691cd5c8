"""House conventions that no linter knows, checked over the whole tree."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "firmware_bridge", "ui", "core", "tests", "hardware"}


def tracked() -> list[str]:
    """Every file of the repository, as git knows them, and those about to be added."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return [name for name in listed.stdout.splitlines() if (ROOT / name).exists()]


FILES = tracked()


def python(*folders: str) -> Iterator[Path]:
    yield from (ROOT / name for name in FILES if name.endswith(".py") and name.startswith(folders))


def test_the_top_level_holds_what_it_may() -> None:
    names = {name.split("/")[0] for name in FILES}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL


def test_every_screen_has_its_layout_beside_it() -> None:
    screens = {path.stem for path in (ROOT / "ui" / "touch" / "screens").glob("*.py")} - {"__init__"}
    layouts = {path.stem for path in (ROOT / "ui" / "touch" / "screens").glob("*.kv")}
    assert screens
    assert screens == layouts


def values_of(folder: str) -> Iterator[tuple[Path, ast.ClassDef]]:
    """Its classes that are values: a Struct, or made from one of them."""
    classes = [
        (path, node)
        for path in python(folder)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
    ]
    known, before = {"Struct"}, set()
    while known != before:
        before = known
        known = known | {node.name for _path, node in classes if known & set(map(ast.unparse, node.bases))}
    yield from ((path, node) for path, node in classes if node.name in known)


def test_values_of_the_core_are_frozen() -> None:
    loose, values = [], 0
    for path, node in values_of("core"):
        values += 1
        options = {word.arg: ast.literal_eval(word.value) for word in node.keywords if word.arg is not None}
        # What is said reads like words where it is said: its parts are given by place.
        wanted = ("frozen",) if path.name == "said.py" else ("frozen", "kw_only")
        if not all(options.get(word) for word in wanted):
            loose.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert values
    assert not loose


def test_values_are_made_in_one_way() -> None:
    """As msgspec's; the guard of the releases, which runs on the system's Python without libraries, has a tuple."""
    assert [
        path
        for path in python("core", "firmware_bridge", "hardware", "ui")
        if re.search(r"^(from|import) dataclasses\b|\bNamedTuple\b", path.read_text(encoding="utf-8"), re.MULTILINE)
    ] == [ROOT / "hardware" / "releases.py"]


def test_numpy_is_loaded_in_one_way() -> None:
    """When something is first worked out: a plain import of it would be an eighth of a bench's start."""
    assert [
        path
        for path in python("core", "firmware_bridge", "hardware", "ui")
        if re.search(r"^(from|import) numpy\b", path.read_text(encoding="utf-8"), re.MULTILINE)
    ] == []


def test_nothing_in_the_suite_sleeps() -> None:
    sleepers = []
    for path in python("tests"):
        if path.is_relative_to(ROOT / "tests" / "benchmarks") or path.is_relative_to(ROOT / "tests" / "endurance"):
            continue
        text = path.read_text(encoding="utf-8")
        # Fingers and plugs on a real kernel take real time.
        if "pytest.mark.real_kernel" in text or path.is_relative_to(ROOT / "tests" / "kiosk"):
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in ("sleep", "time.sleep"):
                sleepers.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert not sleepers


def test_every_test_waits_with_the_same_patience() -> None:
    """A wait of a test's own is the one that a busy machine fails."""
    impatient = [path for path in python("tests") if "\nWAIT_S = " in path.read_text(encoding="utf-8")]
    assert [path for path in impatient if not path.is_relative_to(ROOT / "tests" / "endurance")] == [
        ROOT / "tests" / "patience.py"
    ]


@pytest.mark.parametrize("path", [*python("tests/published")], ids=lambda path: path.name)
def test_every_published_check_names_its_source(path: Path) -> None:
    """A source is a standard, a handbook or a data set, named in the file beside the values."""
    text = path.read_text(encoding="utf-8")
    assert any(word in text for word in ("ISO", "JCGM", "NIST", "GUM", "ed.", "from memory", "common practice")), path


def test_no_source_is_left_unnamed() -> None:
    """A source has a name, or it is from memory or common practice: whoever doubts a figure must be able to look."""
    nameless = ("textbook", "materials " + "tables", "public " + "descriptions", "any hand" + "book")
    for path in python("core", "firmware_bridge", "hardware", "ui", "tests"):
        text = " ".join(path.read_text(encoding="utf-8").lower().split())
        if path.name != Path(__file__).name:
            assert not [words for words in nameless if words in text], path


def test_every_error_is_raised_and_tested() -> None:
    tree = ast.parse((ROOT / "core" / "errors.py").read_text(encoding="utf-8"))
    errors = {node.name for node in tree.body if isinstance(node, ast.ClassDef)} - {"CornerwiseError"}
    source = "\n".join(path.read_text(encoding="utf-8") for path in python("core", "firmware_bridge", "hardware", "ui"))
    tests = "\n".join(path.read_text(encoding="utf-8") for path in python("tests"))
    assert not {name for name in errors if f"{name}(" not in source}
    assert not {name for name in errors if name not in tests}
