"""The long proofs are run to their end: what hangs is ended and has failed, pieces add up, unproven is not survived.

The small version of tests/endurance/nothing_lost.py itself: its proofs are stood in for by programs of a line.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from tests.endurance import nothing_lost
from tests.endurance.nothing_lost import HELD, NOT_REACHED, Piece, Proof, pieces_of, row, run

GIVEN: dict[str, str | None] = {"boot": None, "sqlite3": None}


def python(program: str, limit_s: float = 600) -> Piece:
    """A proof that is one line of Python."""
    return Piece(command=(sys.executable, "-c", program), count=1, limit_s=limit_s)


def test_the_status_of_a_piece_is_its_ending() -> None:
    assert run(python("pass"), "tree").word == HELD
    assert run(python("raise SystemExit(3)"), "tree").word == "FAILED (3)"


def test_a_piece_that_hangs_is_ended_with_what_it_started_in_groups_of_their_own(tmp_path: Path) -> None:
    alive = tmp_path / "alive"
    os.mkfifo(alive)
    hangs = f"import time; open({str(alive)!r}, 'wb', 0).write(b'alive'); time.sleep(600)"
    starts = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {hangs!r}], process_group=0)"
    with os.fdopen(os.open(alive, os.O_RDONLY | os.O_NONBLOCK), "rb") as heard:
        assert run(python(starts, limit_s=5), "tree").word == "HUNG (5 s)"
        os.set_blocking(heard.fileno(), True)
        heard.read()  # ends when nobody is left who could write


def test_a_count_is_done_in_pieces_that_add_up_each_with_a_seed_of_its_own() -> None:
    proof = Proof(name="kill_nine", what="kills", minutes=8, count=1000, piece=300)
    pieces = pieces_of(proof, 1.0, 4, GIVEN)
    assert [piece.count for piece in pieces] == [300, 300, 300, 100]
    assert len({piece.command[-1] for piece in pieces}) == 4
    assert [piece.count for piece in pieces_of(proof, 0.02, 4, GIVEN)] == [20]


def test_a_proof_has_held_when_each_of_its_pieces_has() -> None:
    proof = Proof(name="kill_nine", what="kills", minutes=8, count=2)
    pieces = [python("pass"), python("raise SystemExit(1)")]
    first, second = (run(piece, "tree") for piece in pieces)
    assert row(proof, pieces, {})[:2] == (NOT_REACHED, "0 of 2")
    assert row(proof, pieces, {first.command: first})[:2] == (NOT_REACHED, "1 of 2")
    assert row(proof, pieces, {one.command: one for one in (first, second)})[:2] == ("FAILED (1)", "1 of 2")
    assert row(Proof(name="power_cuts", what="cuts", minutes=1, needs="boot"), None, {})[0] == "NOT DONE (no --boot)"


def test_what_held_is_not_run_again_and_what_fell_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    held, fell = tmp_path / "test_held.py", tmp_path / "test_fell.py"
    held.write_text("def test_it() -> None:\n    pass\n")
    fell.write_text("def test_it() -> None:\n    raise OSError\n")
    proof = {path: Proof(name="tests/x", what=path.stem, minutes=1) for path in (held, fell)}
    pieces = {proof[path]: [python(f"exec(open({str(path)!r}).read()); test_it()")] for path in (held, fell)}
    monkeypatch.setattr(nothing_lost, "PROOFS", {"a point": tuple(proof.values())})
    monkeypatch.setattr(nothing_lost, "pieces_of", lambda proof, *_: pieces[proof])
    monkeypatch.setattr(nothing_lost, "tree_now", lambda: "tree")
    kept = ["--kept", str(tmp_path / "kept")]

    assert nothing_lost.main(kept) == 1
    assert capsys.readouterr().out.count("--------") == 2
    fell.write_text(held.read_text())
    assert nothing_lost.main(kept) == 0
    assert capsys.readouterr().out.count("--------") == 1
    monkeypatch.setattr(nothing_lost, "tree_now", lambda: "another tree")
    assert nothing_lost.main([*kept, "--only", "a point"]) == 0
    assert capsys.readouterr().out.count("--------") == 2


def test_every_proof_that_is_named_is_there() -> None:
    root = nothing_lost.ROOT
    for proofs in nothing_lost.PROOFS.values():
        for proof in proofs:
            path = proof.name if proof.name.startswith("tests/") else f"tests/endurance/{proof.name}.py"
            assert (root / path).is_file(), path
