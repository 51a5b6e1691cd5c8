"""Instruments are remembered by their stable port, and a damaged file says what is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from msgspec.structs import replace

from core.errors import BadInputError
from core.metrology.readings import Quantity, Unit
from firmware_bridge.decoders.binary_24bit import LAYOUTS, BinaryLayout
from firmware_bridge.instrument_settings import Capture, GaugeKind, HoldSettings, InstrumentSettings, Sends
from firmware_bridge.settings_store import FILE_NAME, SettingsStore, settings_from_json, settings_to_json
from firmware_bridge.wire_formats import DecoderOptions, Framing, Parity

CALIPER = InstrumentSettings(
    name="caliper",
    port="/dev/serial/by-id/usb-a",
    format_name="length-3.3",
    quantity=Quantity.LENGTH,
    sends=Sends.ASKED,
    capture=Capture.DATA_BUTTON,
    hold=HoldSettings(time_s=0.7),
    framing=Framing(baud=2400, data_bits=7, parity=Parity.ODD, stop_bits=2, dtr=False),
    options=DecoderOptions(unit=Unit.INCH, binary=BinaryLayout(sign_bit=21)),
    poll_s=0.2,
)
GAUGE = InstrumentSettings(
    name="gauge",
    port="/dev/serial/by-path/1",
    format_name="angle-plain",
    quantity=Quantity.ANGLE,
    gauge_kind=GaugeKind.TILT,
)
BOX = InstrumentSettings(
    name="box",
    port="/dev/x",
    format_name="channels-lettered",
    quantity=Quantity.LENGTH,
    channels={"1": "long caliper", "2": "short caliper"},
)


def test_what_is_remembered_comes_back_as_it_was(tmp_path: Path) -> None:
    for settings in (CALIPER, GAUGE, BOX):
        SettingsStore(tmp_path / "data").remember(settings)
    assert SettingsStore(tmp_path / "data").load() == (CALIPER, GAUGE, BOX)
    assert BOX.instruments == ("long caliper", "short caliper")


def test_a_port_has_one_instrument_and_a_name_one_port(tmp_path: Path) -> None:
    store = SettingsStore(tmp_path)
    store.remember(CALIPER)
    renamed = InstrumentSettings(name="other", port=CALIPER.port, format_name="length-8-unit", quantity=Quantity.LENGTH)
    store.remember(renamed)
    assert store.for_port(CALIPER.port) == renamed
    with pytest.raises(BadInputError, match="already has it"):
        store.remember(InstrumentSettings(name="other", port="/dev/y", format_name="angle-x", quantity=Quantity.ANGLE))
    store.forget(CALIPER.port)
    assert store.load() == ()


def test_what_was_recognised_is_kept_beside_what_a_person_overruled(tmp_path: Path) -> None:
    store = SettingsStore(tmp_path)
    store.remember(CALIPER, recognised=True)
    by_hand = replace(CALIPER, framing=Framing(baud=300))
    store.remember(by_hand)
    assert SettingsStore(tmp_path).load() == (by_hand,)
    assert SettingsStore(tmp_path).recognised_on(CALIPER.port) == CALIPER
    assert store.recognised_on(GAUGE.port) is None
    store.forget(CALIPER.port)
    assert store.recognised_on(CALIPER.port) is None


def test_a_file_of_before_knows_nothing_of_what_was_recognised(tmp_path: Path) -> None:
    store = SettingsStore(tmp_path)
    store.remember(CALIPER, recognised=True)
    document = json.loads((tmp_path / FILE_NAME).read_text())
    del document["recognised"]
    (tmp_path / FILE_NAME).write_text(json.dumps(document))
    assert (store.load(), store.recognised_on(CALIPER.port)) == ((CALIPER,), None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", FILE_NAME),
        ("[]", "version 1"),
        ('{"version": 2}', "version 1"),
        ('{"version": 1, "instruments": [{"name": "caliper"}]}', "'caliper'"),
        ('{"version": 1, "instruments": [7]}', "instrument"),
        ("[" * 500_000, FILE_NAME),
        ('{"version": 1, "instruments": ' + "[" * 500_000, FILE_NAME),
    ],
    ids=lambda text: text[:40],
)
def test_a_damaged_file_says_what_is_wrong_and_stays(text: str, words: str, tmp_path: Path) -> None:
    file = tmp_path / FILE_NAME
    file.write_text(text)
    with pytest.raises(BadInputError, match=words):
        SettingsStore(tmp_path).remember(CALIPER)
    assert file.read_text() == text


def test_an_unknown_word_in_the_file_is_named(tmp_path: Path) -> None:
    store = SettingsStore(tmp_path)
    store.remember(CALIPER)
    document = json.loads((tmp_path / FILE_NAME).read_text())
    document["instruments"][0]["sends"] = "pigeon"
    (tmp_path / FILE_NAME).write_text(json.dumps(document))
    with pytest.raises(BadInputError, match="pigeon"):
        store.load()


def test_an_instrument_remembered_under_a_formats_former_name_goes_on(tmp_path: Path) -> None:
    entry = settings_to_json(CALIPER) | {"format_name": "length-4.3"}
    del entry["options"]["axis"], entry["options"]["streams"]  # as older versions wrote it
    assert settings_from_json(entry).format_name == "length-3.3"


@pytest.mark.parametrize(
    ("marks", "name"),
    [({}, "plain"), ({"leading_one": True}, "leading-one"), ({"two_groups": True}, "two-groups")],
)
def test_a_layout_as_older_versions_wrote_it_is_still_that_layout(marks: dict[str, bool], name: str) -> None:
    entry = settings_to_json(CALIPER)
    entry["options"] = {
        "unit": None,
        "angle_range": "signed-180",
        "binary": {"leading_one": False, "sign_bit": 20, "unit_flag": True, "two_groups": False} | marks,
    }
    options = settings_from_json(entry).options
    assert (options.binary, options.binary_proven) == (LAYOUTS[name], True)
