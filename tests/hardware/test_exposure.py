"""How much each unit could do if it were taken over, by systemd's own reckoning: 0 is nothing, 10 is all.

Source: `systemd-analyze security --offline`, systemd 252; a later version weighs a little otherwise.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

UNITS = Path(__file__).parents[2] / "hardware" / "systemd"
# The helper mounts, sets the clock and must be seen to: without a mount namespace most directives are not open to it.
# The guard is what no release may bring, and stays as it was installed.
AT_MOST = {
    "cornerwise": 1.8,
    "cornerwise-gadget": 1.1,
    "cornerwise-guard": 5.0,
    "cornerwise-helper": 4.5,
    "cornerwise-shop": 1.7,
    "cornerwise-trial": 1.1,
}
LATER_SYSTEMD = 0.3


def test_every_unit_that_runs_something_has_its_figure() -> None:
    assert {path.stem for path in UNITS.glob("*.service")} == set(AT_MOST)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="there is no systemd here to reckon")
@pytest.mark.parametrize("unit", AT_MOST)
def test_a_unit_may_do_no_more_than_it_has_to(unit: str) -> None:
    command = ["systemd-analyze", "security", "--offline=yes", "--no-pager", str(UNITS / f"{unit}.service")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    found = re.search(r"exposure level for \S+: ([0-9.]+)", done.stdout)
    if found is None:
        pytest.skip(f"this systemd cannot reckon offline: {done.stderr[-200:]}")
    version = subprocess.run(["systemd-analyze", "--version"], capture_output=True, text=True, check=True).stdout
    allowance = LATER_SYSTEMD if int(version.split()[1]) > 252 else 0.0
    assert float(found[1]) <= AT_MOST[unit] + allowance, done.stdout
