"""What the instruments would say of many shapes at once: core's formulas, given arrays instead of floats."""

from __future__ import annotations

import numpy as np

from core.geometry.coupon import Coupon
from core.geometry.shape import SHAPE_PARAMETERS, FloatArray
from core.metrology.accuracy import MeasuringSetup
from core.metrology.measuring_model import PARAMETERS, instrument_jacobian, reading_rows


def many_predicted_readings(
    coupon: Coupon, parameters: FloatArray, setup: MeasuringSetup
) -> tuple[FloatArray, FloatArray]:
    """Parameters (m, 8) of one nominal size to values (m, 10) and Jacobians (m, 10, 8)."""
    a, b, g, tx, ty = np.ascontiguousarray(parameters[:, :SHAPE_PARAMETERS].T)
    columns, rows = reading_rows(coupon, (a, b, g, tx, ty), setup, np.hypot, np.arctan2)
    jacobian = np.empty((len(parameters), len(columns), len(PARAMETERS)))
    for place, row in enumerate(rows):
        for parameter, slope in enumerate(row):
            jacobian[:, place, parameter] = slope
    jacobian[..., SHAPE_PARAMETERS:] = instrument_jacobian()
    return np.stack(columns, axis=-1) + parameters[:, SHAPE_PARAMETERS:] @ instrument_jacobian().T, jacobian
