"""Draws the sheets of wiring.md and enclosure.md from the tables: `python -m hardware.drawings.make_drawings`.

Stage: hardware, documents only. Input: pins.PINS and electrics. Output: SVG files in hardware/drawings, which are kept
in the repository; a test holds them against the code.
"""

import sys
from collections.abc import Callable
from pathlib import Path

from hardware.drawings.electrics import (
    BASE_OHM,
    BRIDGE_PULL_UP_OHM,
    COLLECTOR_OHM,
    GATE_OHM,
    GATE_PULL_DOWN_OHM,
    INPUT_PULL_UP_OHM,
    INPUT_SERIES_OHM,
    LAMP_FUSE_A,
    LAMP_TABLE,
)
from hardware.drawings.sheet import FAINT, PAPER, Sheet
from hardware.pins import BUTTONS, PIN_OF, PINS, Line

FOLDER = Path(__file__).parent
FILL = {"green": "#3fc49a", "red": "#d9534f", "yellow": "#f6c81f"}
# Power pins of the 40-pin header (from memory of the published drawing; common to all boards).
GROUNDS = (6, 9, 14, 20, 25, 30, 34, 39)
POWER = {1: "3.3 V", 2: "5 V", 4: "5 V", 17: "3.3 V"}
SUPPLY_PIN, PULL_UP_PIN, GROUND_PINS = 2, 17, (14, 30)
WIRED = (SUPPLY_PIN, PULL_UP_PIN, *GROUND_PINS)


def ohms(value: int) -> str:
    """A resistance as printed on a list: '220 Ω', '3.3 kΩ'."""
    return f"{value} Ω" if value < 1000 else f"{value / 1000:g} kΩ"


def header() -> Sheet:
    """The header as seen from above, the board's edge at the right; what is used is marked."""
    sheet = Sheet(640, 590, "40-pin header, seen from above; pin 1 has the square pad")
    used = {pin.header: pin for pin in PINS}
    sheet.box(270, 44, 100, 530, fill="#eef1f3", radius=6)
    for number in range(1, 41):
        row, right = divmod(number - 1, 2)
        x, y = 300 + 40 * right, 64 + 26 * row
        side, anchor = (x + 44, "start") if right else (x - 44, "end")
        pin = used.get(number)
        power = POWER.get(number, "ground" if number in GROUNDS else "")
        fill = "#1f4fc4" if pin else "#55626c" if number in WIRED else PAPER
        if number == 1:
            sheet.box(x - 9, y - 9, 18, 18)
        sheet.disc(x, y, 8, fill=fill)
        sheet.words(x + (17 if right else -17), y + 4, str(number), size=9, anchor=anchor, colour=FAINT)
        if pin:
            sheet.words(side, y + 4, f"{pin.line}  (GPIO{pin.gpio})", size=13, anchor=anchor, bold=True)
        elif power:
            bold = number in WIRED
            sheet.words(side, y + 4, power, size=11, anchor=anchor, bold=bold, colour="#22303a" if bold else FAINT)
    return sheet


def lamps() -> Sheet:
    """The outputs: one switch a lamp, one for the buzzer."""
    sheet = Sheet(900, 340, "Lamps and buzzer: one N-channel MOSFET each, fed from pin 2 through a fuse")
    rail_y, ground_y = 66, 300
    sheet.words(20, rail_y - 8, f"5 V, pin {SUPPLY_PIN}", size=12, bold=True)
    sheet.line((20, rail_y), (130, rail_y))
    sheet.fuse(150, rail_y, f"{LAMP_FUSE_A:g} A, resettable")
    sheet.line((170, rail_y), (860, rail_y))
    loads: list[tuple[Line, str, str]] = [
        (lamp.line, ohms(lamp.series_ohm), FILL[lamp.colour]) for lamp in LAMP_TABLE
    ] + [(Line.BUZZER, "", PAPER)]  # fmt: skip
    for column, (line, series, fill) in enumerate(loads):
        x = 210 + 190 * column
        pin = PIN_OF[line]
        sheet.dot(x + 6, rail_y)
        sheet.line((x + 6, rail_y), (x + 6, 213))
        sheet.lamp(x + 6, 100, fill)
        sheet.words(x + 26, 104, line, size=12, bold=True)
        if series:
            sheet.resistor(x + 6, 160, series, upright=True)
        sheet.mosfet(x, 230)
        sheet.line((x - 120, 230), (x - 17, 230))
        sheet.resistor(x - 60, 230, ohms(GATE_OHM))
        sheet.words(x - 124, 222, f"GPIO{pin.gpio}", size=11)
        sheet.words(x - 124, 248, f"pin {pin.header}", size=11)
        sheet.dot(x - 30, 230)
        sheet.line((x - 30, 230), (x - 30, 290), (x + 6, 290))
        sheet.resistor(x - 30, 262, "", upright=True)
        sheet.words(x - 42, 280, ohms(GATE_PULL_DOWN_OHM), size=11, anchor="end")
        sheet.line((x + 6, 247), (x + 6, ground_y))
        sheet.ground(x + 6, ground_y)
    sheet.words(
        20,
        330,
        f"Ground: pin {GROUND_PINS[0]}. Lamps are LEDs, plus (+) at the 5 V side. "
        "The buzzer is a 5 V piezo buzzer with its own oscillator.",
        size=12,
    )
    return sheet


