"""One person's voice: language, units, decimal mark and time zone, over an ordinary gettext catalogue."""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from io import BytesIO, StringIO

import pytest
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from core.errors import NotAvailableError
from core.said import Angle, Length, Name, Number, Part, Series, Size, Time, said, said_counted, said_in
from ui.speech import language, speech
from ui.speech.language import Language
from ui.speech.notation import AngleStyle, DecimalMark, LengthUnit, Notation
from ui.speech.speech import Speech

INCHES = Notation(lengths=LengthUnit.INCH, angles=AngleStyle.DMS)
COMMA = Notation(mark=DecimalMark.COMMA)
BERLIN_IN_WINTER = timezone(timedelta(hours=1), "CET")
NEW_YEAR = datetime(2026, 12, 31, 23, 30, tzinfo=UTC)
CATALOGUE = """
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"

msgid "Move the {end} end by {move}."
msgstr "Das {end} Ende um {move} bewegen."

msgid "Machine: {machine}."
msgstr "Maschine: {machine}."

msgid "{count} coupon"
msgid_plural "{count} coupons"
msgstr[0] "{count} Probestück"
msgstr[1] "{count} Probestücke"

msgctxt "end"
msgid "left"
msgstr "linke"

msgid "left"
msgstr "links"

msgctxt "dat"
msgid "left"
msgstr "linken"

msgid "at the {end} end"
msgstr "am {end:dat} Ende"
"""


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> Iterator[Speech]:
    made = BytesIO()
    write_mo(made, read_po(StringIO(CATALOGUE)))
    translations = gettext.GNUTranslations(BytesIO(made.getvalue()))
    translations.add_fallback(language._Unknown())
    monkeypatch.setattr(speech, "catalogue_of", lambda _language: translations)
    return Speech(language=Language.GERMAN, notation=COMMA, zone=UTC)


@pytest.mark.parametrize(
    ("part", "text"),
    [
        # 25.4 mm to the inch, exactly (ISO 31-1, annex).
        (Length(25.4), "1.0000 in"),
        (Length(-3.9, u_mm=0.71), "−0.1535 ± 0.0280 in"),
        (Length(0.8, decimals=None), "0.0315 in"),
        (Length(127.0, decimals=None, unit=False), "5"),
        (Length(0.02, signed=True), "+0.0008 in"),
        (Length(-0.00001), "0.0000 in"),
        (Size(120, 80), "4.7244 x 3.1496 in"),
        # 60 minutes of 60 seconds (BIPM, SI brochure, table 8).
        (Angle(89.6), "89°36′00″"),
        (Angle(-0.2083, u_deg=0.05), "−0°12′30″ ± 0°03′00″"),
        (Angle(0.5, decimals=1, signed=True), "+0°30′"),
        (Angle(90.0, decimals=None), "90°"),
        (Angle(89.5, decimals=None), "89°30′"),
        (Angle(-0.0001, decimals=1), "0°00′"),
        (Number(12.5, sign="%"), "12.5 %"),
        (Time(NEW_YEAR), "2027-01-01 00:30"),
        (Time(NEW_YEAR, clock=False), "2027-01-01"),
        (Time(None), "(clock not set)"),
    ],
)
def test_quantities_in_inches_minutes_and_local_time(part: Part, text: str) -> None:
    assert Speech(notation=INCHES, zone=BERLIN_IN_WINTER).say(part) == text


def test_a_zone_of_none_is_the_computers_own() -> None:
    assert Speech().say(Time(NEW_YEAR)) == NEW_YEAR.astimezone().strftime("%Y-%m-%d %H:%M")


def test_a_comma_and_a_space_that_does_not_break() -> None:
    spoken = Speech(notation=COMMA).in_type
    assert spoken.say(Length(-3.9, u_mm=0.71)) == "−3,90 ±\u00a00,71\u00a0mm"
    assert spoken.say(Number(0.4, sign="Hz")) == "0,4\u00a0Hz"


def test_a_sentence_with_its_parts(german: Speech) -> None:
    move = said("Move the {end} end by {move}.", end=said_in("end", "left"), move=Length(3.9))
    assert german.say(move) == "Das linke Ende um 3,90 mm bewegen."
    assert german.say(said("left")) == "links"


def test_a_translation_asks_for_a_case(german: Speech) -> None:
    assert german.say(said("at the {end} end", end=said("left"))) == "am linken Ende"
    assert german.say(said("at the {end} end", end=said_in("end", "left"))) == "am linken Ende"


def test_plural_forms(german: Speech) -> None:
    spoken = [german.say(said_counted("{count} coupon", "{count} coupons", count=n)) for n in (0, 1, 2)]
    assert spoken == ["0 Probestücke", "1 Probestück", "2 Probestücke"]


@pytest.mark.parametrize("name", ["left", "Left", "{end}", "3 mm", "slipped. No, Left of 3 mm edge", "2.5"])
def test_a_name_is_shown_letter_for_letter(german: Speech, name: str) -> None:
    assert german.say(said("Machine: {machine}.", machine=Name(name))) == f"Maschine: {name}."


def test_what_the_catalogue_lacks_is_english_as_a_whole(german: Speech) -> None:
    unknown = said("Last {where} of {size}", where=said("left"), size=Length(3.9))
    assert german.say(unknown) == "Last left of 3,90 mm"
    # A sentence within a sentence is part of it; one after the other they stand alone.
    assert german.say(said("Machine: {machine}.", machine=unknown)) == "Machine: Last left of 3,90 mm."
    assert german.say(Series((unknown, said("left")))) == "Last left of 3,90 mm links"


def test_a_missing_catalogue_is_an_error(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    monkeypatch.setattr(language, "LOCALE", tmp_path)
    language.catalogue_of.cache_clear()
    with pytest.raises(NotAvailableError, match=r"de\.mo is missing or damaged"):
        Speech(language=Language.GERMAN).say(said("left"))
    (tmp_path / "de.mo").write_bytes(b"no catalogue")
    with pytest.raises(NotAvailableError, match=r"de\.mo is missing or damaged"):
        Speech(language=Language.GERMAN).say(said("left"))
    language.catalogue_of.cache_clear()


def test_a_sign_before_a_number_stays_at_it_where_lines_are_broken() -> None:
    limit = said("edges ± {limit}", limit=Length(0.3))
    assert Speech().in_type.say(limit) == "edges ±\u00a00.30\u00a0mm"
    assert Speech().say(limit) == "edges ± 0.30 mm"
