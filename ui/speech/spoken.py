"""A number as it is read out, figure by figure: for ears under hearing protection, and eyes that are on the jaws.

Input: the figures of a value as they are shown, and the language. Output: the words, one a figure. German says Komma
and English point, whichever mark is shown.
"""

from ui.speech.language import Language

_FIGURES = {
    Language.ENGLISH: ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    Language.GERMAN: ("null", "eins", "zwei", "drei", "vier", "fünf", "sechs", "sieben", "acht", "neun"),
}
_SIGNS = {
    Language.ENGLISH: {".": "point", "−": "minus", "°": "degrees", "′": "minutes", "″": "seconds"},
    Language.GERMAN: {".": "Komma", "−": "minus", "°": "Grad", "′": "Minuten", "″": "Sekunden"},
}


def spoken(figures: str, language: Language) -> tuple[str, ...]:
    """The words for '119.85': one, one, nine, point, eight, five. What has no word is passed over."""
    words = dict(zip("0123456789", _FIGURES[language], strict=True)) | _SIGNS[language]
    words[","] = words["."]
    return tuple(words[sign] for sign in figures if sign in words)