def contacts() -> Sheet:
    """The inputs: pull-up, filter and protection, the same for all three."""
    sheet = Sheet(900, 330, "Pedal and buttons: normally open contacts to ground, the same three times")
    rail_y = 66
    sheet.words(20, rail_y - 8, f"3.3 V, pin {PULL_UP_PIN}", size=12, bold=True)
    sheet.line((20, rail_y), (860, rail_y))
    for column, line in enumerate(BUTTONS):
        x = 70 + 290 * column
        pin = PIN_OF[line]
        sheet.words(x - 50, 150, f"GPIO{pin.gpio}", size=11)
        sheet.words(x - 50, 178, f"pin {pin.header}", size=11)
        sheet.line((x - 50, 160), (x + 190, 160), (x + 190, 200))
        sheet.dot(x + 20, 160)
        sheet.line((x + 20, 160), (x + 20, 238))
        sheet.capacitor(x + 20, 210, "100 nF")
        sheet.line((x + 20, 213), (x + 20, 250))
        sheet.ground(x + 20, 250)
        sheet.resistor(x + 80, 160, ohms(INPUT_SERIES_OHM))
        sheet.dot(x + 125, 160)
        sheet.line((x + 125, rail_y), (x + 125, 160))
        sheet.dot(x + 125, rail_y)
        sheet.resistor(x + 125, 110, ohms(INPUT_PULL_UP_OHM), upright=True)
        sheet.line((x + 125, 160), (x + 125, 250))
        sheet.box(x + 117, 195, 16, 22)
        sheet.line((x + 117, 195), (x + 133, 217), width=1.2)
        sheet.words(x + 113, 234, "ESD diode", size=11, anchor="end")
        sheet.ground(x + 125, 250)
        sheet.contact(x + 190, 200)
        sheet.line((x + 190, 218), (x + 190, 250))
        sheet.ground(x + 190, 250)
        sheet.words(x + 190, 148, line, size=13, bold=True, anchor="middle")
    sheet.words(
        20,
        300,
        f"Ground: pin {GROUND_PINS[1]}. Resistors, capacitor and ESD diode sit on the board side of the plug;",
        size=12,
    )
    sheet.words(20, 318, "the pedal's cable is shielded, its shield on ground at the box only.", size=12)
    return sheet


def bridge() -> Sheet:
    """The microcontroller bridge: an open-drain instrument straight, a 1.5 V instrument through transistors."""
    sheet = Sheet(900, 470, "Bridge (RP2040): a 52-bit instrument at GP2 to GP4, a 24-bit one at GP6 and GP7")
    sheet.box(360, 60, 150, 380, fill="#eef1f3", radius=6)
    sheet.words(435, 90, "RP2040 board", size=13, anchor="middle", bold=True)
    sheet.words(435, 424, "USB to the Pi", size=12, anchor="middle")
    sheet.words(30, 66, "52-bit output, open drain", size=13, bold=True)
    for y, name, pin in ((130, "DATA", "GP2"), (180, "CK", "GP3"), (230, "REQ", "GP4")):
        sheet.words(30, y + 4, name, size=12, bold=True)
        sheet.line((80, y), (360, y))
        sheet.words(368, y + 4, pin, size=12)
    for x, y in ((200, 130), (270, 180)):
        sheet.dot(x, y)
        sheet.line((x, 80), (x, y))
        sheet.resistor(x, 106, ohms(BRIDGE_PULL_UP_OHM), upright=True)
    sheet.line((180, 80), (300, 80))
    sheet.words(306, 84, "3.3 V", size=12)
    sheet.words(84, 256, "REQ is pulled up to 1.5 V inside the instrument:", size=11)
    sheet.words(84, 272, "the bridge only pulls it low or lets it go.", size=11)
    sheet.line((80, 300), (340, 300), (340, 320))
    sheet.ground(340, 320)
    sheet.words(30, 304, "ground", size=12, bold=True)
    sheet.words(560, 66, "24-bit output, 1.5 V", size=13, bold=True)
    for y, name, pin in ((160, "DATA", "GP6"), (320, "CK", "GP7")):
        sheet.words(510 - 8, y + 4, pin, size=12, anchor="end")
        # The stage is drawn from the instrument at the right to the board at the left.
        sheet.line((510, y), (638, y), (638, y + 33))
        sheet.dot(540, y)
        sheet.line((540, y - 60), (540, y))
        sheet.resistor(540, y - 32, ohms(COLLECTOR_OHM), upright=True)
        sheet.words(526, y - 64, "3.3 V", size=12)
        sheet.npn(632, y + 50)
        sheet.line((638, y + 67), (638, y + 76))
        sheet.ground(638, y + 76)
        sheet.line((615, y + 50), (600, y + 50), (600, y + 100), (860, y + 100))
        sheet.resistor(720, y + 100, ohms(BASE_OHM))
        sheet.words(850, y + 92, name, size=12, anchor="end", bold=True)
    sheet.words(540, 458, "NPN, small signal, gain 100 or more; each stage inverts", size=11)
    sheet.words(850, 120, "ground to ground", size=11, anchor="end")
    return sheet


