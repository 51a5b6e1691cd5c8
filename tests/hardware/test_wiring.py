"""wiring.md, the drawings and the code say the same: pins, resistors, currents, and what the bridge's board expects."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hardware.drawings.electrics import (
    INPUT_LOW_MAX_V,
    LAMP_FUSE_A,
    LAMP_TABLE,
    POWER_BUDGET,
    contact_current_a,
    filter_s,
    forced_gain,
    lamp_test_a,
    load_on_instrument_a,
    pressed_level_v,
    supply_a,
)
from hardware.drawings.make_drawings import FOLDER, GROUND_PINS, PULL_UP_PIN, SHEETS, SUPPLY_PIN, ohms
from hardware.panel import DEBOUNCE_S
from hardware.pins import PINS, Line

ROOT = Path(__file__).resolve().parents[2]
WIRING = (ROOT / "hardware/wiring.md").read_text(encoding="utf-8")
FLAT = " ".join(WIRING.split())


def rows(first_heading: str) -> list[list[str]]:
    """The cells of the table whose first column has this heading."""
    lines = WIRING.splitlines()
    begin = next(number for number, line in enumerate(lines) if line.startswith(f"| {first_heading} |"))
    table = []
    for line in lines[begin + 2 :]:
        if not line.startswith("|"):
            break
        table.append([cell.strip() for cell in line.strip("|").split("|")])
    return table


def test_the_table_of_pins_is_the_one_in_the_code() -> None:
    said = [(line, int(gpio), int(pin), way == "out") for line, gpio, pin, way, _ in rows("line")]
    assert said == [(str(pin.line), pin.gpio, pin.header, pin.output) for pin in PINS]


def test_power_comes_from_the_pins_that_are_drawn() -> None:
    first, second = GROUND_PINS
    assert f"5 V from pin {SUPPLY_PIN}, 3.3 V from pin {PULL_UP_PIN}, ground from pins {first} and {second}" in FLAT


def test_the_lamps_currents_are_those_worked_out() -> None:
    said = rows("lamp")
    assert said == [
        [
            lamp.line.removeprefix("lamp "),
            lamp.colour,
            lamp.mark,
            f"{lamp.forward_v:.1f} V",
            ohms(lamp.series_ohm),
            f"{lamp.current_a * 1e3:.1f} mA",
        ]
        for lamp in LAMP_TABLE
    ]


def test_a_lamps_current_is_ohms_law() -> None:
    # By hand: 5 V less 2.0 V for a red LED less 0.1 V over the MOSFET, through 220 ohm.
    red = next(lamp for lamp in LAMP_TABLE if lamp.line is Line.LAMP_NO_GO)
    assert red.current_a == pytest.approx(2.9 / 220)


def test_the_sentences_numbers_are_those_worked_out() -> None:
    assert f"{lamp_test_a() * 1e3:.0f} mA together" in FLAT
    assert lamp_test_a() < LAMP_FUSE_A / 2
    assert f"give {contact_current_a() * 1e3:.1f} mA through the contact" in FLAT
    assert f"the input sees {pressed_level_v():.2f} V" in FLAT
    assert pressed_level_v() < INPUT_LOW_MAX_V / 2
    assert f"({filter_s() * 1e3:.2f} ms)" in FLAT
    assert f"after {DEBOUNCE_S * 1e3:.0f} ms" in FLAT
    assert f"with {load_on_instrument_a() * 1e6:.0f} µA a line" in FLAT
    assert f"no more than {forced_gain():.0f} times" in FLAT
    assert f"At worst {supply_a():.1f} A" in FLAT


def test_the_power_budget_is_the_one_in_the_code() -> None:
    assert rows("what") == [[what, f"{typical:.2f} A", f"{worst:.2f} A"] for what, typical, worst in POWER_BUDGET]


def test_the_bridge_is_wired_as_its_program_expects() -> None:
    program = (ROOT / "firmware_bridge/pico/main.py").read_text(encoding="utf-8")
    (spc_data, request), (binary_data,) = (
        [int(number) for number in re.search(rf"{name}\(\d+, ([\d, ]+)\)", program)[1].split(",")]  # type: ignore[index]
        for name in ("SpcSampler", "BinarySampler")
    )
    said = {(instrument, line): board.split(",")[0] for instrument, line, board in rows("instrument")}
    assert said == {
        ("52-bit output", "DATA"): f"GP{spc_data}",
        ("52-bit output", "CK"): f"GP{spc_data + 1}",
        ("52-bit output", "REQ"): f"GP{request}",
        ("24-bit output", "DATA"): f"GP{binary_data}",
        ("24-bit output", "CK"): f"GP{binary_data + 1}",
    }
    drawn = (FOLDER / "bridge.svg").read_text(encoding="utf-8")
    assert all(f">{board}<" in drawn for board in said.values())


@pytest.mark.parametrize("name", SHEETS)
def test_the_drawings_in_the_repository_are_those_the_code_draws(name: str) -> None:
    assert (FOLDER / name).read_text(encoding="utf-8") == SHEETS[name]().svg(), (
        "run: python -m hardware.drawings.make_drawings"
    )


def test_every_line_of_the_panel_is_drawn() -> None:
    header = SHEETS["header.svg"]().svg()
    schematics = SHEETS["lamps.svg"]().svg() + SHEETS["contacts.svg"]().svg()
    for pin in PINS:
        assert f"{pin.line}  (GPIO{pin.gpio})" in header
        assert f">GPIO{pin.gpio}<" in schematics
        assert f">pin {pin.header}<" in schematics


@pytest.mark.parametrize("page", ["wiring.md", "parts.md", "enclosure.md"])
def test_pages_show_only_drawings_that_exist(page: str) -> None:
    text = (ROOT / "hardware" / page).read_text(encoding="utf-8")
    assert all((ROOT / "hardware" / drawing).is_file() for drawing in re.findall(r"\]\(([^)]+\.svg)\)", text))
    assert page == "parts.md" or "licensed" in text
