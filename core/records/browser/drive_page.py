"""The page of many coupons: a list to filter, a chart for every machine, each coupon's own page one touch away.

Input: the sessions of an archive and what their machines' histories say. Output: one HTML text.
"""

from collections.abc import Collection, Mapping, Sequence

from msgspec import Struct

from core.machine import Trended
from core.metrology import VERDICT_WORD, Verdict
from core.records.browser import FOLDER, PAGE_FILE
from core.records.browser.chart import Chart, skew_chart
from core.records.browser.rendering import rendered
from core.records.browser.shelf import ChartedMachine, Shelf
from core.records.session_id import folder_name
from core.records.session_tables import SessionSummary
from core.said import NOTHING, PLAIN, Angle, Name, Part, Said, Size, Time, Voice, said, said_counted


class _Machine(Struct, frozen=True, kw_only=True):
    name: Part
    text: Part
    chart: Chart | None


class _Row(Struct, frozen=True, kw_only=True):
    machine: int
    machine_name: Part
    kind: str
    lamp: str
    word: Part
    day: str
    time: Part
    size: Part
    skew: Part
    href: str
    bench: Part


class _Page(Struct, frozen=True, kw_only=True):
    title: Part
    about: Part
    stamp: Part | None
    foot: Part
    machines: tuple[_Machine, ...]
    coupons: tuple[_Row, ...]
    verdicts: tuple[tuple[str, Part], ...]
    heads: tuple[Said, ...]
    words: Mapping[str, Said]


_WORDS = {
    "machine": said("Machine"),
    "every_machine": said("every machine"),
    "verdict": said("Verdict"),
    "every_verdict": said("every verdict"),
    "since": said("From"),
    "until": said("Until"),
    "coupons": said("Coupons"),
}
_HEADS = (said("Measured"), said("Machine"), said("Size"), said("Verdict"), said("Skew"))
_BENCH = said("Bench")


def front_of(shelf: Shelf, pages: Collection[str], voice: Voice = PLAIN) -> dict[str, bytes]:
    """What lies before the folders of a drive: the page that leads to each of them."""
    return {PAGE_FILE: drive_page(shelf, pages, voice, folder=f"{FOLDER}/").encode("utf-8")}


def drive_page(shelf: Shelf, pages: Collection[str], voice: Voice = PLAIN, *, folder: str = "") -> str:
    """All sessions; those in `pages` have a page in a folder of their own, named by their id, below `folder`."""
    sessions, machines = shelf.sessions, shelf.machines
    names = [machine.name for machine in machines]
    verdicts = {one.id: one.verdict or "none" for one in sessions}
    page = _Page(
        title=said("Measured coupons"),
        about=said_counted("{count} coupon", "{count} coupons", count=len(sessions)),
        stamp=said("SIMULATED") if any(one.simulated for one in sessions) else None,
        foot=said("Made by Cornerwise. Nothing on this page leaves it; what was measured stands in session.json."),
        machines=tuple(_machine(one, verdicts) for one in machines),
        coupons=tuple(_row(one, names, pages, folder, shelf.benches.get(one.id, "")) for one in sessions),
        verdicts=tuple((verdict.value, VERDICT_WORD[verdict]) for verdict in Verdict),
        heads=(*_HEADS, _BENCH) if shelf.benches else _HEADS,
        words=_WORDS,
    )
    return rendered("drive.html.j2", voice, page=page)


def _machine(machine: ChartedMachine, verdicts: Mapping[str, str]) -> _Machine:
    return _Machine(
        name=Name(machine.name) if machine.name else said("no machine named"),
        text=machine.history.text(Trended.SKEW),
        chart=skew_chart(machine.history, machine.limit_deg, verdicts),
    )


def _row(one: SessionSummary, machines: Sequence[str], pages: Collection[str], folder: str, bench: str) -> _Row:
    skew: Part = NOTHING
    if one.skew_deg is not None:
        skew = Angle(one.skew_deg, u_deg=one.skew_u95_deg, signed=True)
    return _Row(
        machine=machines.index(one.machine) if one.machine in machines else len(machines),
        machine_name=Name(one.machine),
        kind=one.verdict or "none",
        lamp=one.lamp or "none",
        word=one.word or said("not finished"),
        day="" if one.opened_utc is None else f"{one.opened_utc:%Y-%m-%d}",
        time=Time(one.opened_utc),
        size=Size(one.coupon.width_mm, one.coupon.height_mm),
        skew=skew,
        href=f"{folder}{folder_name(one.id)}/{PAGE_FILE}" if folder_name(one.id) in pages else "",
        bench=Name(bench) if bench else NOTHING,
    )