def enclosure() -> Sheet:
    """Front and side of the box, in millimetres, for a 5-inch display; other displays change the cut-out only."""
    sheet = Sheet(900, 470, "Enclosure: front (left) and side (right), millimetres, for a 5-inch 800 x 480 display")
    scale, left, top = 2.6, 40, 90
    sheet.box(left, top, 180 * scale, 120 * scale, fill="#eef1f3", radius=10)
    sheet.box(left + 14 * scale, top + 38 * scale, 109 * scale, 66 * scale, fill="#cfd8dd")
    sheet.words(left + 68 * scale, top + 74 * scale, "display cut-out 109 x 66", size=12, anchor="middle")
    for column, lamp in enumerate(LAMP_TABLE):
        x, y = left + (34 + 56 * column) * scale, top + 18 * scale
        sheet.disc(x, y, 11 * scale, fill=FILL[lamp.colour])
        mark(sheet, x + 15.5 * scale, y, lamp.mark)
        sheet.words(x, y - 13 * scale, lamp.line.removeprefix("lamp ").upper(), size=11, anchor="middle", bold=True)
    for row, line in enumerate((Line.CONFIRM, Line.VOID)):
        x, y = left + 151 * scale, top + (52 + 34 * row) * scale
        sheet.disc(x, y, 8 * scale)
        sheet.words(x, y + 13 * scale, line, size=12, anchor="middle", bold=True)
    sheet.span(left, top + 128 * scale, left + 180 * scale, top + 128 * scale, "180")
    sheet.span(left + 187 * scale, top, left + 187 * scale, top + 120 * scale, "120")
    side, foot = 600, top + 290
    # The front is 120 long at 60 degrees: 60 deep, 104 high.
    slope = [(side, foot), (side + 30, foot - 270), (side + 90, foot - 270), (side + 246, foot), (side, foot)]
    sheet.line(*slope)
    sheet.words(side + 186, foot - 150, "front at 60°:", size=11)
    sheet.words(side + 186, foot - 134, "no glare, and no", size=11)
    sheet.words(side + 186, foot - 118, "dust lies on it", size=11)
    sheet.span(side, foot + 24, side + 246, foot + 24, "95")
    for x, text in ((side + 34, "USB"), (side + 94, "power"), (side + 154, "pedal")):
        sheet.disc(x, foot - 36, 9)
        sheet.words(x, foot - 14, text, size=10, anchor="middle")
    sheet.words(side, foot + 50, "Sockets at the back, facing down: chips fall past them.", size=11)
    sheet.words(side, foot + 66, "Cables leave through glands, tied 50 mm inside.", size=11)
    return sheet


def mark(sheet: Sheet, x: float, y: float, name: str) -> None:
    """The engraved mark of a lamp: says the same as its colour to eyes that do not tell colours apart."""
    match name:
        case "disc":
            sheet.disc(x, y, 9)
        case "crossed square":
            sheet.box(x - 9, y - 9, 18, 18)
            sheet.line((x - 9, y - 9), (x + 9, y + 9))
            sheet.line((x - 9, y + 9), (x + 9, y - 9))
        case _:
            sheet.line((x, y - 12), (x + 12, y), (x, y + 12), (x - 12, y), (x, y - 12), (x, y + 12))


SHEETS: dict[str, Callable[[], Sheet]] = {
    "header.svg": header,
    "lamps.svg": lamps,
    "contacts.svg": contacts,
    "bridge.svg": bridge,
    "enclosure.svg": enclosure,
}


def main() -> int:
    """Write every sheet."""
    FOLDER.mkdir(exist_ok=True)
    for name, draw in SHEETS.items():
        (FOLDER / name).write_text(draw().svg(), encoding="utf-8")
        print(f"hardware/drawings/{name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
