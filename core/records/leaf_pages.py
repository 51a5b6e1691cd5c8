"""Rows read straight from the pages of a damaged archive, where no path through its trees leads to them any more.

Input: the bytes of a database file. Output: every row that stands on a page that looks like the leaf of a table, with
its row number; whose it is, its shape tells. A page that holds noise gives nothing, or rows that no chain proves.
Source: SQLite database file format, 1.6 (B-tree pages) and 2.1 (record format).
"""

import os
import struct
from collections.abc import Iterator
from pathlib import Path

PAGE_BYTES = 4096
Value = str | int | float | bytes | None

_TABLE_LEAF = 0x0D
_LEAF_HEADER_BYTES = 8
_FIRST_PAGE_HEADER_BYTES = 100
_LEAST_LOCAL_BYTES = (PAGE_BYTES - 12) * 32 // 255 - 23
_MOST_LOCAL_BYTES = PAGE_BYTES - 35
# No payload of ours comes near; a flipped bit in a length asks for gigabytes.
_LONGEST_ROW_BYTES = 16 * 1024 * 1024
_INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}


def stray_rows(path: Path) -> Iterator[tuple[int, tuple[Value, ...]]]:
    """(row number, values) of every row on every leaf, whichever table it belongs to; the same row may come twice."""
    with path.open("rb") as file:
        pages = path.stat().st_size // PAGE_BYTES
        for number in range(1, pages + 1):
            file.seek((number - 1) * PAGE_BYTES)
            page = file.read(PAGE_BYTES)
            header = _FIRST_PAGE_HEADER_BYTES if number == 1 else 0
            if page[header] != _TABLE_LEAF:
                continue
            cells = int.from_bytes(page[header + 3 : header + 5], "big")
            first = header + _LEAF_HEADER_BYTES
            for place in range(first, min(first + 2 * cells, PAGE_BYTES - 1), 2):
                try:
                    row_number, payload = _cell(page, int.from_bytes(page[place : place + 2], "big"), file.fileno())
                    yield row_number, _values(payload)
                except (ValueError, IndexError):
                    continue  # this cell is damaged; its neighbours need not be


def _cell(page: bytes, at: int, file: int) -> tuple[int, bytes]:
    length, at = _varint(page, at)
    row_number, at = _varint(page, at)
    if not 0 < length <= _LONGEST_ROW_BYTES or row_number < 1:
        raise ValueError("no cell of a row")
    local = length
    if length > _MOST_LOCAL_BYTES:
        local = _LEAST_LOCAL_BYTES + (length - _LEAST_LOCAL_BYTES) % (PAGE_BYTES - 4)
        local = local if local <= _MOST_LOCAL_BYTES else _LEAST_LOCAL_BYTES
    payload = page[at : at + local]
    if len(payload) < local:
        raise ValueError("the row runs out of its page")
    if local < length:
        payload += _overflow(file, int.from_bytes(page[at + local : at + local + 4], "big"), length - local)
    return row_number, payload


def _overflow(file: int, number: int, wanted: int) -> bytes:
    """What does not fit onto the leaf: a list of pages, each led by the number of the next."""
    parts: list[bytes] = []
    while wanted > 0:
        page = os.pread(file, PAGE_BYTES, (number - 1) * PAGE_BYTES) if number > 0 else b""
        if len(page) < PAGE_BYTES:
            raise ValueError("the row's further pages are lost")
        number = int.from_bytes(page[:4], "big")
        parts.append(page[4 : 4 + wanted])
        wanted -= PAGE_BYTES - 4
    return b"".join(parts)


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """(value, place behind it) of SQLite's integer of 1 to 9 bytes."""
    value = 0
    for place in range(at, at + 8):
        value = value << 7 | data[place] & 0x7F
        if data[place] < 0x80:
            return value, place + 1
    return value << 8 | data[at + 8], at + 9


def _values(payload: bytes) -> tuple[Value, ...]:
    header_bytes, at = _varint(payload, 0)
    kinds: list[int] = []
    while at < header_bytes:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    if at != header_bytes:
        raise ValueError("no header of a record")
    values: list[Value] = []
    for kind in kinds:
        value, at = _value(payload, at, kind)
        values.append(value)
    if at != len(payload):
        raise ValueError("the record is not as long as its header says")
    return tuple(values)


def _value(payload: bytes, at: int, kind: int) -> tuple[Value, int]:
    """A value by its serial type, and the place behind it."""
    if kind == 0:
        return None, at
    if kind in _INTEGER_BYTES:
        end = at + _INTEGER_BYTES[kind]
        return int.from_bytes(payload[at:end], "big", signed=True), end
    if kind == 7:
        return float(struct.unpack(">d", payload[at : at + 8].ljust(8))[0]), at + 8
    if kind in (8, 9):
        return kind - 8, at
    if kind < 12:
        raise ValueError("a reserved serial type")
    end = at + (kind - 12) // 2
    stored = payload[at:end]
    return (stored.decode("utf-8", "backslashreplace") if kind % 2 else stored), end
