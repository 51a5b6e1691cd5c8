"""A design in DXF corrected by an affine map, by ezdxf.

Input: the file's text and the map. Output: the corrected text; arcs become parts of ellipses. Entities ezdxf cannot
transform (solids, and block references it cannot shear) are counted and left as they are.
"""

from __future__ import annotations

import io

from ezdxf import bbox, transform
from ezdxf.document import Drawing
from ezdxf.filemanagement import read
from ezdxf.math import Matrix44

from core.errors import BadInputError
from core.geometry.affine import Affine
from core.geometry.design_file_svg import CorrectedDesign

_MARK = "CORRECTED_FOR_MACHINE"
_TEXTS = {"TEXT", "MTEXT", "ATTRIB"}
_DEEPEST_BLOCK = 8
# Blocks within blocks, or rows and columns of them, make a small file draw any number of things.
MOST_THINGS = 100_000
_ROUND = {"CIRCLE", "ARC", "ELLIPSE"}


def correct_dxf(source: str, correction: Affine) -> CorrectedDesign:
    """Correct the model space about the middle of what is drawn; raises BadInputError as the SVG one does."""
    try:
        return _corrected(read(io.StringIO(source)), correction)
    except BadInputError:
        raise
    except Exception as exc:
        # A damaged file makes the library stumble where it happens to: over a missing key, index or block.
        raise BadInputError(f"not a DXF file that can be read: {exc}") from exc


def _corrected(document: Drawing, correction: Affine) -> CorrectedDesign:
    if document.header.custom_vars.has_tag(_MARK):
        raise BadInputError("this design was corrected before: correct the original, never twice")
    space = document.modelspace()
    _explode_blocks(document)
    extents = bbox.extents(space, fast=True)
    fixed = (extents.center.x, extents.center.y) if extents.has_data else (0.0, 0.0)
    kinds = [entity.dxftype() for entity in space]
    failed = transform.inplace(space, _matrix(correction, fixed))
    document.header.custom_vars.append(_MARK, "yes")
    text = io.StringIO()
    document.write(text)
    return CorrectedDesign(
        text=text.getvalue(),
        texts=sum(kind in _TEXTS for kind in kinds),
        circles=sum(kind in _ROUND for kind in kinds),
        left_out=len(failed),
    )


def _explode_blocks(document: Drawing) -> None:
    """A block drawn in place can be sheared where a reference to it cannot; blocks may hold blocks."""
    space = document.modelspace()
    for _ in range(_DEEPEST_BLOCK):
        for reference in list(space.query("INSERT")):
            block = document.blocks.get(reference.dxf.name)
            if len(space) + reference.mcount * (len(block) if block else 0) > MOST_THINGS:
                raise BadInputError(
                    f"more than {MOST_THINGS} things once its blocks are drawn: save the design without nested blocks"
                )
            reference.explode()


def _matrix(correction: Affine, fixed: tuple[float, float]) -> Matrix44:
    """The map about a fixed point, in ezdxf's row-vector order; Z stays."""
    shift = correction.shift_about(fixed)
    return Matrix44(
        (
            *(correction.xx, correction.yx, 0.0, 0.0),
            *(correction.xy, correction.yy, 0.0, 0.0),
            *(0.0, 0.0, 1.0, 0.0),
            *(shift[0], shift[1], 0.0, 1.0),
        )
    )
