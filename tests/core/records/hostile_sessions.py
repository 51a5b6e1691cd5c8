"""Sessions and saved benches that nobody's bench wrote: what a folder from elsewhere may hold, each to be refused."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

Spoil = Callable[[dict], object]
LONE = "\ud800"

IDS = ["", "*", ".", "..", "/etc", "../../x", "a/b", "-rf", "x" * 300, "20260301-140509-0A1B2C3D", "undated-0a1b2c3d\n",
       "٢٠٢٦٠٣٠١-140509-0a1b2c3d", "CON", "\x1b[2J", LONE, "undated-0a1b2c3d\0"]  # fmt: skip


def signed(folder: Path, text: str | bytes) -> None:
    """Put a session.json in, with a checksum that agrees: whoever made the folder can do that."""
    content = text if isinstance(text, bytes) else text.encode()
    (folder / "session.json").write_bytes(content)
    (folder / "SHA256SUMS").write_text(f"{hashlib.sha256(content).hexdigest()}  session.json\n")


def spoilt(folder: Path, spoil: Spoil) -> None:
    """Without its chain, as an earlier release would have written it: that nothing rests on the chain alone."""
    data = json.loads((folder / "session.json").read_text())
    for event in data["events"]:
        event.pop("chain", None)
    spoil(data)
    signed(folder, json.dumps(data))


def reading_of(data: dict) -> dict:
    return next(event for event in data["events"] if event["kind"] == "reading-accepted")["payload"]["reading"]


SPOILS: list[Spoil] = [
    lambda data: reading_of(data).update(value=float("nan")),
    lambda data: reading_of(data).update(value=float("inf")),
    lambda data: reading_of(data).update(value=1e308),
    lambda data: reading_of(data).update(value=10**400),
    lambda data: reading_of(data).update(value=8001.0),
    lambda data: reading_of(data).update(value=True),
    lambda data: reading_of(data).update(feature="middle"),
    lambda data: reading_of(data).update(feature=[]),
    lambda data: reading_of(data).update(feature="window-width"),
    lambda data: reading_of(data).update(instrument=LONE),
    lambda data: reading_of(data).update(instrument="\x1b]0;x\x07"),
    lambda data: reading_of(data).update(instrument="x" * 5_000),
    lambda data: data["events"][0]["payload"].update(span_mm=1e308),
    lambda data: data["events"][0]["payload"].update(span_mm=-1.0),
    lambda data: data["events"][0]["payload"].update(machine="template\u202erouter"),
    lambda data: data["events"][0]["payload"]["coupon"].update(width_mm=0.0),
    lambda data: data["events"][0]["payload"]["limits"].update(perpendicularity_mm=0.0),
    lambda data: data["events"][0]["payload"]["setup"]["caliper"].update(zero=1e300),
    lambda data: data["events"][0].update(time_utc="0001-01-01T00:00:00+14:00"),
    lambda data: data["events"][0].update(time_utc="0001-01-01T00:00:00Z"),
    lambda data: data["events"][0].update(time_utc="9999-12-31T23:59:59.999Z"),
    lambda data: data["events"][0].update(time_utc=LONE),
    lambda data: data["events"][0].update(sequence=True),
    lambda data: data["events"][0].update(sequence=-1),
    lambda data: data["events"][1].update(sequence=10**30),
    lambda data: data["events"][1].update(version=2**70),
    lambda data: data["events"][1].update(kind="\x1b[2J"),
    lambda data: data["events"][1].update(kind="later kind"),
    lambda data: data["events"][-1]["payload"].update(verdict="perfect"),
    lambda data: data["events"][-1]["payload"].update(size_verdict=""),
    lambda data: data["events"].pop(1),
    lambda data: data["events"].pop(),
    lambda data: data.update(events=data["events"] * 200),
    lambda data: data.update(events={}),
    lambda data: data.update(events=[]),
    lambda data: data.update(version=True),
]

TEXTS = [
    b"\xff\xfe", b"", b"[" * 100_000, b'{"a":' * 100_000, b"[" * 5_000 + b"]" * 5_000, b'"\\ud800"',
    b'{"format":"cornerwise session","version":1,"session":"undated-0a1b2c3d","events":['
    + b"[" * 50 + b"]" * 50 + b"]}", b'{"value":' + b"9" * 5_000 + b"}",
]  # fmt: skip

LINES = [
    "", f"{'0' * 64}  ..", f"{'0' * 64}  a/b", f"{'0' * 64}  SHA256SUMS", "0  session.json", f"{'0' * 64}  a\0b",
    f"{'0' * 64}  readings.csv", "\x1b[2J", "x" * 20_000,
]  # fmt: skip

# What makes the tables of a saved bench somebody else's.
SCHEMES = {
    "a view that never ends": "ALTER TABLE session RENAME TO kept; CREATE VIEW session AS "
    "WITH RECURSIVE n(id) AS (SELECT 1 UNION ALL SELECT id + 1 FROM n) SELECT id FROM n;",
    "a trigger of somebody's": "CREATE TRIGGER t AFTER INSERT ON event BEGIN DELETE FROM event; END;",
    "a column that is not ours": "ALTER TABLE event ADD COLUMN more TEXT;",
    "a check that fills the memory": "PRAGMA ignore_check_constraints = 1; "
    "CREATE TABLE t (a CHECK (length(hex(zeroblob(900000000))) > 0)); INSERT INTO t VALUES (1);",
    "a name that is no text": "CREATE TABLE t (a); PRAGMA writable_schema = 1; "
    "UPDATE sqlite_schema SET sql = CAST(x'435245415445205441424C4520742028FF2C20FF29' AS TEXT) WHERE name = 't';",
    "of a later version": "PRAGMA user_version = 99;",
    "of another program": "PRAGMA application_id = 1;",
}
