"""The locked libraries are those that pyproject.toml asks for, with checksums, in the same version in every set."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
BENCH = [*PROJECT["project"]["dependencies"], *PROJECT["build-system"]["requires"]]
EXTRAS = PROJECT["project"]["optional-dependencies"]
SETS = {
    "bench": BENCH,
    "test": [*BENCH, *EXTRAS["test"]],
    "pi": [*BENCH, *EXTRAS["pi"]],
    "pi5": [*BENCH, *EXTRAS["pi5"]],
}


def locked(name: str) -> dict[str, set[str]]:
    """Versions of every library of a set; several where they differ by Python."""
    found: dict[str, set[str]] = {}
    for entry in re.split(r"\n(?=[a-z])", (ROOT / "hardware" / "locks" / f"{name}.txt").read_text(encoding="utf-8")):
        library, version = re.match(r"([a-z0-9._-]+)==([^ ;\\]+)", entry).groups()  # type: ignore[union-attr]
        assert "--hash=sha256:" in entry, library
        found.setdefault(library, set()).add(version)
    return found


@pytest.mark.parametrize("name", SETS)
def test_what_is_asked_for_is_locked_in_a_version_that_serves(name: str) -> None:
    have = locked(name)
    for line in SETS[name]:
        wanted = Requirement(line)
        versions = have[canonicalize_name(wanted.name)]
        assert all(wanted.specifier.contains(version) for version in versions), (line, versions)


@pytest.mark.parametrize("name", [name for name in SETS if name != "test"])
def test_every_set_has_the_versions_that_were_tested(name: str) -> None:
    tested = locked("test")
    for library, versions in locked(name).items():
        assert versions == tested.get(library, versions), library
