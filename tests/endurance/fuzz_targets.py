"""What comes from elsewhere, each as a function that takes any bytes: it may refuse them in a sentence, nothing else.

Input: bytes of a fuzzer. Output: nothing; whatever escapes a target is a fault of ours. Each has a corpus to begin
with, made by the house's own writers from its own scenario.
"""

from __future__ import annotations

import io
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.errors import BadInputError
from core.geometry.affine import cut_by
from core.geometry.coupon import Coupon
from core.geometry.cut_file import CutPlan, draw
from core.geometry.cut_file_text import coupon_text
from core.geometry.design_file_dxf import correct_dxf
from core.geometry.design_file_svg import correct_svg
from core.metrology.readings import Indication
from core.records.archive import Archive
from core.records.archived_record import archived_record
from core.records.foreign_session import check_session
from core.records.readings_csv import parse_readings
from core.records.session_json import parse_session, session_text
from firmware_bridge.decoders.fault import Fault
from firmware_bridge.wire_formats import WIRE_FORMATS, DecoderOptions
from hardware.root_verbs import RefusedError
from hardware.update_archive import parse_manifest, read_header
from tests.endurance.bit_flips import make_archive, now
from tests.firmware_bridge.decoders.wire_encoders import WRITE

CORRECTION = cut_by(0.4).inverse
NOBODY = Path("/nobody/is/trusted")


class Target(Struct, frozen=True, kw_only=True):
    """`eats` gets the fuzzer's bytes; `corpus` is what it begins with."""

    eats: Callable[[bytes], object]
    corpus: Callable[[], list[bytes]]


def session(data: bytes) -> None:
    """A session.json, as it is and as one without a chain, for a changed byte breaks every chain."""
    with suppress(BadInputError, UnicodeDecodeError):
        name, events = parse_session(data.decode("utf-8"))
        with suppress(BadInputError):
            check_session(name, events)
        check_session(name, tuple(replace(event, chain=None) for event in events))


def sessions() -> list[bytes]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "archive.sqlite"
        make_archive(path, 2)
        with closing(Archive.open(path, now)) as archive:
            records = [archived_record(archive, one.id) for one in archive.sessions() if one.closed]
    return [session_text(record).encode() for record in records]


def readings(data: bytes) -> None:
    with suppress(BadInputError):
        parse_readings(data, "readings.csv")


def csvs() -> list[bytes]:
    plain = "feature,value,unit\nnl-fr,144.61,mm\nnr-fl,143.85,mm\nnear,4.722,in\nnl,89.6,deg\n"
    named = 'feature,value,unit,instrument,time\nnl-fr,"144,61",mm,caliper,2026-03-01T14:05:00Z\n'
    return [plain.encode(), named.encode("utf-16"), plain.replace(",", ";").encode()]


def svg(data: bytes) -> None:
    with suppress(BadInputError):
        correct_svg(data, CORRECTION)


def dxf(data: bytes) -> None:
    with suppress(BadInputError):
        correct_dxf(data, CORRECTION)


def drawings(suffix: str) -> list[bytes]:
    plan = CutPlan(coupon=Coupon(width_mm=120.0, height_mm=80.0))
    return [coupon_text(Path(f"coupon{suffix}"), draw(plan), "coupon").encode()]


def header(data: bytes) -> None:
    """An update whose signer nobody trusts: its header, and its manifest by itself."""
    with suppress(RefusedError):
        read_header(io.BytesIO(data), NOBODY)
    with suppress(RefusedError):
        parse_manifest(data)


def headers() -> list[bytes]:
    import zipfile

    manifest = (
        b'{"format": "cornerwise-update", "version": "0.2.0", "python": "3.11", "machine": "any", "system": "ab",'
        b' "wheels": []}'
    )
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as members:
        members.writestr("manifest.json", manifest)
        members.writestr("manifest.sig", b"-----BEGIN SSH SIGNATURE-----\n")
    return [whole.getvalue(), manifest]


def decoder(name: str) -> Target:
    """A wire format, in pieces of the lengths that the first bytes say."""

    def eats(data: bytes) -> None:
        decode = WIRE_FORMATS[name].make_decoder(DecoderOptions(binary_proven=True))
        cut = data[0] if data else 0
        for piece in (data[1 : 1 + cut], data[1 + cut :]):
            for item in decode.feed(piece):
                assert isinstance(item, Indication | Fault)

    return Target(eats=eats, corpus=lambda: [bytes([9]) + WRITE[name](number) * 3 for number in (0, 14361, 8973)])


TARGETS: dict[str, Target] = {
    "session.json": Target(eats=session, corpus=sessions),
    "readings.csv": Target(eats=readings, corpus=csvs),
    "svg": Target(eats=svg, corpus=lambda: drawings(".svg")),
    "dxf": Target(eats=dxf, corpus=lambda: drawings(".dxf")),
    "update header": Target(eats=header, corpus=headers),
    **{f"decoder {name}": decoder(name) for name in sorted(WIRE_FORMATS) if name in WRITE},
}
