"""From verdict to wrench: the machine, its gantry, its belts, and proof of the repair."""
