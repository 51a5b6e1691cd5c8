"""A sentence some letters in from the margin, as a value: it is worded where it is printed."""

from core.said import Name, Part, Series, lines


def indented(what: Part, indent: str) -> Series:
    """The sentence behind `indent`: blanks, or a number that is typed to choose it."""
    return Series((Name(indent), what), joint="")


def listed(*sentences: Part) -> Series:
    """One below the other, a little to the right."""
    return lines(*(indented(sentence, "  ") for sentence in sentences))
