"""What is in the folders is in the installed program too: packages and data files are listed in pyproject.toml."""

from __future__ import annotations

import re
import tomllib
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SETUPTOOLS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
TEXTS = {".py", ".md", ".sh", ".po"}
TOP = ("core", "firmware_bridge", "hardware", "ui")
# Read from the checkout by setup.sh and by people, not by the program.
NOT_INSTALLED = (
    "hardware/locks/*.txt",
    "ui/speech/locale/mapping.cfg",
    "*.md", "*.sh", "hardware/systemd/*", "hardware/udev/*", "hardware/debian/*",
    "hardware/drawings/*", "ui/pictures/*", "*.pyc",
)  # fmt: skip


def test_every_package_is_listed() -> None:
    found = {path.parent.relative_to(ROOT).as_posix().replace("/", ".") for top in TOP for path in init_files(top)}
    assert set(SETUPTOOLS["packages"]) == found


def init_files(top: str) -> list[Path]:
    return sorted((ROOT / top).rglob("__init__.py"))


def test_every_data_file_lies_in_a_package_and_matches_a_pattern() -> None:
    patterns = SETUPTOOLS["package-data"]["*"]
    left_out = []
    for top in TOP:
        for path in sorted((ROOT / top).rglob("*")):
            name = path.relative_to(ROOT).as_posix()
            if not path.is_file() or path.suffix == ".py" or any(fnmatch(name, known) for known in NOT_INSTALLED):
                continue
            packaged = (path.parent / "__init__.py").is_file() and any(fnmatch(path.name, known) for known in patterns)
            if not packaged:
                left_out.append(name)
    assert left_out == []


def test_nobody_is_told_to_install_a_name_that_is_not_ours_to_promise() -> None:
    """What an index of packages holds under the name `cornerwise` is anybody's: extras come from the checkout."""
    told = [*ROOT.glob("*.md"), *(path for top in TOP for path in (ROOT / top).rglob("*") if path.suffix in TEXTS)]
    assert len(told) > 100
    promise = re.compile(r"pip install\s+\S*cornerwise\b")
    promises = [str(path) for path in told if promise.search(path.read_text(encoding="utf-8"))]
    assert promises == []
