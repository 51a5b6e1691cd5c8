"""What README.md and DEVELOPERS.md name is there: paths, modules, commands with their options, names in the code."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.test_conventions import FILES, ROOT, TOP_LEVEL
from ui.command_line.cli import _COMMANDS

GUIDES = {name: (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")}
SOURCES = (".py", ".pyi", ".kv", ".sh", ".sql", ".service", ".toml")
# What a recipe makes, and what the reader has: no file of the house.
READERS = re.compile(r"(?:test_)?name\.\w+|(?:PACKAGE|NAME|KEY|T)\b.*")
# Of apt and of a database's plans.
OTHERS = {"InRelease", "Limit", "Sort"}
SOURCE = {
    name: (ROOT / name).read_text(encoding="utf-8")
    for name in FILES
    if name.endswith(SOURCES) and Path(name).suffix and "node_modules" not in name
}
WORDS = {word for text in SOURCE.values() for word in re.findall(r"[A-Za-z_]\w*", text)}
IN_EITHER = pytest.mark.parametrize("guide", GUIDES)


def named_paths(text: str) -> set[str]:
    """What ends as a source does, or begins with a folder of the house; what a link leads to."""
    words = {word.rstrip(".") for word in re.findall(r"[\w./*-]+", text)}
    linked = set(re.findall(r"\]\(([^):#]+)\)", text))
    rooms = tuple(f"{name}/" for name in TOP_LEVEL if "." not in name)
    return linked | {
        word
        for word in words
        if (word.startswith(rooms) or re.search(r"\w\.(?:py|kv|sh|sql)$", word))
        and not READERS.fullmatch(word.rpartition("/")[2])
    }


def is_there(path: str) -> bool:
    """As it stands, from the top; or the end of a file's path, where the text is about its room."""
    if "*" in path:
        return any(ROOT.glob(path))
    return (ROOT / path).exists() or any(name.endswith(f"/{path}") for name in FILES)


def commands(text: str) -> list[tuple[str, list[str]]]:
    """Each program of the house that the text tells to run: its source, and the options behind it."""
    found = []
    for program, rest in re.findall(r"python (?:-m )?((?:tests|hardware|ui)[\w./]*)([^\n`]*)", text):
        source = program if program.endswith(".py") else program.replace(".", "/") + ".py"
        if not (ROOT / source).exists():
            source = source.removesuffix(".py") + "/__main__.py"
        found.append((source, re.findall(r"(?<=\s)--[\w-]+", rest.split("   ")[0])))
    return found


@IN_EITHER
def test_every_path_is_there(guide: str) -> None:
    paths = named_paths(GUIDES[guide])
    assert len(paths) > 5
    assert [path for path in sorted(paths) if not is_there(path)] == []


@IN_EITHER
def test_every_command_is_there_with_its_options(guide: str) -> None:
    missing = []
    for source, options in commands(GUIDES[guide]):
        text = SOURCE.get(source, "")
        missing += [source] if not text else [f"{source} {option}" for option in options if f'"{option}"' not in text]
    assert missing == []


@IN_EITHER
def test_every_command_of_the_program_is_there_with_its_options(guide: str) -> None:
    known = "".join(text for name, text in SOURCE.items() if name.startswith("ui/command_line/"))
    told = re.findall(
        r"(?:^ +(?:\.venv/bin/)?|`(?:\.venv/bin/)?)cornerwise((?: [^\n`]*)?)", GUIDES[guide], re.MULTILINE
    )
    missing = []
    for arguments in told:
        words = arguments.split("   ")[0].split()
        named = [word for word in words if re.fullmatch(r"[a-z][a-z-]+", word)][:1]
        missing += [word for word in named if word not in _COMMANDS]
        missing += [word for word in words if word.startswith("--") and f'"{word}"' not in known]
    assert told
    assert missing == []


@IN_EITHER
def test_every_name_in_code_is_there(guide: str) -> None:
    named = set(re.findall(r"`(?:\w+\.)*([A-Za-z_]\w*)(?:\(\))?`", GUIDES[guide]))
    assert sorted(named - WORDS - OTHERS) == []


def test_what_is_gone_is_found() -> None:
    gone = {"ui/gone.py", "gone.kv", "tests/nowhere/"}
    assert {
        path for path in named_paths("`ui/gone.py`, gone.kv and tests/nowhere/, ui/start.py") if not is_there(path)
    } == gone
    assert commands("    python -m tests.gone --share 2    what it is") == [("tests/gone/__main__.py", ["--share"])]
