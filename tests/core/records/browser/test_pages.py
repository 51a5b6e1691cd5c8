"""The pages in a real browser: opened from files, clicked through, nothing leaves them, every name is letters."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.geometry.coupon import Coupon
from core.geometry.features import Feature
from core.metrology.accuracy import MeasuringSetup
from core.metrology.readings import Reading, Unit
from core.metrology.tolerances import Limits
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.browser.coupon_page import coupon_page
from core.records.browser.drive_page import drive_page
from core.records.browser.pages import drive_of
from core.records.browser.shelf import shelf_of
from core.records.comparison import reported_record
from core.records.events import Closed, Opened, ReadingAccepted, ReadingVoided
from core.records.session_record import SessionRecord
from tests.core.records.browser.browsing import Browser, needs_axe, needs_browser

MACHINES = ("template router", "<script>document.title='taken'</script>")
CHOOSE_MACHINE = """
    const machine = document.querySelector("select[name=machine]");
    machine.value = arguments[0];
    machine.dispatchEvent(new Event("input", {bubbles: true}));
"""
TOUCH_NEAR = (
    """document.querySelector('svg a[href="#read-near"]').dispatchEvent(new MouseEvent("click", {bubbles: true}))"""
)
HOSTILE = (
    "<script>alert(1)</script>",
    "</title><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "' onmouseover='alert(1)",
    "javascript:alert(1)",
    "</style><script>1</script>",
    "{{ 7*7 }}",
    "{% raw %}",
    "${7*7}",
    "<!-- ",
    "-->",
    "]]>",
    "<![CDATA[",
    "&lt;b&gt;",
    "&#60;script&#62;",
    "\\x3cscript\\x3e",
    "%3Cscript%3E",
    "<b>bold</b>",
    "<a href='http://example.org'>x</a>",
    "<iframe src=//example.org>",
    "<base href=//example.org>",
    "<form action=//x>",
    "<meta http-equiv=refresh content=0>",
    "<link rel=stylesheet href=//x>",
    "<object data=x>",
    "<embed src=x>",
    "<math><mi xlink:href=x>",
    "<details open ontoggle=alert(1)>",
    "<body onload=alert(1)>",
    "<input autofocus onfocus=x>",
    "a\u202eb",
    "a\u0000b",
    "Left",
    "3 mm",
    "119.95",
    "\u2028",
    "\ufeff",
    "e\u0301\u0302\u0303",
    "𝔸🛠",
)


def opened(machine: str = MACHINES[0], operator: str = "") -> Opened:
    return Opened(
        coupon=Coupon(width_mm=120.0, height_mm=80.0),
        limits=Limits(
            source="ISO 2768-mK", width_edge_mm=0.3, height_edge_mm=0.3, perpendicularity_mm=0.4, diagonal_mm=0.5
        ),
        setup=MeasuringSetup(),
        machine=machine,
        operator=operator,
        instruments=("caliper", "angle gauge"),
        span_mm=640.0,
        software="0.1.0",
        simulated=True,
    )


def measured(archive: Archive, given: Opened, lean_mm: float) -> str:
    session = archive.begin(given)
    diagonals = {Feature.NL_FR: 144.22 + lean_mm, Feature.NR_FL: 144.22 - lean_mm}
    values = {**diagonals, Feature.NEAR: 119.95, Feature.LEFT: 79.94}
    for feature, value in (*values.items(), *diagonals.items(), (Feature.NL, 90.0 - lean_mm / 2)):
        unit = Unit.MM if feature.is_length else Unit.DEG
        archive.append(session, ReadingAccepted(reading=Reading(feature=feature, value=round(value, 2), unit=unit)))
    archive.append(session, ReadingVoided(number=2, reason="slipped. No, Left of 3 mm edge"))
    evaluation = archived_record(archive, session).evaluation
    skew = evaluation.adjustment.skew_deg
    archive.append(
        session,
        Closed(
            verdict=evaluation.verdict,
            size_verdict=evaluation.size_verdict,
            skew_deg=skew.value,
            skew_u95_deg=skew.U95,
            software="0.1.0",
        ),
    )
    return session


@pytest.fixture
def archive(tmp_path: Path, clock) -> Iterator[Archive]:
    kept = Archive.open(tmp_path / "archive.sqlite", clock)
    yield kept
    kept.close()


@pytest.fixture
def drive(archive: Archive, tmp_path: Path) -> Path:
    """Eight coupons of two machines as they lie on the drive."""
    for n in range(8):
        measured(archive, opened(MACHINES[n % 2]), 0.2 * (n - 3))
    folder = tmp_path / "drive"
    folders, front = drive_of(archive, {})
    for name, files in {"": front, **{f"cornerwise/{session}": files for session, files in folders.items()}}.items():
        (folder / name).mkdir(parents=True, exist_ok=True)
        for file, content in files.items():
            (folder / name / file).write_bytes(content)
    return folder


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    opened_browser = Browser(tmp_path / "profile")
    yield opened_browser
    opened_browser.close()


class Outline(HTMLParser):
    """Tags and texts of a page, as a parser of HTML that is not ours sees them."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[tuple[str, str | None], ...]]] = []
        self.text = ""
        self.feed(text)

    @property
    def attributes(self) -> list[set[str]]:
        return [{key for key, _ in attrs} for _, attrs in self.tags]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, tuple(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_letters(archive: Archive, name: str) -> None:
    plain = archived_record(archive, measured(archive, opened("template router", "Ana"), 0.1))
    hostile = replace(plain, session=replace(plain.session, opened=opened(name, name)))
    page, model = Outline(coupon_page(hostile)), Outline(coupon_page(plain))
    assert [tag for tag, _ in page.tags] == [tag for tag, _ in model.tags], "no element more, none less"
    assert [{key for key, _ in attrs} for _, attrs in page.tags] == [
        {key for key, _ in attrs} for _, attrs in model.tags
    ]
    shown = "".join(letter if letter.isprintable() else ascii(letter)[1:-1] for letter in name)
    assert shown in page.text


def test_forty_hostile_names_were_tried() -> None:
    assert len(set(HOSTILE)) == 40


def test_without_a_script_everything_is_there(drive: Path) -> None:
    listed = Outline((drive / "index.html").read_text(encoding="utf-8"))
    links = [dict(attrs)["href"] for tag, attrs in listed.tags if tag == "a"]
    assert len(links) == 8
    assert all((drive / str(link)).is_file() for link in links)


def test_every_coupon_that_was_read_has_its_page_and_says_what_its_report_says(archive: Archive, drive: Path) -> None:
    read = [one.id for one in shelf_of(archive).sessions if one.closed]
    assert len(read) == 8
    assert sorted(page.parent.name for page in drive.glob("cornerwise/*/index.html")) == sorted(read)
    for session in read:
        page = (drive / "cornerwise" / session / "index.html").read_text(encoding="utf-8")
        assert page == coupon_page(reported_record(archive, session))


def test_a_whole_download_stays_as_it_is_and_the_way_is_told(archive: Archive) -> None:
    ids = [measured(archive, opened(), 0.1 * n) for n in range(3)]
    archive.begin(opened())  # begun and never read: there is nothing to show
    heard: list[tuple[int, int]] = []
    folders, _ = drive_of(archive, {ids[0]: {"report.pdf": b"whole"}}, told=lambda done, of: heard.append((done, of)))
    assert folders[ids[0]] == {"report.pdf": b"whole"}
    assert set(folders) == set(ids)
    assert heard == [(done, 4) for done in range(4)]


def test_the_page_has_no_address_of_anybody(drive: Path) -> None:
    for page in drive.rglob("*.html"):
        for tag, attrs in Outline(page.read_text(encoding="utf-8")).tags:
            for key, value in attrs:
                if key in ("src", "href", "action", "data"):
                    assert tag in ("a", "link"), f"{tag} {key}={value}"
                    assert value == "data:," or not str(value).startswith(("http", "//", "/")), value


def test_a_sentence_of_a_contradiction_has_a_page_too(archive: Archive) -> None:
    session = archive.begin(opened())
    for feature, value in ((Feature.NL_FR, 144.2), (Feature.NR_FL, 140.2), (Feature.NEAR, 120.0), (Feature.FAR, 124.0)):
        archive.append(session, ReadingAccepted(reading=Reading(feature=feature, value=value)))
    record: SessionRecord = archived_record(archive, session)
    assert 'lang="en"' in coupon_page(record)


@needs_browser
def test_clicked_through_and_nothing_leaves(browser: Browser, drive: Path) -> None:
    browser.open(drive / "index.html")
    assert browser.run("return document.title") == "Measured coupons"
    assert browser.run("return document.querySelectorAll('#coupons tbody tr:not([hidden])').length") == 8
    browser.run(CHOOSE_MACHINE, "1")
    assert browser.run("return document.querySelectorAll('#coupons tbody tr:not([hidden])').length") == 4
    assert browser.run("return document.querySelectorAll('section[data-machine]:not([hidden])').length") == 1
    assert browser.run("return document.querySelector('output').value") == "4 / 8"
    browser.run("document.querySelector('#coupons tbody tr:not([hidden]) a').click()")
    assert browser.run("return document.querySelector('h1').textContent") == "Coupon 120 x 80 mm"
    browser.run(TOUCH_NEAR)
    assert browser.run("return location.hash") == "#read-near"
    assert browser.run("return document.querySelector(':target').cells[0].textContent") == "near edge"
    assert browser.complaints() == []
    asked = browser.asked_for()
    assert asked
    assert all(address.startswith(("file:", "data:")) for address in asked), asked


@needs_browser
@needs_axe
@pytest.mark.parametrize("size", [(360, 740), (1280, 800)])
def test_axe_finds_nothing_serious(browser: Browser, drive: Path, size: tuple[int, int]) -> None:
    for page in (drive / "index.html", next((drive / "cornerwise").rglob("index.html"))):
        browser.open(page, size)
        assert browser.serious() == []


@needs_browser
def test_it_fits_the_width_of_a_phone(browser: Browser, drive: Path) -> None:
    for page in (drive / "index.html", next((drive / "cornerwise").rglob("index.html"))):
        browser.open(page, (500, 740))
        wide, room = browser.run("return [document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert wide <= room
    browser.open(drive / "index.html", (500, 740))
    farthest = (
        "return Math.max(...[...document.querySelectorAll('#coupons td, .chart text')].map(one => "
        "one.getBoundingClientRect().right)) <= document.documentElement.clientWidth"
    )
    assert browser.run(farthest), "a column is out of sight"


def test_a_word_that_was_not_settled_is_told_so_and_is_found_by_its_word(archive: Archive, drive: Path) -> None:
    shelf = shelf_of(archive)
    no_go = next(one for one in shelf.sessions if one.verdict == "no-go")
    page = drive_page(replace(shelf, sessions=(replace(no_go, settled=False),)), ())
    assert 'data-verdict="no-go"' in page
    assert '<span class="word undecided">NO-GO, not settled</span>' in page


def test_the_same_shelf_gives_the_same_page(archive: Archive, drive: Path) -> None:
    shelf = shelf_of(archive)
    assert drive_page(shelf, ()) == drive_page(shelf, ())
    assert "href" not in drive_page(shelf, ()).partition("<tbody>")[2]
