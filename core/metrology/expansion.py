"""Sizes at 20 degrees Celsius: the difference between the expansion of the coupon and that of the caliper.

Stage: on the size characteristics only; equal expansion in X and Y turns no corner. In: material, temperature of the
bench that coupon and caliper share, each with its uncertainty. Out: a length at the reference temperature of ISO 1.
Model after JCGM 100:2008 (GUM), example H.1, with one common temperature.
"""

import math

from msgspec import Struct

from core.errors import BadInputError
from core.metrology.adjustment import Estimate
from core.said import Name, Number, Said, said

REFERENCE_TEMPERATURE_C = 20.0  # ISO 1


class Material(Struct, frozen=True, kw_only=True):
    """Coefficient of linear expansion per kelvin; `half_width` is that of the rectangular spread between sources."""

    name: str
    label: Said
    expansion_per_k: float
    half_width_per_k: float

    @property
    def u_per_k(self) -> float:
        """Standard uncertainty of the coefficient."""
        return self.half_width_per_k / math.sqrt(3.0)


# Middle and half-width of the ranges that tables give. Steel: GUM H.1 (11.5, half-width 2). Acrylic 68 to 75, aluminium
# 21 to 24: from memory. Wood panels: common practice, from memory; moisture moves them far more than heat.
MATERIALS = {
    material.name: material
    for material in (
        Material(name="steel", label=said("steel"), expansion_per_k=11.5e-6, half_width_per_k=2.0e-6),
        Material(name="aluminium", label=said("aluminium"), expansion_per_k=22.5e-6, half_width_per_k=1.5e-6),
        Material(name="acrylic", label=said("acrylic"), expansion_per_k=71.5e-6, half_width_per_k=3.5e-6),
        Material(name="plywood", label=said("plywood"), expansion_per_k=6.0e-6, half_width_per_k=3.0e-6),
    )
}
CALIPER_MATERIAL = MATERIALS["steel"]


class ExpansionDifference(Struct, frozen=True, kw_only=True):
    """What the bench's temperature does to a length read there; `difference` is relative, `u` its uncertainty.

    `material` of the coupon and `temperature_c` of the bench are what it was made from.
    """

    difference: float
    u: float
    material: str
    temperature_c: float

    def at_reference(self, length: Estimate) -> Estimate:
        """The length at 20 degrees Celsius from the length as read; its uncertainty grows by that of the expansion."""
        factor = 1.0 / (1.0 + self.difference)
        u = math.hypot(length.u * factor, length.value * factor**2 * self.u)
        # What the temperature adds is taken as known: the degrees of freedom grow (JCGM 100, G.4.1).
        nu = length.nu * (u / (length.u * factor)) ** 4 if length.u > 0.0 else length.nu
        return Estimate(value=length.value * factor, u=u, nu=nu)


def expansion_difference(
    material: str, temperature_c: float, *, u_temperature_k: float = 1.0, caliper: Material = CALIPER_MATERIAL
) -> ExpansionDifference:
    """Expansion of the coupon less that of the caliper, from 20 degrees Celsius to the bench's temperature.

    `u_temperature_k` is the standard uncertainty of the temperature they share. Raises BadInputError for an unknown
    material or a temperature no workshop has.
    """
    if material not in MATERIALS:
        known = Name(", ".join(sorted(MATERIALS)))
        raise BadInputError(
            said("material '{material}': it must be one of {known}", material=Name(material), known=known)
        )
    if not -20.0 <= temperature_c <= 60.0:
        given = Number(temperature_c)
        raise BadInputError(said("temperature {given}: it must lie between −20 and 60 degrees Celsius", given=given))
    coupon = MATERIALS[material]
    rise_k = temperature_c - REFERENCE_TEMPERATURE_C
    per_k = coupon.expansion_per_k - caliper.expansion_per_k
    u_per_k = math.hypot(coupon.u_per_k, caliper.u_per_k)
    return ExpansionDifference(
        difference=per_k * rise_k,
        u=math.hypot(u_per_k * rise_k, per_k * u_temperature_k),
        material=material,
        temperature_c=temperature_c,
    )
