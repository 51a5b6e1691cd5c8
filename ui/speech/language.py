"""The languages of the bench, and the catalogue of each.

Stage: the last edge before the screen. Input: a language. Output: its messages, as gettext answers them. Source: GNU
gettext message catalogues, read by Python's gettext.
"""

import gettext
from enum import StrEnum
from functools import lru_cache
from pathlib import Path

from core.errors import NotAvailableError
from core.said import Name, said

LOCALE = Path(__file__).parent / "locale"


class Language(StrEnum):
    """English needs no catalogue: it is what everything is worded in."""

    ENGLISH = "en"
    GERMAN = "de"


class _Unknown(gettext.NullTranslations):
    """Answers for what the catalogue does not have."""

    def gettext(self, message: str) -> str:
        """Nothing."""
        return ""

    def pgettext(self, context: str, message: str) -> str:
        """Nothing."""
        return ""

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """Nothing."""
        return ""

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        """Nothing."""
        return ""


@lru_cache
def catalogue_of(language: Language) -> gettext.NullTranslations:
    """What was translated, made by the package's build; raises NotAvailableError where it is missing. A message that
    is not in it is answered with nothing."""
    if language is Language.ENGLISH:
        return _Unknown()
    try:
        with (LOCALE / f"{language}.mo").open("rb") as file:
            catalogue = gettext.GNUTranslations(file)
    except (OSError, ValueError, UnicodeDecodeError) as exc:
        raise NotAvailableError(
            said("the catalogue {file} is missing or damaged: install the program anew", file=Name(f"{language}.mo"))
        ) from exc
    catalogue.add_fallback(_Unknown())
    return catalogue
