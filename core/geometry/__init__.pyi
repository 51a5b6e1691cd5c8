from .affine import Affine as Affine, cut_by as cut_by
from .corrected_design import CorrectedDesign as CorrectedDesign
from .coupon import MAX_SIDE_MM as MAX_SIDE_MM, Coupon as Coupon
from .cut_file import (
    CutPlan as CutPlan,
    Layer as Layer,
    corrected as corrected,
    draw as draw,
    orientation_mark as orientation_mark,
)
from .cut_file_text import coupon_text as coupon_text, coupon_title as coupon_title, svg as svg
from .design_file import MOST_BYTES as MOST_BYTES, SUFFIXES as SUFFIXES, correct_design as correct_design
from .features import (
    CORNERS as CORNERS,
    DIAGONALS as DIAGONALS,
    EDGES as EDGES,
    TEN_FEATURES as TEN_FEATURES,
    WINDOW as WINDOW,
    Feature as Feature,
    FeatureKind as FeatureKind,
)
from .line_style import LineStyle as LineStyle
from .seats import (
    Seats as Seats,
    are_keyed as are_keyed,
    equal_seats as equal_seats,
    key_deg as key_deg,
    keyed_seats as keyed_seats,
    seat_legs as seat_legs,
)
from .shape import (
    SHAPE_PARAMETERS as SHAPE_PARAMETERS,
    Edge as Edge,
    Edges as Edges,
    Number as Number,
    OfTwo as OfTwo,
    corner_rows as corner_rows,
    corners_mm as corners_mm,
    diagonal_rows as diagonal_rows,
    edge_rows as edge_rows,
    edges_of as edges_of,
    feature_rows as feature_rows,
    mean_y_direction as mean_y_direction,
    scale_y as scale_y,
    skew_deg as skew_deg,
    true_features as true_features,
)
from .stroke_digits import LETTERS as LETTERS
