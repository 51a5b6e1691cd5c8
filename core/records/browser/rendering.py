"""From a page's values to its HTML: the one place that knows the template library.

Input: a template's name and frozen values. Output: one HTML text. Everything that is shown passes the escaping of the
template library, names of people and files most of all; a page asks for nothing outside of itself and says so
(Content-Security-Policy), its one script known by its hash.
"""

import base64
import hashlib
from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from core.said import Voice, worded

TEMPLATES = Path(__file__).parent / "templates"


def rendered(template: str, voice: Voice, **values: object) -> str:
    """The page in this voice."""
    script = _text("page.js")
    return (
        _environment()
        .get_template(template)
        .render(
            say=lambda what: worded(what, voice),
            language=voice.language,
            style=Markup(_text("page.css")),
            script=Markup(script),
            script_hash=base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii"),
            **values,
        )
    )


@lru_cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@lru_cache
def _text(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")
