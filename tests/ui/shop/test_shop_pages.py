"""The whole shop as static pages: of all benches, each coupon one touch away."""

from __future__ import annotations

from pathlib import Path

from core.records.shop_records import ShopMachine
from core.said import PLAIN
from tests.ui.shop.shop_bits import MACHINE, Bench
from ui.shop.server import connected
from ui.shop.shop_pages import shown_names, write_pages


def test_the_pages_are_of_all_benches_and_what_has_not_changed_is_left_alone(
    first: Bench, second: Bench, tmp_path: Path
) -> None:
    first.join()
    first.upset()
    sessions = [first.measure(0.1), first.measure(0.3)]
    first.round()
    second.join()
    sessions.append(second.measure(0.2))
    second.round()
    folder = tmp_path / "pages"
    with connected(second.access) as server:
        assert write_pages(server, folder, PLAIN) == (3, ())
        front = (folder / "index.html").read_text(encoding="utf-8")
        for session in sessions:
            assert f"cornerwise/{session}/index.html" in front
            assert (folder / "cornerwise" / session / "index.html").is_file()
        assert "template router (first bench)" in front
        assert "template router (second bench)" in front
        assert "SIMULATED" in front
        stamps = {path: path.stat().st_mtime_ns for path in folder.rglob("*.html")}
        assert write_pages(server, folder, PLAIN) == (3, ())
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*.html")} == stamps


def test_two_machines_of_one_name_are_told_apart() -> None:
    machines = [
        ShopMachine(id=f"machine-000000000000000{number}", name=name, benches=benches)
        for number, (name, benches) in enumerate(
            [(MACHINE, ("a",)), (MACHINE, ("b",)), ("laser", ("a", "b")), (MACHINE, ("b",))]
        )
    ]
    assert list(shown_names(machines).values()) == [
        "template router (a)",
        "template router (b) 0001",
        "laser",
        "template router (b) 0003",
    ]
