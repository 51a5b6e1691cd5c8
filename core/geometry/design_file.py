"""A design file corrected by an affine map, by its kind.

Input: the file's name and content, and the map. Output: the corrected file and what in it leans or could not be.
"""

from pathlib import PurePath

from core.errors import BadInputError
from core.geometry.affine import Affine
from core.geometry.corrected_design import CorrectedDesign
from core.said import Name, said

SUFFIXES = (".svg", ".svgz", ".dxf")
MOST_BYTES = 64 * 1024**2  # of a file that a command is given; a stick's has a limit of its own


def correct_design(name: str, content: bytes, correction: Affine) -> CorrectedDesign:
    """The design corrected; raises BadInputError, naming the file, for what cannot be."""
    try:
        return _corrected(PurePath(name).suffix.lower(), content, correction)
    except BadInputError as exc:
        raise BadInputError(said("{file}: {what}", file=Name(name), what=exc.what)) from exc


def _corrected(suffix: str, content: bytes, correction: Affine) -> CorrectedDesign:
    # Loading the libraries takes up to a third of a second, so only who wants a format waits for its own.
    match suffix:
        case ".svg" | ".svgz":
            from core.geometry.design_file_svg import correct_svg

            return correct_svg(content, correction)
        case ".dxf":
            from core.geometry.design_file_dxf import correct_dxf

            return correct_dxf(content, correction)
    raise BadInputError(said("the name must end in .svg, .svgz or .dxf"))
