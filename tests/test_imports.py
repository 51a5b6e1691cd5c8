"""The import rule: who may import whom, and where each outside library may be used. Walks every module's source."""

from __future__ import annotations

import ast
import importlib
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MAY_IMPORT = {
    "core": {"core"},
    "firmware_bridge": {"core", "firmware_bridge"},
    "hardware": {"core", "hardware"},
    "ui": {"core", "firmware_bridge", "hardware", "ui"},
}
# Inside core the rooms form a line: each may use itself and those before it.
CORE_ROOMS = ("geometry", "metrology", "machine", "records")
# The rooms of ui likewise; pages are shown by two rooms that know nothing of each other.
UI_ROOMS = ("speech", "state", "shop", "bench", "pages", "touch", "terminal", "start", "command_line")
SIDE_BY_SIDE = {"terminal": {"touch"}}
HOMES = {
    "serial": {"firmware_bridge/serial_link.py", "firmware_bridge/discovery.py"},
    "evdev": {"firmware_bridge/keyboard_link.py"},
    "bleak": {"firmware_bridge/radio_link.py"},
    "RPi": {"hardware/rpi_gpio.py"},
    "sqlite3": {
        f"core/records/{name}.py"
        for name in (
            "acknowledged",
            "archive",
            "archive_file",
            "chained_tables",
            "inspection",
            "migrations",
            "recovery",
            "saved_bench",
            "step_back",
            "session_tables",
            "machine_tables",
            "instrument_tables",
            "shop_records",
        )
    },
    "psycopg": {"ui/shop/server.py", "ui/shop/keeping.py"},
    "yoyo": {"ui/shop/keeping.py"},
    "fpdf": {"core/records/report_page.py", "core/records/tagged_tree.py"},
    "jinja2": {"core/records/browser/rendering.py"},
    "markupsafe": {"core/records/browser/rendering.py"},
}
CORE_LIBRARIES = {"numpy", "msgspec", "fpdf", "ezdxf", "lxml", "jinja2", "markupsafe", "lazy_loader"}
DECODERS_MAY_IMPORT = ("core.metrology.readings", "core.errors", "core.said", "firmware_bridge.decoders")
# Rooms that others enter by their face alone. A page is a module and is imported as one; touch and command line have
# no guests but the start.
FACED = (
    *(f"core.{room}" for room in CORE_ROOMS),
    "firmware_bridge",
    "hardware",
    *(f"ui.{room}" for room in ("speech", "state", "shop", "bench", "terminal")),
)


def modules() -> Iterator[Path]:
    for package in MAY_IMPORT:
        yield from sorted((ROOT / package).rglob("*.py"))


def face_of(room: str) -> dict[str, str]:
    """The names of a room's face and the module that each comes from."""
    stub = ROOT.joinpath(*room.split("."), "__init__.pyi").read_text(encoding="utf-8")
    lines = [node for node in ast.parse(stub).body if isinstance(node, ast.ImportFrom)]
    return {alias.name: f"{room}.{node.module}" for node in lines for alias in node.names}


FACES = {room: face_of(room) for room in FACED}


@cache
def import_statements(path: Path) -> tuple[ast.Import | ast.ImportFrom, ...]:
    """Of a module's source, at any depth (also inside functions)."""
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    return tuple(node for node in nodes if isinstance(node, ast.Import | ast.ImportFrom))


def imported_names(path: Path) -> set[str]:
    """Every module a file imports, at any depth (also inside functions), through a face as well."""
    names: set[str] = set()
    for node in import_statements(path):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        else:
            assert node.level == 0, f"{path}: relative imports hide the room a name comes from"
            assert node.module is not None
            face = FACES.get(node.module, {})
            # `from package import module` imports the module, so both spellings count.
            names |= {face.get(alias.name, f"{node.module}.{alias.name}") for alias in node.names}
            names |= set() if face else {node.module}
    return names


# Worked out by the tests that ask: every process that shares the run collects this file, and one of them runs it.
@cache
def every_import() -> dict[str, set[str]]:
    return {path.relative_to(ROOT).as_posix(): imported_names(path) for path in modules()}


@cache
def module_files() -> dict[str, str]:
    files = (path.relative_to(ROOT).as_posix() for path in modules())
    return {file.removesuffix(".py").removesuffix("/__init__").replace("/", "."): file for file in files}


def ours(names: set[str]) -> set[str]:
    return {name for name in names if name.split(".")[0] in MAY_IMPORT}


