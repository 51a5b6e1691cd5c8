"""The cautions as pictures: the thing itself, drawn so large that it is what a finger touches to confirm it.

Drawn for this bench; signs of standards (ISO 7010) are not copied, for what is shown is an action, not a place.
"""

from ui.touch.pictures.strokes import Circle, Fill, Picture, Role, arrow, box, crossed_out, frame, line

# A wall socket, its plug lying apart from it in sight.
PLUG_OUT: Picture = (
    frame(8, 50, 34, 40, line=4.0),
    Circle(centre=(25, 70), radius=12, width=3.0),
    Circle(centre=(20, 70), radius=2.2),
    Circle(centre=(30, 70), radius=2.2),
    Fill(points=((54, 22), (76, 22), (82, 30), (82, 42), (76, 50), (54, 50))),
    line((42, 29), (54, 29), width=4.0),
    line((42, 43), (54, 43), width=4.0),
    line((82, 36), (90, 36), (94, 24), (92, 10), (70, 6), width=4.0),
    *arrow((30, 46), (46, 38), width=3.0),
)

# A spindle nose with its cutter beside it.
CUTTER_OUT: Picture = (
    box(30, 58, 40, 34),
    box(38, 48, 24, 10, Role.QUIET),
    line((44, 42), (44, 32), role=Role.QUIET, width=2.0),
    line((56, 42), (56, 32), role=Role.QUIET, width=2.0),
    box(74, 10, 8, 26, Role.DANGER),
    Fill(points=((74, 10), (82, 10), (78, 2)), role=Role.DANGER),
    box(72, 36, 12, 8),
    *arrow((50, 44), (50, 14), width=4.0),
)

# A spring held down, and the arrow it would make.
STORED_ENERGY: Picture = (
    box(14, 8, 72, 6),
    line((34, 14), (66, 22), (34, 30), (66, 38), (34, 46), (66, 54), (50, 58), width=4.0),
    box(30, 58, 40, 5),
    *arrow((50, 66), (50, 96), role=Role.DANGER, width=6.0),
)

# A hand laid on the gantry, and a short slow way.
SLOWLY: Picture = (
    frame(10, 14, 80, 72, role=Role.QUIET, line=2.0),
    box(10, 46, 80, 9),
    *arrow((50, 58), (50, 76), width=5.0),
    line((30, 68), (30, 60), role=Role.QUIET, width=2.0),
    line((70, 68), (70, 60), role=Role.QUIET, width=2.0),
    box(40, 22, 20, 16, Role.DANGER),
    Circle(centre=(50, 30), radius=5, role=Role.PAPER, width=2.0),
    line((40, 26), (30, 26), role=Role.DANGER, width=2.0),
    line((40, 34), (30, 34), role=Role.DANGER, width=2.0),
)

# Safety glasses in front of a beam that stops at them.
EYEWEAR: Picture = (
    line((4, 78), (96, 78), role=Role.QUIET, width=2.0),
    Fill(points=((10, 34), (44, 34), (47, 46), (44, 62), (8, 62), (6, 46)), role=Role.GOOD),
    Fill(points=((56, 34), (90, 34), (94, 46), (92, 62), (56, 62), (53, 46)), role=Role.GOOD),
    line((44, 56), (56, 56), width=5.0),
    line((6, 60), (2, 72), width=4.0),
    line((94, 60), (98, 72), width=4.0),
    line((50, 96), (50, 80), role=Role.DANGER, width=5.0),
    line((40, 92), (46, 84), role=Role.DANGER, width=3.0),
    line((60, 92), (54, 84), role=Role.DANGER, width=3.0),
)

# A beam turned by a mirror that stands askew to where it should go.
MIRRORS: Picture = (
    line((4, 70), (52, 70), role=Role.DANGER, width=4.0),
    line((52, 70), (66, 10), role=Role.DANGER, width=4.0),
    line((52, 70), (52, 10), role=Role.QUIET, width=2.0),
    line((38, 84), (66, 56), width=7.0),
    Circle(centre=(74, 84), radius=8, width=3.0),
    line((74, 84), (84, 94), width=3.0),
)

