"""How fast the page of a thousand coupons opens: `python -m tests.endurance.thousand_coupons [--coupons 1000]`.

Measures their coupons into an archive (SIMULATED), makes the drive's page, opens it in a real browser from a file, and
prints the size and the time until it is complete, until its filter has worked, and what it asked for.
"""

from __future__ import annotations

import argparse
import tempfile
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from time import perf_counter

from core.records.archive import Archive
from core.records.browser.pages import drive_of
from tests.core.records.browser.browsing import Browser
from tests.core.records.browser.test_pages import CHOOSE_MACHINE, measured, opened


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--coupons", type=int, default=1000)
    coupons = parser.parse_args().coupons
    begun, ticks = datetime(2024, 1, 1, tzinfo=UTC), count()
    with tempfile.TemporaryDirectory() as folder:
        archive = Archive.open(Path(folder) / "archive.sqlite", lambda: begun + timedelta(minutes=20 * next(ticks)))
        for n in range(coupons):
            measured(archive, opened(f"template router {n % 3}"), 0.02 * (n % 21 - 10))
        began_s = perf_counter()
        folders, front = drive_of(archive, {})
        made_s = perf_counter() - began_s
        archive.close()
        drive = Path(folder) / "drive"
        for session, files in folders.items():
            (drive / "cornerwise" / session).mkdir(parents=True)
            for name, content in files.items():
                (drive / "cornerwise" / session / name).write_bytes(content)
        page = drive / "index.html"
        page.write_bytes(front["index.html"])
        browser = Browser(Path(folder) / "profile")
        try:
            browser.open(page)
            complete_ms = browser.run("return performance.timing.loadEventEnd - performance.timing.navigationStart")
            filtered_ms = browser.run(
                f"const t = performance.now(); {CHOOSE_MACHINE}; return performance.now() - t", "1"
            )
            print(f"{coupons} coupons, {page.stat().st_size / 1e6:.2f} MB; {len(folders)} pages of their own")
            print(f"all pages made in {made_s:.1f} s")
            print(f"complete after {complete_ms:.0f} ms, filtered in {filtered_ms:.0f} ms")
            print(f"asked for: {sorted(address[:60] for address in browser.asked_for())}; said: {browser.complaints()}")
        finally:
            browser.close()


if __name__ == "__main__":
    main()