def users_of(*prefixes: str) -> set[str]:
    return {
        file
        for file, names in every_import().items()
        if any(name == prefix or name.startswith(prefix + ".") for name in names for prefix in prefixes)
    }


def test_packages_import_only_what_they_may() -> None:
    assert not {
        (file, name)
        for file, names in every_import().items()
        for name in ours(names)
        if name.split(".")[0] not in MAY_IMPORT[file.split("/")[0]]
    }


@pytest.mark.parametrize("room", CORE_ROOMS)
def test_rooms_of_core_never_look_back(room: str) -> None:
    later = CORE_ROOMS[CORE_ROOMS.index(room) + 1 :]
    users = users_of(*(f"core.{name}" for name in later))
    assert not {file for file in users if file.startswith(f"core/{room}/")}


@pytest.mark.parametrize("room", UI_ROOMS)
def test_rooms_of_ui_never_look_up(room: str) -> None:
    upper = {*UI_ROOMS[UI_ROOMS.index(room) + 1 :], *SIDE_BY_SIDE.get(room, ())}
    for other in upper:
        assert not {file for file in users_of(f"ui.{other}") if file.startswith((f"ui/{room}/", f"ui/{room}.py"))}


def test_core_uses_numpy_and_the_standard_library_only() -> None:
    tops = {name.split(".")[0] for file, names in every_import().items() if file.startswith("core/") for name in names}
    assert tops - {"core"} - CORE_LIBRARIES <= sys.stdlib_module_names


@pytest.mark.parametrize("library", sorted(HOMES))
def test_outside_libraries_stay_in_their_homes(library: str) -> None:
    assert users_of(library) <= HOMES[library]


def test_kivy_stays_in_the_screens() -> None:
    assert all(file.startswith("ui/touch/") for file in users_of("kivy"))


def test_decoders_know_readings_and_nothing_else() -> None:
    names = {
        name
        for file, imported in every_import().items()
        if file.startswith("firmware_bridge/decoders/")
        for name in ours(imported)
    }
    assert all(name.startswith(DECODERS_MAY_IMPORT) for name in names), names


def test_only_the_assembly_knows_the_simulation() -> None:
    users = users_of("firmware_bridge.simulation")
    assert {file for file in users if not file.startswith("firmware_bridge/simulation/")} <= {"ui/start.py"}


def test_the_microcontroller_side_imports_nothing_of_ours() -> None:
    assert not {
        file for file, names in every_import().items() if file.startswith("firmware_bridge/pico/") and ours(names)
    }


def test_nothing_imports_in_a_circle() -> None:
    done: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, " -> ".join((*path, module))
        if module in done or module not in module_files():
            return
        for name in every_import()[module_files()[module]] - {module}:
            visit(name, (*path, module))
        done.add(module)

    for module in module_files():
        visit(module, ())


def room_of(module: str) -> str | None:
    return next((room for room in FACED if module == room or module.startswith(room + ".")), None)


def imports_across(path: Path) -> Iterator[tuple[str, str, str]]:
    """The room, module and name of each import from a room that is not the file's own and has a face."""
    home = room_of(path.relative_to(ROOT).with_suffix("").as_posix().replace("/", "."))
    for node in import_statements(path):
        if isinstance(node, ast.ImportFrom) and (room := room_of(node.module or "")) not in (None, home):
            assert room is not None
            yield from ((room, node.module or "", alias.name) for alias in node.names)


@cache
def imports_by_room() -> dict[str, set[tuple[str, str, str]]]:
    return {path.relative_to(ROOT).as_posix(): set(imports_across(path)) for path in modules()}


def test_other_rooms_are_entered_by_their_face() -> None:
    # A package holds its modules under their names, so a function called like its module cannot stand in the face.
    past = {
        (file, f"{module}.{name}")
        for file, names in imports_by_room().items()
        for room, module, name in names
        if module != room and f"{room}.{name}" not in module_files() and f"{module}.{name}" not in module_files()
    }
    assert not past, f"list these names in their room's __init__.pyi and import them from the room: {sorted(past)}"


@pytest.mark.parametrize("room", FACED)
def test_a_face_lists_what_others_use_and_nothing_else(room: str) -> None:
    used = {
        name for names in imports_by_room().values() for entered, module, name in names if entered == module == room
    }
    assert set(FACES[room]) == {name for name in used if f"{room}.{name}" not in module_files()}
    for name, module in FACES[room].items():
        assert getattr(importlib.import_module(room), name) is getattr(importlib.import_module(module), name)
