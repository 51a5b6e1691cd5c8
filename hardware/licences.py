"""Licences: what every library the bench runs on states of itself, and whether its text travels along.

Stage: the maker's computer. Input: metadata of installed libraries, or wheels. Output: the table of README.md
(`python -m hardware.licences` prints it), and the wheels whose licence text would not travel. A text that a library's
own wheel leaves out is carried in this package as `NAME-LICENSE.txt`. Source: Python packaging, core metadata 2.4.
"""

import re
import tomllib
import zipfile
from collections.abc import Iterable, Sequence
from email.message import Message
from email.parser import Parser
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
_CARRIED = Path(__file__).parent
_TEXT = re.compile(r"licen[cs]e|copying|notice", re.IGNORECASE)
_NAME = re.compile(r"^[A-Za-z0-9][A-Za-z0-9._-]*")
_LONGEST_NAME = 60  # some put the whole text where its name belongs
_FROM_CLASSIFIER = "License :: "


def canonical(name: str) -> str:
    """A library's name as indexes compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def stated(about: Message | metadata.PackageMetadata) -> str:
    """The licence that a library's metadata states: as expression, by name, or by classifier; empty for none."""
    fields = dict.fromkeys(("License-Expression", "License"), "") | {key: about[key] for key in about if about[key]}
    by_name = fields["License-Expression"] or fields["License"]
    if by_name and "\n" not in by_name and len(by_name) <= _LONGEST_NAME:
        return by_name.strip()
    found = [line for line in about.get_all("Classifier") or [] if line.startswith(_FROM_CLASSIFIER)]
    return ", ".join(line.rpartition(" :: ")[2].removesuffix(" License") for line in found)


def libraries(root: Path = ROOT) -> list[metadata.Distribution]:
    """Every library that the program needs to run and that is installed here, and what those need in turn."""
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    waiting = [*project["dependencies"], *project["optional-dependencies"]["pi"]]
    found: dict[str, metadata.Distribution | None] = {}
    while waiting:
        needed, _, condition = waiting.pop().partition(";")
        name = _NAME.match(needed.strip())
        if name is None or "extra" in condition or canonical(name[0]) in found:
            continue
        try:
            library = metadata.distribution(name[0])
        except metadata.PackageNotFoundError:
            found[canonical(name[0])] = None  # of another platform or Python
            continue
        found[canonical(name[0])] = library
        waiting += library.requires or []
    return sorted((one for one in found.values() if one is not None), key=lambda one: canonical(one.name))


def table(of: Iterable[metadata.Distribution]) -> list[str]:
    """The rows of README.md: a licence, and the libraries that state it."""
    by_licence: dict[str, list[str]] = {}
    for library in of:
        by_licence.setdefault(stated(library.metadata) or "none stated", []).append(library.name)
    return [f"| {licence} | {', '.join(names)} |" for licence, names in sorted(by_licence.items())]


def has_text(name: str, files: Iterable[str]) -> bool:
    """Whether a library's licence text travels: among its own files, or carried in this package."""
    own = any(_TEXT.search(Path(file).name) for file in files if ".dist-info/" in file)
    return own or (_CARRIED / f"{canonical(name)}-LICENSE.txt").is_file()


def without_text(wheels: Sequence[Path]) -> list[str]:
    """Names of the wheels whose licence text nobody carries."""
    missing = []
    for wheel in wheels:
        with zipfile.ZipFile(wheel) as archive:
            files = archive.namelist()
            (about,) = [file for file in files if file.endswith(".dist-info/METADATA")]
            name = Parser().parsestr(archive.read(about).decode("utf-8"))["Name"]
        if not has_text(name, files):
            missing.append(wheel.name)
    return missing


if __name__ == "__main__":
    print("\n".join(table(libraries())))
