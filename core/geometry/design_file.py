"""A design file corrected by an affine map, by its kind.

Input: the file's name and content, and the map. Output: the corrected text and what in it leans or could not be.
"""

from __future__ import annotations

from pathlib import PurePath

from core.errors import BadInputError
from core.geometry.affine import Affine
from core.geometry.design_file_svg import CorrectedDesign, correct_svg

SUFFIXES = (".svg", ".dxf")


def correct_design(name: str, content: bytes, correction: Affine) -> CorrectedDesign:
    """The design corrected; raises BadInputError, naming the file, for what cannot be."""
    try:
        return _corrected(PurePath(name).suffix.lower(), content.decode("utf-8"), correction)
    except UnicodeDecodeError as exc:
        raise BadInputError(f"{name}: not a text file in UTF-8; save the design as plain SVG or text DXF") from exc
    except BadInputError as exc:
        raise BadInputError(f"{name}: {exc}") from exc


def _corrected(suffix: str, text: str, correction: Affine) -> CorrectedDesign:
    match suffix:
        case ".svg":
            return correct_svg(text, correction)
        case ".dxf":
            # Loading the library takes a third of a second, so only who wants DXF waits for it.
            from core.geometry.design_file_dxf import correct_dxf

            return correct_dxf(text, correction)
    raise BadInputError("the name must end in .svg or .dxf")
