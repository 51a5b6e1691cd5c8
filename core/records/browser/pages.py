"""The pages of a drive: the one that leads to all coupons, and the page of each of them.

Input: the archive. Output: files by session, as bytes; what was not asked for as a whole download has its page alone.
"""

from collections.abc import Mapping
from contextlib import suppress

from core.errors import BadInputError
from core.progress import Told, nobody
from core.records.archive import Archive
from core.records.browser import PAGE_FILE
from core.records.browser.coupon_page import coupon_page
from core.records.browser.drive_page import front_of
from core.records.browser.shelf import shelf_of
from core.records.comparison import ReportedRecords
from core.records.session_id import folder_name
from core.said import PLAIN, Voice

Files = Mapping[str, bytes]


def drive_of(
    archive: Archive, downloads: Mapping[str, Files], voice: Voice = PLAIN, told: Told = nobody
) -> tuple[dict[str, Files], dict[str, bytes]]:
    """What lies in the folders of a drive, by session, and what lies before them.

    `downloads` stay as they are; every other coupon of the archive that was read at all gets its page. Judging and
    drawing take some milliseconds each: `told` hears how many of how many are done.
    """
    shelf = shelf_of(archive)
    records = ReportedRecords(archive)
    folders: dict[str, Files] = dict(downloads)
    for done, summary in enumerate(shelf.sessions):
        told(done, len(shelf.sessions))
        folder = folder_name(summary.id)
        if folder not in folders:
            with suppress(BadInputError):
                folders[folder] = {PAGE_FILE: coupon_page(records.record(summary.id), voice).encode("utf-8")}
    return folders, front_of(shelf, folders, voice)
