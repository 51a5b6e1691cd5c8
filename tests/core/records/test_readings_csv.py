"""Readings files: what people and spreadsheets write works, or gives one line that says where and what."""

import pytest
from hypothesis import given, strategies as st

from core.errors import BadInputError, ReadingsFileError
from core.geometry.features import Feature
from core.metrology.readings import Unit
from core.records.readings_csv import active, parse_readings, read_readings
from core.records.readings_csv_export import inert

HEADER = "feature,value,unit\n"
PLAIN = HEADER + "near,119.95,mm\nnl-fr,144.30,mm\nnl,89.7,deg\n"


def parse(text, encoding="utf-8"):
    return parse_readings(text.encode(encoding), "coupon.csv")


PLAIN_VALUES = [("near", 119.95), ("nl-fr", 144.30), ("nl", 89.7)]


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        PLAIN.rstrip("\n"),
        PLAIN.replace("\n", "\n\n"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace(",", "\t").replace(".", ","),
        PLAIN.replace(",", " , "),
        PLAIN.replace("near", "Near").replace("feature", "Feature").replace("nl,", "NL,"),
        "# a remark; with semicolons\n" + PLAIN,
        "  # another; indented\n" + PLAIN,
        PLAIN.replace("near,119.95,mm", '"near","119.95","mm"'),
        "unit,feature,value\nmm,near,119.95\nmm,nl-fr,144.3\n°,nl,89.7\n",
        PLAIN.replace("119.95,mm", f"{119.95 / 25.4!r},inch"),
        PLAIN.replace("119.95,mm", f"{119.95 / 25.4!r},in"),
        PLAIN.replace("119.95", "+119.95").replace("144.30", "1.443e2"),
    ],
)
def test_every_ordinary_way_of_writing_it_works(text):
    assert [(r.feature, pytest.approx(r.value)) for r in parse(text).readings] == PLAIN_VALUES


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_every_encoding_spreadsheets_write(encoding):
    text = HEADER.replace("unit", "unit,instrument") + "nl,89.7,°,Werkstatt-Lehre für Ecken\n"
    (reading,) = parse(text, encoding).readings
    assert (reading.value, reading.instrument) == (89.7, "Werkstatt-Lehre für Ecken")


def test_the_unit_it_was_written_in_is_kept():
    (reading,) = parse(HEADER + "near,4.7244,inch\n").readings
    assert (reading.value, reading.unit) == (pytest.approx(119.99976), Unit.INCH)


def test_repeated_lines_of_a_feature_are_repeats_and_lines_are_known():
    file = parse(HEADER + "\nnear,119.95,mm\nfar,119.9,mm\nnear,119.97,mm\n")
    assert file.lines == (3, 4, 5)
    assert file.line_of(Feature.FAR) == 4
    assert [reading.feature for reading in file.readings].count(Feature.NEAR) == 2


def test_instrument_and_time_are_optional():
    file = parse("feature,value,unit,instrument,time\nnear,119.95,mm,caliper 2,2026-03-01T09:30:00Z\nfar,120,mm,,\n")
    assert [reading.instrument for reading in file.readings] == ["caliper 2", ""]


def test_a_deviation_from_90_degrees_is_left_to_the_evaluation():
    assert parse(HEADER + "nl,-0.3,deg\n").readings[0].value == -0.3


def test_the_stamp_of_a_simulated_session_is_not_lost():
    assert parse("# SIMULATED: made by a simulated machine\n" + PLAIN).simulated
    assert not parse("# measured by hand\n" + PLAIN).simulated


