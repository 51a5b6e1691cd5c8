"""German: every sentence worded in the program, whether a scene shows it or not, stands in the catalogue."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from ui.speech.language import LOCALE

ROOT = Path(__file__).resolve().parents[3]
with (LOCALE / "de.po").open("rb") as catalogue:
    MESSAGES = "\n".join(message.id for message in read_po(catalogue) if message.id)
# What a program, a database, a drawing or the log of a service reads.
NOT_FOR_PEOPLE = (
    "core/geometry/cut_file_svg.py",
    "core/records/archive_file.py",
    "core/records/instrument_tables.py",
    "core/records/machine_tables.py",
    "core/records/migrations.py",
    "core/records/plot_svg.py",
    "core/records/readings_csv_export.py",
    "core/records/recovery.py",
    "core/records/session_tables.py",
    "core/records/step_back.py",
    "firmware_bridge/pico",
    "hardware/drawings.py",
    "hardware/electrics.py",
    "hardware/gadget_setup.py",
    "hardware/pins.py",
    "hardware/releases.py",
    "hardware/sheet.py",
    "ui/speech/language.py",
    "ui/speech/notation.py",
)
# Said to whoever writes programs, or part of a command line's own usage.
NO_SENTENCES = (
    "add_argument",
    "add_argument_group",
    "add_parser",
    "compile",
    "_Parser",
    "ValueError",
    "AssertionError",
    "TypeError",
)
# Said by a message with a slot, stored in English, typed as it stands, or the name of a thread.
SAID_OTHERWISE = re.compile(
    r"(?:diagonal|corner) (?:NL|NR|FR|FL)\S*|N[LR] and F[RL]|.*\d\.\d digits|.*\bmm of session|° is taken out"
    r"|cornerwise\b.*|helper: .*|square and the same turned over|void button|screen errand|belt listener|No space left"
    r"|sudo .*|systemctl .*|(?:reference|reset|belts|flip|new|near|void|instruments|machine|gap|abandon|event|history"
    r"|download|cable|check|set|take|diagnose|practice)\b.*|then type: .*|edge length, .*|corner from 90 .*"
    r"|perpendicularity over .*|difference of the diagonals, mm|machine = \?"
)
SQL = re.compile(r"SELECT|INSERT|PRAGMA|UPDATE |WHERE|BEGIN IMMEDIATE")


def templates(path: Path) -> Iterator[str]:
    """The texts of a module, `{}` for what is put in; without docstrings and what is said to programmers."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    passed: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            passed.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            passed |= {id(value) for value in node.values}
        if isinstance(node, ast.Call) and ast.unparse(node.func).rpartition(".")[2] in NO_SENTENCES:
            passed |= {id(inside) for inside in ast.walk(node)}
    for node in ast.walk(tree):
        if id(node) in passed:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(value.value) if isinstance(value, ast.Constant) else "{}" for value in node.values)


def pieces(template: str) -> Iterator[str]:
    """What of a template has to stand in a message as it is: its sentences, parted where something is put in."""
    for sentence in re.split(r"\n|(?<=[.!?]) +(?=[A-Z])", template):
        for piece in re.split(r"\{\w*\}", sentence):
            bare = piece.strip(" .,;:()'\r")
            if " " in bare and re.search(r"[a-z]{3}", bare):
                yield bare


def left_out(path: Path) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}: {piece}"
        for template in templates(path)
        if not SQL.search(template)
        for piece in pieces(template)
        if piece not in MESSAGES and not SAID_OTHERWISE.fullmatch(piece)
    ]


@pytest.mark.parametrize("package", ["core", "firmware_bridge", "hardware", "ui"])
def test_every_sentence_of_the_source_is_in_the_catalogue(package: str) -> None:
    files = sorted((ROOT / package).rglob("*.py"))
    said = [file for file in files if not str(file.relative_to(ROOT)).startswith(NOT_FOR_PEOPLE)]
    assert said
    left = [piece for file in said for piece in left_out(file)]
    assert not left, "\n".join(left)


def test_what_is_missing_is_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    module = tmp_path / "module.py"
    module.write_text('def say(n):\n    return f"Nobody has put {n} into German. Measure the next coupon"\n')
    assert left_out(module) == ["module.py: Nobody has put", "module.py: into German"]
