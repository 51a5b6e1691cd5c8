"""What a start of the bench loads: counted, for a figure in seconds would be another one on every machine."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

# Up to the moment at which the bench begins to be put together, with the options of the installed one: none.
_BENCH = """
import sys
from ui.command_line import bench_command, cli
bench_command.run = lambda args: print(*sorted(sys.modules), sep="\\n") or 0
sys.exit(cli.main(["--data", sys.argv[1]]))
"""
# Up to the moment at which a command runs, with the arguments it needs.
_NAMED = """
import sys
from ui.command_line import cli
arguments = sys.argv[2:]
cli.main(arguments, loaded=lambda: print(*sorted(sys.modules), sep="\\n"))
"""
# Up to the first snapshot of an empty folder, and the screen's own modules, which make no window.
_ASSEMBLED = """
import sys
from pathlib import Path
from ui.start import BenchOptions, assembled
import ui.touch.app
with assembled(BenchOptions(folder=Path(sys.argv[1]))) as bench:
    bench.pump()
    print(*sorted(sys.modules), sep="\\n")
"""
# All that is loaded before the first screen, and the window's own modules.
_FIRST_SCREEN = """
import sys
import ui.start
from ui.touch.app import configure
from ui.touch.kivy_settings import ScreenSettings
configure(ScreenSettings())
import ui.touch.bench_app
from ui.touch.screen import SCREENS
SCREENS["bench"]
print(*sorted(sys.modules), sep="\\n")
"""


def loaded(program: str, folder: Path, *arguments: str) -> set[str]:
    command = [sys.executable, "-c", program, str(folder), *arguments]
    return set(subprocess.run(command, capture_output=True, text=True, check=True).stdout.split())


def test_the_bench_waits_for_no_command(tmp_path: Path) -> None:
    modules = loaded(_BENCH, tmp_path)
    assert not [name for name in modules if name.endswith("_command") and not name.endswith("bench_command")]
    assert not [name for name in modules if name.startswith(("ui.terminal.text_bench", "hardware.doctor"))]


def test_ctrl_c_ends_the_program_by_the_signal_before_anything_else_is_loaded(tmp_path: Path) -> None:
    """Until then it comes out as a traceback: a third of that time went into loading what prints one."""
    bare = loaded("import signal, sys; print(*sorted(sys.modules))", tmp_path)
    modules = loaded("import ui.command_line.entry, sys; print(*sorted(sys.modules))", tmp_path)
    assert modules - bare == {"ui", "ui.command_line", "ui.command_line.entry"}


def test_a_command_waits_for_no_other_and_for_no_bench(tmp_path: Path) -> None:
    readings = tmp_path / "evaluate"  # a file may be named as a command is, and so may a folder
    readings.write_text("feature,value,unit\nnear,119.9,mm\n", encoding="utf-8")
    modules = loaded(_NAMED, tmp_path, "--data", "shop", "evaluate", str(readings))
    assert {name for name in modules if name.endswith(("_command", "_commands"))} == {
        "ui.command_line.evaluate_command"
    }
    assert not [name for name in modules if name.startswith(("ui.start", "ui.touch.app", "serial", "kivy", "psycopg"))]


def test_a_real_bench_loads_no_simulation_and_nothing_that_only_files_need(tmp_path: Path) -> None:
    modules = loaded(_ASSEMBLED, tmp_path)
    assert not [name for name in modules if name.startswith(("firmware_bridge.simulation", "ui.bench.simulated"))]
    assert not modules & {"ezdxf", "fpdf", "jinja2", "http.client", "urllib.request", "xml.sax", "bleak"}
    assert "numpy" not in modules, "nothing is worked out before there is a coupon"
    assert not modules & {"statistics", "html", "pickle", "asyncio", "hardware.update_archive", "ui.shop"}


def test_the_first_screen_waits_for_nothing_that_is_not_on_it(tmp_path: Path) -> None:
    modules = loaded(_FIRST_SCREEN, tmp_path)
    assert "ui.touch.widgets.bench_faces" in modules
    late = {"ui.touch.around_screens", *(f"ui.touch.widgets.{name}" for name in ("entry", "later_faces", "choice_row"))}
    assert not modules & late
    assert not modules & {"core.records.shape_picture", "core.geometry.cut_file", "kivy.uix.gridlayout"}
    assert not modules & {"serial", "hashlib", "secrets", "wave", "resource"}, "none of it is needed yet"
