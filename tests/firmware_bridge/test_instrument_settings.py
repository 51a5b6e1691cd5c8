"""Settings of a cable that contradict themselves are refused with a sentence."""

from __future__ import annotations

import pytest

from core.errors import BadInputError
from core.metrology.readings import Quantity
from firmware_bridge.decoders.ascii_lines import AngleRange
from firmware_bridge.instrument_settings import HID, RADIO, GaugeKind, InstrumentSettings, RadioPlace, Sends
from firmware_bridge.wire_formats import DecoderOptions

_UUID = "5a7e0001-c0de-4a11-9e55-0123456789ab"


def gauge(**changes: object) -> InstrumentSettings:
    common = {"name": "gauge", "port": "/dev/x", "format_name": "angle-plain", "quantity": Quantity.ANGLE}
    return InstrumentSettings(**common | changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": ""}, "name and a port"),
        ({"quantity": Quantity.LENGTH}, "does not give"),
        ({"sends": Sends.ASKED}, "cannot be asked"),
        ({"poll_s": 0.1}, "can be polled"),
        ({"format_name": "typed-angle"}, "that types"),
        ({"gauge_kind": GaugeKind.TILT, "options": DecoderOptions(angle_range=AngleRange.TO_180)}, "0-180"),
        ({"format_name": "runes"}, "must be one of"),
    ],
)
def test_settings_that_contradict_themselves_say_so(changes: dict[str, object], words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        gauge(**changes)


def test_several_instruments_on_one_cable_cannot_be_polled() -> None:
    with pytest.raises(BadInputError, match="which of them answered"):
        InstrumentSettings(
            name="box",
            port="/dev/x",
            format_name="length-3.3",
            quantity=Quantity.LENGTH,
            sends=Sends.ASKED,
            channels={"1": "a", "2": "b"},
        )


def test_an_unknown_channel_has_no_instrument() -> None:
    box = InstrumentSettings(
        name="box", port="/dev/x", format_name="channels-lettered", quantity=Quantity.LENGTH, channels={"1": "a"}
    )
    assert (box.instrument_on("1"), box.instrument_on("2"), gauge().instrument_on("")) == ("a", None, "gauge")


@pytest.mark.parametrize(
    ("port", "says"),
    [
        ("/dev/serial/by-id/usb-adapter_4711-if00", True),
        ("/dev/serial/by-path/platform-usb-0:1.2:1.0", False),
        ("radio:c0:11:22:33:44:55", True),
        ("hid:16c0:05df:4711", True),
        ("hid:16c0:05df:@usb-0000-01-00.0-1.2/input0", False),
    ],
)
def test_a_line_says_what_is_on_it_where_it_has_a_number_of_its_own_and_no_socket_does(port: str, says: bool) -> None:
    changes: dict[str, object] = {"port": port}
    if port.startswith(RADIO):
        changes["radio"] = RadioPlace(service=_UUID, characteristic=_UUID)
    if port.startswith(HID):
        changes["format_name"] = "packets-angle"
    assert gauge(**changes).identity == (port if says else "")
