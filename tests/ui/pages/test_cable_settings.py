"""Everything a cable may need can be chosen; what follows from a choice follows; nothing begins to send."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.readings import Quantity, Unit
from firmware_bridge.decoders.ascii_lines import AngleRange
from firmware_bridge.decoders.binary_24bit import LAYOUTS
from firmware_bridge.instrument_settings import Capture, GaugeKind, HoldSettings, InstrumentSettings, Sends
from firmware_bridge.recognition import ANGLE_HOLD, POLL_S
from firmware_bridge.wire_formats import WIRE_FORMATS, Framing, Parity
from ui.pages.cable_settings import changed, choices_of, names_of, title_of, value_of

CALIPER = InstrumentSettings(name="caliper", port="/dev/x", format_name="length-3.3", quantity=Quantity.LENGTH)
ASKED = replace(CALIPER, sends=Sends.ASKED, poll_s=POLL_S)
GAUGE = InstrumentSettings(name="angle gauge", port="/dev/x", format_name="angle-plain", quantity=Quantity.ANGLE)
BOX = InstrumentSettings(name="caliper", port="/dev/x", format_name="channels-first", quantity=Quantity.LENGTH)
BITS = InstrumentSettings(name="caliper", port="/dev/x", format_name="binary-24", quantity=Quantity.LENGTH)
KEYS = InstrumentSettings(
    name="caliper",
    port="/dev/input/by-id/a-event-kbd",
    format_name="typed-length",
    quantity=Quantity.LENGTH,
    sends=Sends.BUTTON,
    capture=Capture.DATA_BUTTON,
)
ALL = (CALIPER, ASKED, GAUGE, BOX, BITS, KEYS)


@pytest.mark.parametrize("settings", ALL, ids=lambda one: one.format_name)
def test_every_choice_of_every_setting_holds_once_chosen(settings: InstrumentSettings) -> None:
    for name in names_of(settings):
        assert title_of(name)
        choices = choices_of(settings, name)
        assert value_of(settings, name) in [value for value, _words in choices]
        for value, words in choices:
            assert words
            after = changed(settings, name, value, ())
            assert value_of(after, name) == value
            assert after.port == settings.port


def test_only_what_a_format_leaves_open_is_asked_about() -> None:
    line = ("format", "speed", "frame", "dtr", "rts", "sends")
    assert names_of(CALIPER) == (*line, "unit")
    assert names_of(GAUGE) == (*line, "range", "kind")
    assert names_of(replace(GAUGE, format_name="angle-x")) == (*line, "range", "kind", "axis")
    assert names_of(BOX) == (*line, "unit", "1", "2", "3", "4")
    assert names_of(replace(BOX, channels={"12": "far"}))[-1] == "12"
    assert names_of(BITS) == (*line, "bits", "proven")
    assert names_of(KEYS) == ("format", "unit")


def test_a_keyboard_has_typed_formats_and_a_serial_port_the_others() -> None:
    typed = {value for value, _words in choices_of(KEYS, "format")}
    assert typed == {"typed-length", "typed-angle"}
    assert {value for value, _words in choices_of(CALIPER, "format")} == set(WIRE_FORMATS) - typed


def test_line_and_levels() -> None:
    after = CALIPER
    for name, value in (("speed", "2400"), ("frame", "7O1"), ("dtr", "low")):
        after = changed(after, name, value, ())
    assert after.framing == Framing(baud=2400, data_bits=7, parity=Parity.ODD, stop_bits=1, dtr=False, rts=True)


def test_what_is_meant_by_a_number() -> None:
    assert changed(CALIPER, "unit", Unit.INCH, ()).options.unit is Unit.INCH
    assert changed(GAUGE, "range", AngleRange.TO_360, ()).options.angle_range is AngleRange.TO_360
    assert changed(GAUGE, "kind", GaugeKind.TILT, ()).gauge_kind is GaugeKind.TILT
    other = changed(changed(BITS, "proven", "yes", ()), "bits", "sign-21", ())
    assert other.options.binary.sign_bit == 21
    # Another layout was not compared with the display yet.
    assert not other.options.binary_proven
    assert {value for value, _words in choices_of(BITS, "bits")} == set(LAYOUTS)


def test_a_tilt_gauge_that_counts_to_180_is_refused_in_words() -> None:
    tilt = changed(GAUGE, "kind", GaugeKind.TILT, ())
    with pytest.raises(BadInputError, match="hides which way"):
        changed(tilt, "range", AngleRange.TO_180, ())


def test_channels_are_named_and_taken_away() -> None:
    two = changed(changed(BOX, "2", "short caliper", ()), "1", "long caliper", ())
    assert two.channels == {"1": "long caliper", "2": "short caliper"}
    assert two.instruments == ("long caliper", "short caliper")
    assert changed(changed(two, "1", "", ()), "2", "", ()).instruments == ("caliper",)


def test_another_format_brings_its_usual_line_unless_that_was_overruled() -> None:
    assert changed(CALIPER, "format", "length-8-unit", ()).line == WIRE_FORMATS["length-8-unit"].framing
    by_hand = changed(changed(CALIPER, "rts", "low", ()), "format", "length-8-unit", ())
    assert by_hand.line == replace(WIRE_FORMATS["length-8-unit"].framing, rts=False)
    slow = changed(changed(CALIPER, "speed", "1200", ()), "format", "length-8-unit", ())
    assert slow.line == replace(CALIPER.line, baud=1200)


def test_from_a_caliper_to_a_gauge_and_back() -> None:
    inches = changed(CALIPER, "unit", Unit.INCH, ())
    gauge = changed(inches, "format", "angle-x", ("caliper", "angle gauge"))
    assert (gauge.name, gauge.quantity, gauge.hold) == ("angle gauge 2", Quantity.ANGLE, ANGLE_HOLD)
    assert gauge.options.unit is None
    back = changed(changed(gauge, "kind", GaugeKind.TILT, ()), "format", "length-4.3", ())
    assert (back.quantity, back.hold, back.gauge_kind) == (Quantity.LENGTH, HoldSettings(), GaugeKind.BLADE)


def test_nothing_here_begins_to_ask() -> None:
    """A request sends bytes: it is agreed to where the instrument is recognised, for the bytes of that format alone."""
    for settings in (CALIPER, GAUGE, BOX, BITS):
        assert Sends.ASKED not in [value for value, _words in choices_of(settings, "sends")]
    assert value_of(changed(ASKED, "unit", Unit.INCH, ()), "sends") == Sends.ASKED
    other = changed(ASKED, "format", "length-8-unit", ())
    assert (other.sends, other.poll_s) == (Sends.STREAM, None)


def test_what_speaks_at_its_button_makes_a_reading_by_it() -> None:
    button = changed(CALIPER, "sends", Sends.BUTTON, ())
    assert button.capture is Capture.DATA_BUTTON
    assert changed(button, "sends", Sends.STREAM, ()).capture is Capture.STEADY_HOLD
