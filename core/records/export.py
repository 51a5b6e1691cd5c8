"""The download: every file of one session's finished folder.

Input: a SessionRecord. Output: index.html, session.json, readings.csv, report.pdf, shape.svg, coupon.svg and
SHA256SUMS, as bytes.
Every name is lawful on FAT and exFAT.
"""

from core.geometry import CutPlan, draw, svg
from core.records.browser import PAGE_FILE
from core.records.checksums import CHECKSUMS_FILE, checksums_text
from core.records.plot_svg import shape_svg
from core.records.readings_csv_export import readings_text
from core.records.session_json import session_text
from core.records.session_record import SessionRecord
from core.records.shape_picture import picture_of
from core.said import PLAIN, Voice

SESSION_FILE = "session.json"


def files_of(record: SessionRecord, voice: Voice = PLAIN) -> dict[str, bytes]:
    """Name and content of every file of the download; page and report are in a voice. The same record gives the same
    bytes."""
    # The libraries of page and report take longer to load than all the rest of the bench, and no start-up should wait.
    from core.records.browser.coupon_page import coupon_page
    from core.records.report_pdf import report_pdf

    coupon = record.session.opened.coupon
    simulated = record.session.opened.simulated
    title = f"coupon {coupon.width_mm:g} x {coupon.height_mm:g} mm of session {record.id}"
    texts = {
        PAGE_FILE: coupon_page(record, voice),
        SESSION_FILE: session_text(record),
        "readings.csv": readings_text(record),
        "shape.svg": shape_svg(picture_of(record.evaluation), simulated=simulated),
        "coupon.svg": svg(draw(CutPlan(coupon=coupon)), f"{title}, SIMULATED" if simulated else title),
    }
    files = {name: text.encode("utf-8") for name, text in texts.items()} | {"report.pdf": report_pdf(record, voice)}
    return files | {CHECKSUMS_FILE: checksums_text(files).encode("ascii")}
