"""The download: one finished folder for a session, written whole or not at all.

Input: a SessionRecord. Output: a folder named by the session with session.json, readings.csv, report.pdf, shape.svg,
coupon.svg and SHA256SUMS. Every name is lawful on FAT and exFAT.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from core.errors import DiskFullError, ReadOnlyError, StorageError
from core.geometry.cut_file import CutPlan, draw
from core.geometry.cut_file_svg import svg
from core.records.checksums import CHECKSUMS_FILE, checksums_text, verify_folder
from core.records.plot_svg import shape_svg
from core.records.readings_csv_export import readings_text
from core.records.report_pdf import report_pdf
from core.records.session_json import session_text
from core.records.session_record import SessionRecord
from core.records.shape_picture import picture_of

SESSION_FILE = "session.json"
_PARTIAL = "-partial-"


def files_of(record: SessionRecord) -> dict[str, bytes]:
    """Name and content of every file of the download; the same record gives the same bytes."""
    coupon = record.session.opened.coupon
    simulated = record.session.opened.simulated
    title = f"coupon {coupon.width_mm:g} x {coupon.height_mm:g} mm of session {record.id}"
    texts = {
        SESSION_FILE: session_text(record),
        "readings.csv": readings_text(record),
        "shape.svg": shape_svg(picture_of(record.evaluation.adjustment), simulated=simulated),
        "coupon.svg": svg(draw(CutPlan(coupon=coupon)), f"{title}, SIMULATED" if simulated else title),
    }
    files = {name: text.encode("utf-8") for name, text in texts.items()} | {"report.pdf": report_pdf(record)}
    return files | {CHECKSUMS_FILE: checksums_text(files).encode("ascii")}


def write_folder(files: Mapping[str, bytes], target: Path) -> None:
    """Put the files into the folder `target`, on the disk when this returns; a stop midway leaves no such folder.

    An equal download that is there already is left alone, an older one of the same session is replaced. Remains of
    attempts that were cut off are removed. Raises DiskFullError, ReadOnlyError or StorageError, with nothing half left.
    """
    with writing_errors(target):
        _remove_remains(target)
        if _same(files, target):
            return
        partial = target.with_name(f"{target.name}{_PARTIAL}{secrets.token_hex(4)}")
        try:
            _write_files(files, partial)
            if target.exists():
                # A folder cannot be swapped for another in one step on FAT: the old one stands aside until it is done.
                aside = target.with_name(f"{target.name}-replaced-{secrets.token_hex(4)}")
                target.rename(aside)
                partial.rename(target)
                sync_folder(target.parent)
                shutil.rmtree(aside)
            else:
                partial.rename(target)
            sync_folder(target.parent)
        except OSError:
            shutil.rmtree(partial, ignore_errors=True)
            raise
        verify_folder(target)


def sync_folder(folder: Path) -> None:
    """Have the disk remember the names in a folder."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_files(files: Mapping[str, bytes], folder: Path) -> None:
    folder.mkdir(parents=True)
    for name, content in files.items():
        with (folder / name).open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    sync_folder(folder)


def _same(files: Mapping[str, bytes], target: Path) -> bool:
    if not target.is_dir() or {path.name for path in target.iterdir()} != set(files):
        return False
    return all((target / name).read_bytes() == content for name, content in files.items())


def _remove_remains(target: Path) -> None:
    if target.parent.is_dir():
        for path in target.parent.glob(f"{target.name}{_PARTIAL}*"):
            shutil.rmtree(path)


@contextmanager
def writing_errors(target: Path) -> Iterator[None]:
    """The system's errors in words of ours, for whoever writes `target` whole or not at all."""
    try:
        yield
    except StorageError:
        raise
    except OSError as exc:
        if exc.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise DiskFullError(f"{target}: there is no room left; nothing was written") from exc
        if exc.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise ReadOnlyError(f"{target}: writing is refused here; nothing was written") from exc
        raise StorageError(f"{target}: {exc.strerror or exc}; nothing was written") from exc
