"""What the snapshot says of the machines: profiles, the one in use, its log, and the correction under way."""

from __future__ import annotations

from dataclasses import dataclass

from core.machine.gantry_correction import Correction, Refusal
from core.machine.guided_correction import GuidedState
from core.machine.machine_log import LogEntry
from core.machine.profile import MachineProfile


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinesSlice:
    """`current` is the machine chosen or used last, `log` its own. `correction` is what the coupon on the bench calls
    for, None without a coupon or a span; `guided` the correction under way, None when there is none."""

    profiles: tuple[MachineProfile, ...] = ()
    current: MachineProfile | None = None
    log: tuple[LogEntry, ...] = ()
    guided: GuidedState | None = None
    correction: Correction | Refusal | None = None
