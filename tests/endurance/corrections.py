"""Random machines measured with noise, corrected by what the sentence says, cut and measured again.

PYTHONPATH=. python tests/endurance/corrections.py [machines]

Prints how often the true move lies inside the stated U, how often one correction makes the machine go, how often a
correction made the wrong way round is said to be, and how often a right one is wrongly accused.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "core" / "machine"))

from conftest import SimulatedMachine, read_coupon

from core.geometry.coupon import Coupon
from core.geometry.features import DIAGONALS, EDGES, TEN_FEATURES
from core.machine.before_after import Outcome, before_after
from core.machine.directions import Axis, Front
from core.machine.gantry_correction import Correction, gantry_correction
from core.machine.holding import HowHeld
from core.machine.profile import MachineProfile
from core.metrology.accuracy import MeasuringSetup
from core.metrology.evaluation import Evaluation, evaluate
from core.metrology.tolerances import limits_for_class
from core.metrology.verdict import Verdict
from core.metrology.witness import Answers, MarkSeen

# What told the direction is not what is counted here: a trial step that came as foretold.
MARK_AT_NL = Answers(mark=MarkSeen.NL, foretold=True)

SETUP = MeasuringSetup()
HELD = [held for held in HowHeld if held is not HowHeld.NOT_ADJUSTABLE]


def measured(machine: SimulatedMachine, coupon: Coupon, rng: np.random.Generator) -> Evaluation:
    readings = read_coupon(machine.cut(coupon), (*TEN_FEATURES, *DIAGONALS, *EDGES), SETUP, rng)
    return evaluate(coupon, readings, limits_for_class(coupon, "mK"), SETUP)


def random_machine(rng: np.random.Generator) -> tuple[SimulatedMachine, Coupon, float]:
    profile = MachineProfile(
        name="m",
        span_mm=float(np.exp(rng.uniform(np.log(200.0), np.log(3000.0)))),
        gantry_axis=Axis(rng.choice(list(Axis))),
        front=Front(rng.choice(list(Front))),
        held=HowHeld(rng.choice(HELD)),
    )
    machine = SimulatedMachine(
        profile=profile,
        scale_x=1.0 + rng.normal(0.0, 0.001),
        scale_y=1.0 + rng.normal(0.0, 0.001),
        kerf_mm=abs(rng.normal(0.0, 0.1)),
        taper_x=rng.normal(0.0, 0.0003),
        taper_y=rng.normal(0.0, 0.0003),
    )
    skew_deg = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.15, 1.5))
    machine.rack(skew_deg)
    coupon = Coupon(width_mm=float(rng.uniform(60.0, 180.0)), height_mm=float(rng.uniform(60.0, 180.0)))
    return machine, coupon, skew_deg


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(7)
    said: Counter[str] = Counter()
    covered, foretold = [], []
    for _ in range(count):
        machine, coupon, skew_deg = random_machine(rng)
        before = measured(machine, coupon, rng)
        correction = gantry_correction(before, machine.profile, answers=MARK_AT_NL, setup=SETUP)
        if not isinstance(correction, Correction):
            said[f"refused: {correction.reason}"] += 1
            continue
        true_move_mm = machine.profile.span_mm * math.tan(math.radians(abs(skew_deg)))
        covered.append(abs(correction.move_mm.value - true_move_mm) <= correction.move_mm.U95)
        stood = list(machine.ends)
        machine.do_as_told(str(correction.text))
        said["away from square"] += abs(machine.skew_deg) > abs(skew_deg)
        after = measured(machine, coupon, rng)
        proof = before_after(before, [after], correction)
        said[f"right way: {proof.outcome}"] += 1
        said["go after one correction"] += after.verdict is Verdict.GO
        foretold += [reading.agrees for reading in proof.foretold]
        machine.ends = stood
        machine.do_as_told(str(correction.text), share=-1.0)
        wrong = before_after(before, [measured(machine, coupon, rng)], correction)
        said[f"wrong way: {wrong.outcome}"] += 1
        said["wrong way said"] += wrong.outcome is Outcome.WRONG_WAY
    corrections = len(covered)
    print(f"{count} machines, {corrections} corrections, spans 200 to 3000 mm, skew 0.15 to 1.5 degrees")
    print(f"true move inside U: {np.mean(covered):.1%} (95 % wanted)")
    print(f"foretold readings that agree: {np.mean(foretold):.2%} (99.5 % each wanted)")
    for words, times in sorted(said.items()):
        print(f"  {words:40} {times:6}  {times / (count if words.startswith('refused') else corrections):.1%}")


if __name__ == "__main__":
    main()
