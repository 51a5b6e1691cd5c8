"""What is said is a value: parts stay what they are, names letter for letter, until a voice words them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from core.said import (
    NOTHING,
    Angle,
    Column,
    Length,
    Name,
    Number,
    Part,
    Said,
    Series,
    Size,
    Time,
    Voice,
    lines,
    paragraph,
    said,
    said_counted,
    said_in,
    time_on_the_wall,
    worded,
)


class Backwards(Voice):
    """A language of two messages that turns slots round and asks for a case."""

    def template(self, sentence: Said, context: str = "") -> str | None:
        known = {
            ("", "Move {end} by {move}."): "By {move} moves {end:dat}.",
            ("dat", "left"): "to-the-left",
            ("", "left"): "lefty",
        }
        return known.get((context, sentence.message), known.get(("", sentence.message)))

    def in_english(self) -> Voice:
        return Voice()


@pytest.mark.parametrize(
    ("part", "text"),
    [
        (Length(-3.9, u_mm=0.71), "−3.90 ± 0.71 mm"),
        (Length(-0.001), "0.00 mm"),
        (Length(0.5, signed=True, unit=False), "+0.50"),
        (Length(0.8, decimals=None), "0.8 mm"),
        (Angle(-0.35, u_deg=0.06), "−0.35 ± 0.06°"),
        (Number(12.5, sign="%"), "12.5 %"),
        (Size(120, 80), "120 x 80 mm"),
        (Time(datetime(2026, 11, 28, 1, 13, tzinfo=UTC)), "2026-11-28 01:13 UTC"),
        (Time(None), "(clock not set)"),
        (Name("Left of 3 mm {edge}"), "Left of 3 mm {edge}"),
        (Name("a\x1b[2J\u202e\nb"), r"a\x1b[2J\u202e\nb"),
    ],
)
def test_each_part_as_it_stands_in_the_source(part: Part, text: str) -> None:
    assert worded(part) == text


def test_a_sentence_is_worded_in_another_order_and_case() -> None:
    move = said("Move {end} by {move}.", end=said("left"), move=Length(1.0))
    assert str(move) == "Move left by 1.00 mm."
    assert worded(move, Backwards()) == "By 1.00 mm moves to-the-left."


def test_a_message_without_translation_is_english_as_a_whole() -> None:
    assert worded(said("Here is {end}.", end=said("left")), Backwards()) == "Here is left."


def test_a_count_chooses_its_form() -> None:
    assert [str(said_counted("{count} coupon", "{count} coupons", count=n)) for n in (0, 1, 2)] == [
        "0 coupons",
        "1 coupon",
        "2 coupons",
    ]


def test_sentences_in_a_row_leave_out_what_says_nothing() -> None:
    assert str(paragraph(said("One."), NOTHING, said("Two."))) == "One. Two."
    assert str(lines(NOTHING, said("One."))) == "One."
    assert not NOTHING
    assert not paragraph(NOTHING)


def test_a_bare_text_is_no_part() -> None:
    with pytest.raises(TypeError, match="say what it is"):
        said("Machine {machine}", machine="Left")  # type: ignore[arg-type]


def test_the_context_travels_with_the_message() -> None:
    assert said_in("side", "left") != said("left")
    assert said("{n} of 4", n=3).parts == (("n", Number(3, 0)),)


def test_the_day_is_said_once_where_two_moments_lie_on_one() -> None:
    begun, ended = datetime(2026, 11, 28, 23, 50, tzinfo=UTC), datetime(2026, 11, 29, 0, 10, tzinfo=UTC)
    assert worded(Time(ended, after=begun)) == "2026-11-29 00:10 UTC"
    assert worded(Time(ended, after=ended)) == "00:10 UTC"
    assert worded(Time(ended, clock=False, after=ended)) == "2026-11-29"


def test_whether_two_moments_lie_on_one_day_is_told_by_the_clock_on_the_wall() -> None:
    begun, ended = datetime(2026, 11, 28, 23, 50, tzinfo=UTC), datetime(2026, 11, 29, 0, 10, tzinfo=UTC)
    assert time_on_the_wall(Time(ended, after=begun), timezone(timedelta(hours=1)), "") == "01:10"


def test_what_is_wider_than_its_column_leaves_the_next_one_in_its_place() -> None:
    """A long label pushed value, limits and verdict of its row out of the table."""
    rows = [Series((Column(Name(label), 8), Name("0.01 mm")), joint="") for label in ("edge", "far too long")]
    assert [worded(row).split("\n") for row in rows] == [
        ["edge    0.01 mm"],
        ["far too long", "        0.01 mm"],
    ]


@pytest.mark.parametrize("hours", [-12, 14])
@pytest.mark.parametrize("at", [datetime.min, datetime.max])
def test_a_clock_that_is_wrong_by_millennia_is_shown(at: datetime, hours: int) -> None:
    """Such a moment is in the archive for good, and each history, report and page has to show it."""
    shown = time_on_the_wall(Time(at.replace(tzinfo=UTC)), timezone(timedelta(hours=hours)), "")
    assert shown.lstrip("0").startswith(("1-01-01 ", "9999-12-31 "))
