"""Pictures of the shop's pages (`serve-pages`) in a real browser, made of a year of two benches: SIMULATED.

    python -m tests.ui.shop.render_pages DIR     every picture: English and German, light and dark, wide and narrow

The README's own is made by `tests.ui.render_pictures`. Coupons of the house scenario, cut by a gantry that drifts and
is set once, read with the noise of the instruments; sent to a real server by both benches and fetched from it.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.seats import keyed_seats
from core.machine.machine_log import CorrectionApplied, MachineEvent, MachineEventKind
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import evaluate
from core.records.events import Closed, Labelled, Opened, ReadingAccepted
from tests.core.metrology.simulated_readings import simulate
from tests.core.records.browser.browsing import Browser
from tests.ui.shop.real_server import RealServer
from tests.ui.shop.shop_bits import LIMITS, MACHINE, Bench
from ui.shop.keeping import set_up
from ui.shop.server import connected
from ui.shop.shop_pages import write_pages
from ui.speech import DecimalMark, Language, Notation, Speech

COUPON = Coupon(width_mm=120.0, height_mm=80.0, seats=keyed_seats(120.0, 80.0))
SETUP = MeasuringSetup()
WIDE, PHONE = (1000, 800), (390, 844)
# Shear by month, in mm over the span, and who measured: it drifts until the gantry is set in August.
YEAR = tuple((month, 0.1 + 0.62 * month if month < 8 else 0.15 * (month - 7), month % 3 == 2) for month in range(1, 12))


def measured(bench: Bench, rng: np.random.Generator, move_mm: float, order: str) -> str:
    """A whole coupon, read as the next hand would, judged and finished."""
    truth = np.concatenate([[-2e-4, -2e-4, move_mm / 640.0, 0.0, 0.0], rng.normal(0.0, [0.005, 0.02, 0.05])])
    readings = simulate(rng, truth, coupon=COUPON, setup=SETUP, repeats=2)
    opened = Opened(
        coupon=COUPON, limits=LIMITS, setup=SETUP, machine=MACHINE, instruments=("caliper", "angle gauge"),
        operator="", customer="", span_mm=640.0, software="0.1.0", simulated=True,
    )  # fmt: skip
    session = bench.archive.begin(opened)
    bench.archive.append(session, Labelled(order=order))
    for reading in readings:
        bench.pass_time(timedelta(seconds=5))
        bench.archive.append(session, ReadingAccepted(reading=reading))
    judged = evaluate(COUPON, readings, LIMITS, SETUP)
    skew = judged.adjustment.skew_deg
    bench.archive.append(
        session,
        Closed(verdict=judged.verdict, size_verdict=judged.size_verdict, skew_deg=skew.value, skew_u95_deg=skew.U95,
               software="0.1.0"),
    )  # fmt: skip
    return session


@contextmanager
def shop_pages(folder: Path) -> Iterator[dict[Language, Path]]:
    """The pages by language, for as long as the context lasts."""
    server = RealServer()
    try:
        keeper = server.shop()
        set_up(keeper, date(2026, 1, 1))
        benches = [Bench(folder / name, keeper, name) for name in ("bench in the hall", "service case")]
        last = _a_year(*benches)
        pages = {}
        with connected(benches[0].access) as there:
            for language in Language:
                pages[language] = folder / f"pages-{language.value}"
                notation = Notation(mark=DecimalMark.COMMA if language is Language.GERMAN else DecimalMark.POINT)
                voice = Speech(language=language, notation=notation, zone=UTC).on_paper
                write_pages(there, pages[language], voice)
        (folder / "last").write_text(last)
        yield pages
    finally:
        server.remove()


def _a_year(hall: Bench, case: Bench) -> str:
    """Both benches' coupons, in the shop; the last one's session."""
    rng = np.random.default_rng(2026)
    hall.join()
    session = ""
    for month, move_mm, by_case in YEAR:
        bench = case if by_case else hall
        bench.time = datetime(2026, month, 9, 8, 30, tzinfo=UTC)
        session = measured(bench, rng, move_mm, f"template {month:02d}")
        if month == 5:
            hall.archive.append_machine_event(MACHINE, MachineEvent(kind=MachineEventKind.BELT_CHANGE, note=""))
        if month == 7:
            hall.archive.append_machine_event(MACHINE, CorrectionApplied(session=session, made_mm=4.4))
        hall.round()
        if by_case:
            case.join(same={MACHINE: hall.archive.shop.machines()[0].id})
            case.round()
    return session


@contextmanager
def picturing(dark: bool) -> Iterator[Browser]:
    """A browser of its own, of a person who prefers the one or the other."""
    with tempfile.TemporaryDirectory() as profile:
        browser = Browser(Path(profile))
        scheme = {"features": [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]}
        try:
            browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", scheme)
            yield browser
        finally:
            browser.close()


def take(browser: Browser, page: Path, size: tuple[int, int], picture: Path) -> None:
    """The page as far as the window shows it; a phone's is narrower than a window can be made."""
    width, height = size
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": size == PHONE}
    browser.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    browser.driver.get(page.as_uri())
    browser.driver.save_screenshot(str(picture))


def readme_picture(picture: Path) -> None:
    """The shop's front page, English and light."""
    with tempfile.TemporaryDirectory() as folder, shop_pages(Path(folder)) as pages, picturing(dark=False) as browser:
        take(browser, pages[Language.ENGLISH] / "index.html", WIDE, picture)


def main() -> None:
    """Every picture into a folder."""
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, shop_pages(Path(folder)) as pages:
        coupon = Path("cornerwise") / (Path(folder) / "last").read_text() / "index.html"
        for dark in (False, True):
            with picturing(dark) as browser:
                for language, place in pages.items():
                    for width, size in (("wide", WIDE), ("phone", PHONE)):
                        for name, page in (("shop", Path("index.html")), ("coupon", coupon)):
                            file = f"{name}-{language.value}-{'dark' if dark else 'light'}-{width}.png"
                            take(browser, place / page, size, target / file)


if __name__ == "__main__":
    main()
