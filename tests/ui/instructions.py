"""What a canvas of Kivy's holds."""

from __future__ import annotations

from kivy.graphics.instructions import Instruction, InstructionGroup


def instructions_of(group: InstructionGroup) -> list[Instruction]:
    """Every instruction and group below a canvas, in the order in which they are drawn."""
    found: list[Instruction] = []
    for one in group.children:
        found.append(one)
        found += instructions_of(one) if isinstance(one, InstructionGroup) else []
    return found