# A sheet of unknown plastic, smoke, crossed out.
MATERIAL: Picture = (
    Fill(points=((8, 18), (80, 18), (92, 34), (20, 34)), role=Role.QUIET),
    line((40, 40), (34, 50), (44, 60), (38, 72), role=Role.QUIET, width=4.0),
    line((56, 40), (50, 50), (60, 60), (54, 72), role=Role.QUIET, width=4.0),
    *crossed_out(),
)

# An open book: the maker's.
MAKER_FIRST: Picture = (
    Fill(points=((10, 22), (48, 16), (48, 74), (10, 80)), role=Role.PAPER),
    Fill(points=((52, 16), (90, 22), (90, 80), (52, 74)), role=Role.PAPER),
    line((50, 14), (50, 74), width=4.0),
    line((50, 14), (10, 21), (10, 80), (50, 73), (90, 80), (90, 21), (50, 14), width=3.0),
    *(line((17, y + 3), (42, y), role=Role.QUIET, width=2.5) for y in (36, 48, 60)),
    *(line((58, y), (83, y + 3), role=Role.QUIET, width=2.5) for y in (36, 48, 60)),
)

# A hand drawn back out of a machine.
HANDS_OUT: Picture = (
    frame(6, 10, 44, 76, line=4.0),
    line((14, 48), (42, 48), role=Role.QUIET, width=5.0),
    box(64, 40, 26, 18),
    *(line((64, y), (52, y), width=4.0) for y in (42, 47, 52, 57)),
    line((70, 58), (64, 68), width=4.5),
    *arrow((62, 24), (94, 24), width=5.0),
)

# An extinguisher beside the machine that somebody looks at.
NEVER_ALONE: Picture = (
    box(62, 10, 22, 52, Role.DANGER),
    box(68, 62, 10, 8),
    line((78, 68), (92, 60), (92, 40), width=3.0),
    Circle(centre=(26, 78), radius=11),
    Fill(points=((8, 10), (44, 10), (40, 62), (12, 62))),
    line((40, 52), (54, 44), width=5.0),
)

# Glasses, ear cups, and a clamp that holds the piece.
ROUTER_PROTECTION: Picture = (
    Circle(centre=(50, 56), radius=30, width=4.0),
    box(14, 44, 10, 26, Role.GOOD),
    box(76, 44, 10, 26, Role.GOOD),
    line((18, 70), (26, 88), (50, 94), (74, 88), (82, 70), role=Role.GOOD, width=4.0),
    box(28, 56, 18, 12, Role.GOOD),
    box(54, 56, 18, 12, Role.GOOD),
    line((46, 62), (54, 62), width=3.0),
    line((40, 38), (60, 38), width=3.0),
    box(20, 6, 60, 8, Role.QUIET),
)

# A sheet under two clamps, a knife, and the hand that stays beside.
BLADE_HELD: Picture = (
    box(8, 14, 84, 8, Role.QUIET),
    box(16, 22, 68, 5),
    Fill(points=((46, 27), (54, 42), (54, 86), (42, 86), (42, 42)), role=Role.DANGER),
    box(12, 27, 10, 12, Role.GOOD),
    box(78, 27, 10, 12, Role.GOOD),
    *arrow((62, 60), (92, 60), width=5.0),
)

# By the caution's name, as it stands in the machine log.
CAUTION_PICTURES: dict[str, Picture] = {
    "power-off": PLUG_OUT,
    "still-off": PLUG_OUT,
    "stored-energy": STORED_ENERGY,
    "slowly": SLOWLY,
    "blade-out": CUTTER_OUT,
    "hands-out": HANDS_OUT,
    "laser-covers": EYEWEAR,
    "laser-mirrors": MIRRORS,
    "laser-cutting": NEVER_ALONE,
    "laser-material": MATERIAL,
    "router-cutting": ROUTER_PROTECTION,
    "blade-cutting": BLADE_HELD,
    "maker-first": MAKER_FIRST,
}
