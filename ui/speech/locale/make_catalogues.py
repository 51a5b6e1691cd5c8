"""Make the .mo of every .po: `python -m ui.speech.locale.make_catalogues`, after one was changed. Needs Babel."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

FOLDER = Path(__file__).parent


def made(catalogue: Path) -> bytes:
    """The content of the .mo that belongs to a .po."""
    with catalogue.open("rb") as file:
        messages = read_po(file)
    content = BytesIO()
    write_mo(content, messages)
    return content.getvalue()


if __name__ == "__main__":
    for path in FOLDER.glob("*.po"):
        path.with_suffix(".mo").write_bytes(made(path))
