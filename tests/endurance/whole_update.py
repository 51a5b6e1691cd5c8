"""An update the whole way, with the real program: `python tests/endurance/whole_update.py` (minutes; package index).

A release is made in an environment of its own, a later version of this checkout is built, signed and put on a stick
that is a folder; the helper's verbs install it; the new release measures a simulated coupon. Prints a line a step.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from contextlib import nullcontext
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from core import __version__  # noqa: E402
from hardware.make_update import (  # noqa: E402  # noqa: E402
    MACHINES,
    PYTHONS,
    SOURCES,
    build_wheel,
    manifest_of,
    signature_of,
    system_digest,
    write_archive,
)
from hardware.releases import before_start, current_release, first_screen, read_change  # noqa: E402
from hardware.root_verbs import RootPlaces  # noqa: E402
from hardware.update_verbs import go_back, install_update, look_for_update  # noqa: E402
from tests.hardware.update_bits import make_key, trust  # noqa: E402

LATER = "99.0.0"
# What a bench of go and no-go coupons may end with; anything else is no verdict.
VERDICTS = range(4)


def later_checkout(folder: Path) -> Path:
    """This checkout, calling itself a later version."""
    folder.mkdir()
    for name in SOURCES:
        source = ROOT / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, folder / name)
    version = folder / "core" / "__init__.py"
    version.write_text(re.sub(r'__version__ = ".*"', f'__version__ = "{LATER}"', version.read_text()))
    return folder


def measure(program: Path, data: Path) -> int:
    """A simulated coupon, measured and judged by this release; its exit status."""
    command = [program / "current" / "bin" / "cornerwise", "--simulate", "--text", "--data", data]
    return subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, cwd="/", check=False).returncode


def main() -> int:
    """Every step, or an exception that says which one failed."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        program, stick = folder / "opt", folder / "stick"
        places = RootPlaces(program=program, update_keys=folder / "update-keys")
        release = program / "releases" / f"{__version__}-1"
        release.parent.mkdir(parents=True)
        stick.mkdir()
        subprocess.run([sys.executable, "-m", "venv", release], check=True)
        pip = [release / "bin" / "python", "-m", "pip", "install", "-q", "--disable-pip-version-check"]
        subprocess.run([*pip, build_wheel(ROOT, folder)], check=True)
        (release / "complete").touch()
        (program / "current").symlink_to(release)
        (program / "system-digest").write_text(system_digest(ROOT) + "\n")
        assert measure(program, folder / "data") in VERDICTS
        print(f"{__version__} is installed and judges a coupon")

        key = make_key(folder, "maker")
        trust(key, places.update_keys)
        (folder / "wheels").mkdir()
        wheel = build_wheel(later_checkout(folder / "checkout"), folder / "wheels")
        manifest = manifest_of(LATER, system_digest(ROOT), [wheel], pythons=PYTHONS, machines=MACHINES)
        write_archive(stick / f"cornerwise-{LATER}.update", manifest, signature_of(manifest, key), [wheel])
        print(f"cornerwise-{LATER}.update: {wheel.stat().st_size / 1e6:.1f} MB")

        def open_stick(_places: RootPlaces, _partition: str) -> nullcontext[Path]:
            return nullcontext(stick)

        assert look_for_update(places, "sda1", print, open_stick=open_stick) == LATER
        print(install_update(places, LATER, print, restart=lambda: None))
        before_start(program)
        assert current_release(program).startswith(f"{LATER}-")
        assert measure(program, folder / "data") in VERDICTS
        first_screen(program)
        change = read_change(program)
        assert change is not None
        print(f"{LATER} {change.phase} and judges a coupon")
        print(go_back(places, restart=lambda: None))
        assert measure(program, folder / "data") in VERDICTS
        print(f"{__version__} judges a coupon again")
    return 0


if __name__ == "__main__":
    sys.exit(main())
