"""The next coupon foretold: what the ten features should read after a correction, to hold the re-cut against.

Stage: correction. Input: the adjustment of the coupon just measured, and the skew that is to be left. Output: ten
predicted readings with standard uncertainty. Turning the gantry leaves the lengths along X and Y, the tapers and the
instruments' errors as they are; only the skew changes. Propagation by JCGM 100:2008, 5.2.
"""

import math

from msgspec import Struct

from core.geometry import TEN_FEATURES, Feature, scale_y, skew_deg
from core.metrology import PARAMETERS, Adjustment, Estimate, MeasuringSetup, predicted_readings
from core.numeric import np

_B, _G = PARAMETERS.index("scale_b"), PARAMETERS.index("shear_g")


class PredictedReading(Struct, frozen=True, kw_only=True):
    """What one feature of the next coupon should read once; `reading` in mm or degrees, its u includes the reading."""

    feature: Feature
    reading: Estimate


def predict_next(
    adjustment: Adjustment, setup: MeasuringSetup, left_skew_deg: float, setting_u_deg: float
) -> tuple[PredictedReading, ...]:
    """Ten predicted readings after the estimated skew, less `left_skew_deg`, has been taken out.

    `setting_u_deg` is the standard uncertainty with which the correction can be set.
    """
    parameters = np.array(adjustment.parameters)
    length_y, length_gradient = scale_y(parameters)
    length_y += 1.0
    _, skew_gradient = skew_deg(parameters)
    left = math.radians(left_skew_deg)
    parameters[_B] = length_y * math.cos(left) - 1.0
    parameters[_G] = length_y * math.sin(left)
    # The true skew less the estimated one stays: the new b and g move with the old ones through length and skew.
    turn = np.eye(len(PARAMETERS))
    skew_row = np.radians(skew_gradient)
    turn[_B, :5] = math.cos(left) * length_gradient - length_y * math.sin(left) * skew_row
    turn[_G, :5] = math.sin(left) * length_gradient + length_y * math.cos(left) * skew_row
    setting = np.zeros(len(PARAMETERS))
    setting[_B] = -length_y * math.sin(left) * math.radians(setting_u_deg)
    setting[_G] = length_y * math.cos(left) * math.radians(setting_u_deg)
    covariance = turn @ adjustment.covariance @ turn.T + np.outer(setting, setting)
    values, jacobian = predicted_readings(adjustment.coupon, parameters, setup)
    predicted = []
    for row, feature in enumerate(TEN_FEATURES):
        reading_variance = setup.instrument(feature).mean_variance(1, setup.form.of(feature.kind, adjustment.coupon))
        variance = float(jacobian[row] @ covariance @ jacobian[row]) + reading_variance
        predicted.append(
            PredictedReading(feature=feature, reading=Estimate(value=float(values[row]), u=math.sqrt(variance)))
        )
    return tuple(predicted)
