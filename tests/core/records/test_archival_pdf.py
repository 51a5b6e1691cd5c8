"""What is printed can be kept and read aloud: archival form by a validator that is not ours, tags, title and language.

The validator is the preflight of Debian's libpdfbox2-java, for ISO 19005-1 level B, run in a machine of Java; it said
of the files before they were written so: colours of no known space, a page that is transparent, no metadata.
"""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pypdf
import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.seats import keyed_seats
from core.records.coupon_card import coupon_card
from core.records.export import files_of
from core.records.session_record import SessionRecord
from core.said import PLAIN, Voice
from ui.speech.language import Language
from ui.state.settings import Settings

JARS = ("preflight", "xmpbox", "pdfbox2", "fontbox2", "commons-logging", "javax.activation", "jaxb-api")
CLASS_PATH = [Path("/usr/share/java") / f"{name}.jar" for name in JARS]
GERMAN = Settings(language=Language.GERMAN).speech.on_paper
KINDS = ("report", "report-not-simulated", "card")


def printed(kind: str, record: SessionRecord, voice: Voice) -> bytes:
    if kind == "card":
        return coupon_card(Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0)), voice)
    simulated = kind == "report"
    opened = replace(record.session.opened, simulated=simulated, machine='router <A&B> "1"')
    return files_of(replace(record, session=replace(record.session, opened=opened)), voice)["report.pdf"]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("voice", [PLAIN, GERMAN], ids=["english", "german"])
def test_a_validator_of_others_finds_the_archival_form(
    kind: str, voice: Voice, record: SessionRecord, tmp_path: Path
) -> None:
    if missing := [str(jar) for jar in CLASS_PATH if not jar.exists()]:
        pytest.skip(f"no validator: {missing[0]} (apt-get install libpdfbox2-java libactivation-java libjaxb-api-java)")
    java = shutil.which("java")
    if java is None:
        pytest.skip("no validator: java is missing (apt-get install default-jre-headless)")
    file = tmp_path / "printed.pdf"
    file.write_bytes(printed(kind, record, voice))
    path = ":".join(map(str, CLASS_PATH))
    command = [java, "-cp", path, "org.apache.pdfbox.preflight.Validator_A1b", str(file)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, "is a valid PDF/A-1b file" in done.stdout) == (0, True), done.stdout + done.stderr


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("voice", [PLAIN, GERMAN], ids=["english", "german"])
def test_it_has_a_title_a_language_and_an_order_of_reading(kind: str, voice: Voice, record: SessionRecord) -> None:
    reader = pypdf.PdfReader(io.BytesIO(printed(kind, record, voice)))
    catalog = reader.trailer["/Root"]
    assert catalog["/Lang"] == voice.language
    assert catalog["/MarkInfo"]["/Marked"] is True or str(catalog["/MarkInfo"]["/Marked"]).lower() == "true"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.xmp_metadata is not None
    title = (reader.xmp_metadata.dc_title or {})["x-default"]
    assert ("120 x 80 mm" if kind == "card" else record.id) in title
    assert reader.xmp_metadata.dc_language == [voice.language]
    elements = elements_of(reader)
    kinds = [str(element["/S"]) for element in elements]
    assert kinds[0] == "/H1"
    assert set(kinds) == {"/H1", "/P", "/Figure", "/Table"}
    assert all(element.get("/Alt") for element in elements if element["/S"] == "/Figure")


def elements_of(holder: pypdf.PdfReader | pypdf.generic.DictionaryObject) -> list[pypdf.generic.DictionaryObject]:
    """What stands directly in the document, or in an element."""
    if isinstance(holder, pypdf.PdfReader):
        holder = holder.trailer["/Root"]["/StructTreeRoot"]["/K"][0].get_object()
    kids = [kid.get_object() for kid in holder["/K"]]
    return [kid for kid in kids if isinstance(kid, pypdf.generic.DictionaryObject)]


@pytest.mark.parametrize("kind", KINDS)
def test_its_tables_are_rows_of_cells_each_with_its_heads(kind: str, record: SessionRecord) -> None:
    reader = pypdf.PdfReader(io.BytesIO(printed(kind, record, PLAIN)))
    tables = [element for element in elements_of(reader) if element["/S"] == "/Table"]
    assert len(tables) == (1 if kind == "card" else 5)
    for table in tables:
        rows = elements_of(table)
        assert {row["/S"] for row in rows} == {"/TR"}
        cells = [elements_of(row) for row in rows]
        scopes = [[cell["/A"]["/Scope"] if cell["/S"] == "/TH" else cell["/S"] for cell in row] for row in cells]
        width = len(scopes[0])
        heads = scopes[0] == ["/Column"] * width
        assert all(row == ["/Row"] + ["/TD"] * (width - 1) for row in scopes[heads:]), scopes
        assert all(parent_of(cell) == row for row, group in zip(rows, cells, strict=True) for cell in group)


def parent_of(element: pypdf.generic.DictionaryObject) -> pypdf.generic.PdfObject | None:
    return element["/P"].get_object()


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_on_a_page_leads_back_to_its_element(kind: str, record: SessionRecord) -> None:
    """The parent tree: the number of a piece on its page is its place in the page's list (ISO 32000-1, 14.7.4.4)."""
    reader = pypdf.PdfReader(io.BytesIO(printed(kind, record, PLAIN)))
    numbers = reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    lists = dict(zip(numbers[0::2], numbers[1::2], strict=True))
    for page in reader.pages:
        content = pypdf.generic.ContentStream(page.get_contents(), page.pdf)
        begun = [operands for operands, operator in content.operations if operator == b"BDC"]
        pieces = [reference.get_object() for reference in lists[page["/StructParents"]]]
        assert [operands[1]["/MCID"] for operands in begun] == list(range(len(pieces)))
        assert [operands[0] for operands in begun] == [piece["/S"] for piece in pieces]
        assert all(piece["/K"] == [number] for number, piece in enumerate(pieces))
        assert {piece.raw_get("/Pg") for piece in pieces} == {page.indirect_reference}


def test_words_do_not_run_together_where_a_line_is_broken(record: SessionRecord, tmp_path: Path) -> None:
    """By poppler's reader, which takes the words of an element as they are written one after the other."""
    reader = shutil.which("pdfinfo")
    if reader is None:
        pytest.skip("no reader of others: pdfinfo is missing (apt-get install poppler-utils)")
    file = tmp_path / "printed.pdf"
    file.write_bytes(printed("report", record, PLAIN))
    told = subprocess.run([reader, "-struct-text", str(file)], capture_output=True, text=True, check=True).stdout
    assert "by more than the measuring can explain" in told
    assert "TH:" in told


@pytest.mark.parametrize("kind", KINDS)
def test_every_word_has_its_place_in_that_order_but_the_stamp(kind: str, record: SessionRecord) -> None:
    """Outside of marked content stands no text, and nothing is drawn that is neither an element nor an artifact."""
    for page in pypdf.PdfReader(io.BytesIO(printed(kind, record, PLAIN))).pages:
        content = page.get_contents()
        assert content is not None
        depth = 0
        for _operands, operator in pypdf.generic.ContentStream(content, page.pdf).operations:
            depth += {b"BDC": 1, b"BMC": 1, b"EMC": -1}.get(operator, 0)
            assert depth in (0, 1), "no element within another"
            shows = operator in {b"Tj", b"TJ", b"f", b"F", b"S", b"s", b"B", b"b", b"f*", b"B*"}
            assert depth == 1 or not shows, operator
        assert depth == 0
