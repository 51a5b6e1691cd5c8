"""The page of one coupon: its word, its shape to be touched, what was read, what was done to its machine.

Input: a SessionRecord. Output: one HTML text. What it says is what the report says: the same sentences, the same rows.
"""

from msgspec import Struct

from core.machine import in_one_order
from core.machine.log_words import log_words
from core.metrology import GROUP_WORD, GROUPS, VERDICT_WORD, groups_of, lamp_of, told_word
from core.records import report_rows
from core.records.browser.drawing import Drawing, anchor_of, drawing_of
from core.records.browser.rendering import rendered
from core.records.session_record import SessionRecord
from core.said import NOTHING, PLAIN, Name, Part, Size, Time, Voice, said

_HEADS = {
    "move": said("From the verdict to the machine"),
    "shape": said("The true shape"),
    "touch": said("Touch an edge, a diagonal or a corner: its readings stand in the table below."),
    "before": said("Before and after"),
    "facts": said("What was measured, and with what"),
}


_JUDGED = (
    said("Characteristic"),
    said("Nominal"),
    said("Limits"),
    said("Best fit"),
    said("U (95 %)"),
    said("Unit"),
    said("Verdict"),
)
_READ = (
    said("Feature"),
    said("Count"),
    said("Mean"),
    said("Best fit"),
    said("Residual"),
    said("Standardised"),
    said("Smallest error that would show"),
    said("Unit"),
)
_DONE = (said("When"), said("What"))
_MOST_ENTRIES = 100


class Lamp(Struct, frozen=True, kw_only=True):
    """A word with the class of its colour and shape."""

    kind: str
    name: Part
    word: Part


class Row(Struct, frozen=True, kw_only=True):
    """A row of a table; `anchor` is where the drawing leads, `kind` and `word` a verdict at its end (may be empty)."""

    cells: tuple[Part, ...]
    anchor: str = ""
    kind: str = ""
    word: Part = NOTHING


class Table(Struct, frozen=True, kw_only=True):
    """`numbers` are the columns that stand to the right."""

    name: Part
    heads: tuple[Part, ...]
    numbers: tuple[int, ...]
    rows: tuple[Row, ...]


class _Page(Struct, frozen=True, kw_only=True):
    title: Part
    about: Part
    stamp: Part | None
    foot: Part
    lamp: Lamp
    groups: tuple[Lamp, ...]
    sentences: tuple[Part, ...]
    move: tuple[Part, ...]
    drawing: Drawing
    characteristics: Table
    readings: Table
    before: tuple[Part, ...]
    log: Table
    facts: tuple[tuple[Part, Part], ...]
    heads: dict[str, Part]


def coupon_page(record: SessionRecord, voice: Voice = PLAIN) -> str:
    """The page in this voice; the same record gives the same text."""
    opened = record.session.opened
    coupon = opened.coupon
    page = _Page(
        title=said("Coupon {size}", size=Size(coupon.width_mm, coupon.height_mm)),
        about=Name(opened.machine) if opened.machine else said("no machine named"),
        stamp=said("SIMULATED") if opened.simulated else None,
        foot=said("Made by Cornerwise. Nothing on this page leaves it; what was measured stands in session.json."),
        lamp=_headline(record),
        groups=_groups(record),
        sentences=report_rows.sentences(record),
        move=(report_rows.correction_text(record),),
        drawing=drawing_of(record),
        characteristics=_characteristics(record),
        readings=_readings(record),
        before=(report_rows.before_text(record),),
        log=_log(record),
        facts=_facts(record),
        heads=dict(_HEADS),
    )
    return rendered("coupon.html.j2", voice, page=page)


def _headline(record: SessionRecord) -> Lamp:
    evaluation = record.evaluation
    return Lamp(
        kind=lamp_of(evaluation.verdict, evaluation.settled).value,
        word=VERDICT_WORD[evaluation.verdict],
        name=groups_of(evaluation),
    )


def _groups(record: SessionRecord) -> tuple[Lamp, ...]:
    lamps = []
    for group in GROUPS:
        found = record.evaluation.group(group)
        kind = lamp_of(found.verdict, found.settled).value if found.asked else "none"
        word: Part = told_word(found) if found.asked else said("not measured")
        lamps.append(Lamp(kind=kind, name=GROUP_WORD[group], word=word))
    return tuple(lamps)


def _characteristics(record: SessionRecord) -> Table:
    rows = []
    for row in report_rows.characteristic_rows(record):
        cells = (row.label, row.nominal, row.limits, row.value, row.u95, Name(row.unit))
        word: Part = VERDICT_WORD[row.verdict] if row.verdict else said("information")
        rows.append(Row(cells=cells, kind=row.verdict.value if row.verdict else "none", word=word))
    return Table(name=said("What was judged"), heads=_JUDGED, numbers=(1, 2, 3, 4), rows=tuple(rows))


def _readings(record: SessionRecord) -> Table:
    rows = report_rows.reading_rows(record)
    features = [item.feature for item in record.evaluation.adjustment.readings]
    return Table(
        name=said("What was read"),
        heads=_READ,
        numbers=(1, 2, 3, 4, 5, 6),
        rows=tuple(
            Row(
                cells=(
                    row.label, row.count, row.mean, row.best_fit, row.residual, row.standardised, row.detectable,
                    Name(row.unit),
                ),
                anchor=anchor_of(feature),
            )
            for row, feature in zip(rows, features, strict=True)
        ),
    )  # fmt: skip


def _log(record: SessionRecord) -> Table:
    """What was done to the machine, the newest first."""
    elsewhere = (
        [(entry, said("{what} (at {bench})", what=words, bench=Name(bench))) for entry, words in log_words(log)]
        for bench, log in record.logged_elsewhere
    )
    in_its_order = in_one_order(lambda line: line[0].time_utc, log_words(record.machine_log), *elsewhere)
    rows = tuple(Row(cells=(Time(entry.time_utc), words)) for entry, words in reversed(in_its_order[-_MOST_ENTRIES:]))
    return Table(name=said("What was done to the machine"), heads=_DONE, numbers=(), rows=rows)


def _facts(record: SessionRecord) -> tuple[tuple[Part, Part], ...]:
    """Those of the report; what a person gave stays letter for letter."""
    return (*report_rows.facts(record), *report_rows.method_facts(record))
