"""The trade's words: each stands where people read, and the word it took the place of stands nowhere any more.

People read the catalogue's messages in both languages, README.md, and what every command says of itself. Words that are
typed (`bed-map`, `diagnose tapered`) and names in stored events keep their old spelling.
"""

from __future__ import annotations

import contextlib
import re
from functools import cache
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from ui.command_line import cli

SLOT = re.compile(r"\{[^{}]*\}")  # its name is not shown
TYPED = re.compile(r"(?:cornerwise )?bed-map|\btapered\b|taper_[xy]")
# What people are told, and what it was called.
ENGLISH = {
    "opposite edges unequal": r"\btaper",
    "temperature": r"\bwarmth\b",
    "bevel protractor": r"\bblade gauge|: blade$",
    "inclinometer": r"\btilt gauge",
    "squareness {": r"(?<!chi-)\bsquare (?:\{|\d)",
    "reversal check": r"\bflip",
    "smallest error that would show": r"misreading seen from",
    "offset between the home switches": r"squaring offset",
    "squareness compensation": r"skew factor",
    "skew over the bed": r"\bbed map",
    "squared to its frame": r"\bend-stop\b|\bone-gap\b|\bsetting-blocks\b",
}
GERMAN = {
    "Kollision": r"[Aa]nstoß|[Aa]ngestoßen",
    "Schiefe über den Tisch": r"Bettkarte|\b(?:das|des|dem) Betts?\b",
    "Umschlagprobe": r"\bUmschlag\b|[Kk]ippprobe",
    "trapezförmig": r"[Kk]onisch|Konizität",
    "Rechtwinkligkeitskompensation": r"Schiefe-Faktor|Schiefefaktor|Winkelkorrektur",
    "Eingriffsgrenzen": r"Regelgrenzen",
    "exponentiell gewichtete Mittelwert": r"[Gg]leitende[rn]? Mittel",
    "normiertes Residuum": r"Restabweichung|Restfehler",
    "Ausgleichung": r"[Bb]este Anpassung",
    "n. i. O.": r"^Nicht gut: \{\}",
    "Rechtwinkligkeit {": r"^Winkel \{|\bWinkel \d",
    "Ecke {": r"Winkel bei|Winkel aus Schiefe|minus Winkel|den (?:ganzen )?Winkel (?:selbst|zeigt)",
    "messen": r"\bablesen\b|(?:Wert|Werte|Ecken?|Kanten?|Diagonalen?) lesen\b",
    "Endmaß": r"[Kk]lotz|[Kk]lötze|Parallelstück messen|(?:metrische|zöllige)[ns] Parallelst",
    "Parallelstücke": r"Unterlegklötze",
    "Messschenkel": r"\bBacken?\b|(?<!langer )\bSchenkel",
    "Winkelmesser zeigt": r"(?<!Winkel)[Mm]esser zeigt",
    "Messmittelfähigkeitsuntersuchung": r"Messsystemstudie|Messmittelstudie",
    "verkantet": r"Portal verdreht|schief gezogen",
    "getrennt": r"ist weg\b|: WEG$|^WEG:",
    "veraltet": r"verstummt|\bstumm$|\bSTUMM\b",
    "niedrig": r"^tief$",
    "Gelesen und befolgt": r"Gelesen und getan",
    "Vor dem Hineingreifen": r"Hände hineingehen",
    "Temperatur am Messplatz": r"\bWärme\b(?! oder Feuchte)|wie warm",
    "greift die Maschine an": r"zerfrisst|frisst",
    "Ablesefehler": r"Fehllesung",
    "Anschlüsse": r"\bPorts\b",
    "plötzlich freiwerden": r"(?:Federn|Druckluft)[^.]* (?:ablassen|entspannen|lösen)",
    # One word for one thing.
    "Messung {": r"Sitzung",
    "Probestück": r"Prüfstück|Prüfling",
    "Messplatz": r"Werkbank|\b(?:das|diesem|dieses|am simulierten) Gerät\b",
    "Messmittel": r"Messgerät",
    "Zeichnung": r"\bEntw[uü]rf",
    "Passblech": r"\bBeilagen?\b",
    "Verbindungswelle": r"Querwelle",
    "gewendet": r"umgedreht",
    "gesichert": r"\bentschieden\b",
    "Schnittbreite": r"Schnittfuge|Schnittspalt",
    "nachgewiesen": r"\berwiesen\b",
    "Maße: nicht gemessen": r"Größe: nicht gemessen",
    "Gegenprobe": r"\bZeuge\b",
    "zu sich heran": r"\bNACH VORN\b|\bNACH HINTEN\b",  # forwards is away from whoever pushes
}


@cache
def catalogue() -> tuple[tuple[str, str], ...]:
    """Every message and what German says: plural forms one by one."""
    with Path("ui/speech/locale/de.po").open("rb") as file:
        messages = [message for message in read_po(file) if message.id]
    pairs: list[tuple[str, str]] = []
    for message in messages:
        ids = message.id if isinstance(message.id, tuple) else (message.id,)
        strings = message.string if isinstance(message.string, tuple) else (message.string,)
        pairs += zip(ids, strings, strict=True)
    return tuple(pairs)


@cache
def read_by_people() -> tuple[str, ...]:
    """README.md and the catalogue's English."""
    return (Path("README.md").read_text(encoding="utf-8"), *(english for english, _ in catalogue()))


def helps(capsys: pytest.CaptureFixture[str]) -> str:
    """What the program and every command say of themselves."""

    def of(*arguments: str) -> str:
        with contextlib.suppress(SystemExit):
            cli.main((*arguments, "--help"))
        return capsys.readouterr().out

    every = of()
    commands = re.findall(r"^    ([a-z-]+) ", every.partition("commands:")[2], re.MULTILINE)
    assert {"evaluate", "coupon", "bed-map"} <= set(commands)
    return "\n".join([every, *map(of, commands)])


@pytest.mark.parametrize("word", ENGLISH)
def test_the_trades_words_in_english(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    texts = [SLOT.sub("{}", TYPED.sub("", " ".join(text.split()))) for text in (*read_by_people(), helps(capsys))]
    assert any(word in text.lower() for text in texts)
    old = re.compile(ENGLISH[word], re.IGNORECASE)
    left = [text[max(found.start() - 40, 0) : found.end() + 40] for text in texts if (found := old.search(text))]
    assert not left


@pytest.mark.parametrize("word", GERMAN)
def test_the_trades_words_in_german(word: str) -> None:
    said = [german for _, german in catalogue()]
    assert any(word.lower() in german.lower() for german in said)
    left = [german for german in said if re.search(GERMAN[word], german)]
    assert not left
