"""Numbers typed as on a keyboard, ended by Enter or Tab."""

from __future__ import annotations

import pytest

from core.metrology.readings import Indication, Unit
from firmware_bridge.decoders.fault import Fault
from firmware_bridge.wire_formats import DecoderOptions, wire_format
from tests.firmware_bridge.decoders.wire_vectors import check_vector


@pytest.mark.parametrize(
    ("name", "wire", "shown", "unit", "decimals"),
    [
        ("typed-length", b"120.34\n", 120.34, Unit.MM, 2),
        ("typed-length", b"-0,01\t", -0.01, Unit.MM, 2),
        ("typed-length", b"12.34 mm\n", 12.34, Unit.MM, 2),
        ("typed-length", b"0.4860in\t", 0.486, Unit.INCH, 4),
        ("typed-angle", b"+89.95\r", 89.95, Unit.DEG, 2),
    ],
)
def test_a_typed_number_in_every_cut(name: str, wire: bytes, shown: float, unit: Unit, decimals: int) -> None:
    expected = Indication(shown=shown, unit=unit, decimals=decimals)
    options = DecoderOptions()
    check_vector(lambda: wire_format(name).make_decoder(options), wire, [expected], noise=b"hello\n", trailing=wire[:2])


def test_letters_are_no_number() -> None:
    (item,) = wire_format("typed-length").make_decoder(DecoderOptions()).feed(b"12a.34\n")
    assert isinstance(item, Fault)
