"""The guarded decision on a characteristic, and on the coupon."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """What is said of a characteristic or a coupon."""

    GO = "go"
    NO_GO = "no-go"
    UNDECIDED = "undecided"
    INCONSISTENT = "inconsistent"


class CharacteristicGroup(StrEnum):
    """Squareness is the headline; size has a verdict of its own; information is not judged."""

    SQUARENESS = "squareness"
    SIZE = "size"
    INFORMATION = "information"


@dataclass(frozen=True, slots=True, kw_only=True)
class Characteristic:
    """A quantity with a tolerance. `value`, `lower`, `upper` and the standard uncertainty `u` are in `unit`.

    `lower` and `upper` are None for information only; `name` is stable (`perpendicularity-nl`, `corner-nl`,
    `diagonal-difference`, `edge-near`, ...).
    """

    name: str
    label: str
    group: CharacteristicGroup
    unit: str
    value: float
    u: float
    nominal: float
    lower: float | None
    upper: float | None
    verdict: Verdict
    conformance_probability: float | None
