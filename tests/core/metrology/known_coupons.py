"""Readings of coupons of known true shape, for the tests of the judgement: exact, or as instruments would say them."""

from __future__ import annotations

import math

import numpy as np

from core.geometry.features import TEN_FEATURES
from core.metrology.accuracy import MeasuringSetup
from core.metrology.measuring_model import predicted_readings
from tests.core.metrology.simulated_readings import HOUSE_COUPON as HOUSE, reading

__all__ = ["HOUSE", "SETUP", "exact_readings", "reading", "shape"]

SETUP = MeasuringSetup()


def shape(*, skew_deg=0.0, scale_x=0.0, scale_y=0.0, taper_x=0.0, taper_y=0.0, caliper_zero_mm=0.0, gauge_zero_deg=0.0):
    """Parameter vector (8,) of a coupon with this skew and these scales."""
    skew = math.radians(skew_deg)
    length_y = 1.0 + scale_y
    return np.array(
        [
            scale_x,
            length_y * math.cos(skew) - 1.0,
            length_y * math.sin(skew),
            taper_x,
            taper_y,
            caliper_zero_mm,
            0.0,
            gauge_zero_deg,
        ]
    )


def exact_readings(parameters, features=TEN_FEATURES, coupon=HOUSE, setup=SETUP):
    """What perfect instruments with these zeros would read of these features."""
    values, _ = predicted_readings(coupon, parameters, setup)
    exact = dict(zip(TEN_FEATURES, values, strict=True))
    return [reading(feature, float(exact[feature])) for feature in features]
