"""Cautions by process; deference to maker, codes and licensed practice always last."""

from __future__ import annotations

import pytest

from core.machine.cautions import cautions_for
from core.machine.profile import MachineProfile, Process


@pytest.mark.parametrize(
    ("process", "wanted", "unwanted"),
    [
        (Process.LASER, {"laser-covers", "laser-mirrors", "laser-material"}, {"blade-out"}),
        (Process.ROUTER, {"blade-out"}, {"laser-covers"}),
        (Process.KNIFE, {"blade-out"}, {"laser-covers"}),
        (Process.PLOTTER, {"blade-out"}, {"laser-covers"}),
        (Process.OTHER, {"blade-out", "laser-covers"}, set()),
    ],
)
def test_each_process_has_its_cautions(process: Process, wanted: set[str], unwanted: set[str]) -> None:
    cautions = cautions_for(MachineProfile(name="m", span_mm=640.0, process=process))
    names = [caution.name for caution in cautions]
    assert wanted | {"power-off", "stored-energy", "slowly"} <= set(names)
    assert not unwanted & set(names)
    assert names[0] == "power-off"
    last = cautions[-1].text
    assert all(words in last for words in ("maker", "warranty", "Local codes", "licensed practice prevail"))
    assert len(set(names)) == len(names)