def test_ten_thousand_lines():
    file = parse(HEADER + "near,119.95,mm\n" * 10_000)
    assert len(file.readings) == 10_000
    assert file.lines[-1] == 10_001


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("", 1, "column 'feature' is missing"),
        ("\n\n", 1, "column 'feature' is missing"),
        ("near,119.95,mm\n", 1, "column 'feature' is missing.*must read feature,value,unit"),
        ("feature,value\nnear,1\n", 1, "column 'unit' is missing"),
        ("feature,value,unit,value\n", 1, "column 'value' stands in the header more than once"),
        ("feature,value,unit,voided\nnear,119,mm,yes\n", 1, "unknown column 'voided'"),
        (HEADER + "near,119.9,mm\n" + HEADER + "far,119.9,mm\n", 3, "second time"),
        (HEADER, 0, "no readings"),
        (HEADER + "# nothing yet\n", 0, "no readings"),
        (HEADER + "near,119.9,mm\nnaer,119.9,mm\n", 3, "unknown feature 'naer'; did you mean 'near'"),
        (HEADER + "spindle,119.9,mm\n", 2, "unknown feature 'spindle'; it must be one of near, right"),
        (HEADER + "near,about 120,mm\n", 2, "near edge: 'about 120' is not a number"),
        (HEADER + "near,,mm\n", 2, "near edge: '' is not a number"),
        (HEADER + "near,nan,mm\n", 2, "'nan' is not a number"),
        (HEADER + "near,1_2,mm\n", 2, "'1_2' is not a number"),
        (HEADER + "near,119,95,mm\n", 2, "4 columns where the header has 3; for decimal commas"),
        (HEADER + 'near,"119,95",mm\n', 2, "'119,95' is not a number; for decimal commas"),
        (HEADER.replace(",", ";") + "near;1.119,95;mm\n", 2, "'1.119,95' is not a number"),
        (HEADER + "near,119.95\n", 2, "2 columns where the header has 3"),
        (HEADER + "near,119.95,cm\n", 2, "unit 'cm'; it must be mm, inch or deg"),
        (HEADER + "near,119.95,\n", 2, "unit ''; it must be"),
        (HEADER + "near,119.95,deg\n", 2, "unit 'deg' does not fit; it must be mm or inch"),
        (HEADER + "nl,89.9,mm\n", 2, "unit 'mm' does not fit; it must be deg"),
        (HEADER + "near,0,mm\n", 2, "a length must be more than 0"),
        (HEADER + "near,-119.9,mm\n", 2, "a length must be more than 0"),
        (HEADER + "near,1e9,mm\n", 2, "at most 8000 mm"),
        (HEADER + "nl,1000,deg\n", 2, "within 360 degrees"),
        (HEADER + 'near,"119.95,mm\n', 2, "cannot be read as CSV"),
        ("feature,value,unit,time\nnear,119.95,mm,yesterday\n", 2, "time 'yesterday'; it must be ISO 8601"),
    ],
)
def test_each_fault_is_one_line_with_file_and_line(text, line, what):
    with pytest.raises(ReadingsFileError, match=what) as caught:
        parse(text)
    assert caught.value.line == line
    assert str(caught.value).startswith(f"coupon.csv, line {line}: " if line else "coupon.csv: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("data", [b"\x00\x01\x02", b"\x89PNG\r\n\x1a\n\x00", b"feature,value,unit\nnear,\x81,mm"])
def test_what_is_no_text_is_refused(data):
    with pytest.raises(ReadingsFileError, match="not a text file"):
        parse_readings(data, "coupon.csv")


def test_a_file_that_is_not_there_or_a_folder(tmp_path):
    for path in (tmp_path / "missing.csv", tmp_path):
        with pytest.raises(BadInputError, match="cannot be read"):
            read_readings(path)


def test_a_file_names_itself(tmp_path):
    path = tmp_path / "coupon.csv"
    path.write_text(PLAIN)
    assert read_readings(path).file == str(path)


_WORDS = ["feature", "near", "nl", "120", "89,9", "mm", "deg", "inch"]
_PIECES = st.sampled_from([*_WORDS, *'-,;"#é\t\n\r \0'])


@given(st.one_of(st.binary(max_size=200), st.lists(_PIECES, max_size=60).map(lambda parts: "".join(parts).encode())))
def test_whatever_the_bytes_there_are_readings_or_one_line(data):
    for content in (data, HEADER.encode() + data):
        try:
            readings = parse_readings(content, "any.csv").readings
        except ReadingsFileError as error:
            said = str(error)
        else:
            said = "readings" if readings else ""
        assert said
        assert "\n" not in said


@pytest.mark.parametrize("name", ["=1+1", "+cmd", "-2", "@SUM(A1)", "caliper", "'quoted", "'=twice", ""])
def test_an_instrument_s_name_is_no_formula_and_comes_back(name: str) -> None:
    """OWASP, "CSV Injection": no field may begin with = + - @ tab or carriage return."""
    written = inert(name)
    assert not written.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert active(written) == name or name == "'=twice"
