"""What holds for every wire format there is: a name, a title, a decoder that garbage cannot hurt."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from core.errors import BadInputError
from core.metrology.readings import Indication
from firmware_bridge.decoders.ascii_lines import LineDecoder
from firmware_bridge.decoders.fault import Fault
from firmware_bridge.wire_formats import WIRE_FORMATS, DecoderOptions, Framing, wire_format
from tests.firmware_bridge.decoders import test_ascii_lines, test_multiplexer_lines
from tests.firmware_bridge.decoders.garbage import garbage
from tests.firmware_bridge.decoders.wire_encoders import WRITE

NAMES = sorted(WIRE_FORMATS)
# Layouts that are not proven say no number at all (test_clocked_frames.py).
PROVEN = DecoderOptions(binary_proven=True)


@pytest.mark.parametrize("name", NAMES)
def test_garbage_raises_nothing_and_every_fault_has_a_sentence(name: str) -> None:
    decoder = WIRE_FORMATS[name].make_decoder(DecoderOptions())
    for piece in garbage(seed=1, size=50_000):
        for item in decoder.feed(piece):
            assert isinstance(item, Indication) or (isinstance(item, Fault) and item.text)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.binary(max_size=300), cuts=st.lists(st.integers(0, 300), max_size=4))
def test_how_bytes_are_cut_changes_nothing(name: str, data: bytes, cuts: list[int]) -> None:
    whole = WIRE_FORMATS[name].make_decoder(DecoderOptions())
    pieces = WIRE_FORMATS[name].make_decoder(DecoderOptions())
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    together = [item for a, b in pairwise(edges) for item in pieces.feed(data[a:b])]
    assert together == whole.feed(data)


def test_every_format_has_an_encoder_of_its_own_to_be_held_against() -> None:
    assert set(WRITE) == set(WIRE_FORMATS)


def test_every_line_format_is_held_against_worked_frames() -> None:
    line_formats = {
        name
        for name in NAMES
        if not WIRE_FORMATS[name].typed and isinstance(WIRE_FORMATS[name].make_decoder(PROVEN), LineDecoder)
    }
    assert line_formats == {name for name, *_ in (*test_ascii_lines.VECTORS, *test_multiplexer_lines.VECTORS)}


@pytest.mark.parametrize("name", NAMES)
def test_every_format_has_lines_to_be_known_by(name: str) -> None:
    assert WIRE_FORMATS[name].lines


@pytest.mark.parametrize("name", NAMES)
@given(hundredths=st.integers(1000, 17_999), cut=st.integers(0, 60), noise=st.binary(max_size=40))
def test_round_trip_split_anywhere_and_after_garbage(name: str, hundredths: int, cut: int, noise: bytes) -> None:
    frame = WRITE[name](hundredths)
    decoder = WIRE_FORMATS[name].make_decoder(PROVEN)
    decoder.feed(noise + b"\r\n")
    decoder.reset()
    decoder.feed(b"\r\nhalf a line that was cut\r\n")
    items = decoder.feed(frame[:cut]) + decoder.feed(frame[cut:])
    # The sexagesimal encoder writes the last two digits as minutes.
    expected = hundredths // 100 + hundredths % 60 / 60 if name == "angle-dms" else hundredths / 100
    assert [item.value for item in items if isinstance(item, Indication)] == [pytest.approx(expected)]


def test_an_unknown_format_names_those_there_are() -> None:
    with pytest.raises(BadInputError, match="angle-x"):
        wire_format("runes")


@pytest.mark.parametrize("bad", [{"baud": 5}, {"data_bits": 9}, {"stop_bits": 0}])
def test_framing_that_no_port_has_is_refused(bad: dict[str, int]) -> None:
    with pytest.raises(BadInputError):
        Framing(**bad)  # type: ignore[arg-type]


def test_framing_reads_as_people_write_it() -> None:
    assert str(wire_format("length-3.3").framing) == "4800 7E2"
