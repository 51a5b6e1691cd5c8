"""The message catalogues, by Babel: what the source says, what is translated of it, and the .mo that the program reads.

    python -m ui.speech.locale.catalogues     extract from the source, update every .po, compile every .mo

A new message stands in the .po with an empty msgstr; one that nothing says any more is dropped, but not the forms of
one that is said (`{end:dat}` in a translation asks for the context `dat`). The package's build
compiles them as well (`BuildWithCatalogues`, named in pyproject.toml), so this module imports nothing of ours.
"""

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, Any

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_python
from babel.messages.frontend import CommandLineInterface
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from setuptools.command.build_py import build_py

FOLDER = Path(__file__).parent
ROOT = FOLDER.parents[2]
KEYWORDS = ("said:1", "said_counted:1,2", "said_in:1c,2")


def extracted() -> Catalog:
    """Every message of the source, by Babel's own command."""
    with TemporaryDirectory() as folder:
        template = Path(folder) / "messages.pot"
        options = ["--no-default-keywords", "--no-wrap", "--omit-header", f"--mapping-file={FOLDER / 'mapping.cfg'}"]
        options += [f"--keywords={keyword}" for keyword in KEYWORDS]
        options += [f"--output-file={template}", str(ROOT)]
        CommandLineInterface().run(["pybabel", "--quiet", "extract", *options])  # type: ignore[no-untyped-call]
        return _read(template)


def extract_layout(file: IO[bytes], keywords: Any, tags: Any, options: Any) -> Iterator[tuple[int, Any, Any, Any]]:
    """Babel's extractor for .kv: each binding is a line of Python."""
    for number, line in enumerate(file, start=1):
        if b"said" in line:
            for _, function, messages, comments in extract_python(BytesIO(line.strip()), keywords, tags, options):
                yield number, function, messages, comments


def updated(catalogue: Path, template: Catalog) -> Catalog:
    """A .po as it is with what the source says now; translations stay, nothing is guessed."""
    kept = _read(catalogue)
    asked_for = {form for message in kept for form in re.findall(r"\{\w+:(\w+)\}", str(message.string))}
    said_now = {message.id for message in template}
    forms = [message for message in kept if message.context in asked_for and message.id in said_now]
    kept.update(template, no_fuzzy_matching=True)
    kept.obsolete.clear()
    for form in forms:
        kept[form.id] = form
    return kept


def compiled(catalogue: Path) -> bytes:
    """The content of the .mo that belongs to a .po."""
    content = BytesIO()
    write_mo(content, _read(catalogue))
    return content.getvalue()


def compile_into(folder: Path) -> None:
    """Write the .mo of every .po."""
    folder.mkdir(parents=True, exist_ok=True)
    for catalogue in FOLDER.glob("*.po"):
        (folder / catalogue.name).with_suffix(".mo").write_bytes(compiled(catalogue))


class BuildWithCatalogues(build_py):  # type: ignore[misc]  # it ships no types
    """Wheel and package get the compiled catalogues; an installation in place has them beside the .po."""

    def run(self) -> None:
        """Build as ever, and compile."""
        super().run()
        compile_into(FOLDER if self.editable_mode else Path(self.build_lib) / FOLDER.relative_to(ROOT))


def _read(catalogue: Path) -> Catalog:
    with catalogue.open("rb") as file:
        return read_po(file)


if __name__ == "__main__":
    messages = extracted()
    for path in FOLDER.glob("*.po"):
        now = updated(path, messages)
        with path.open("wb") as file:
            write_po(file, now, width=0, no_location=True, sort_output=True)
    compile_into(FOLDER)
