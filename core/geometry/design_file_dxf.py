"""A design in DXF corrected by an affine map, by ezdxf.

Input: the file's bytes (text in any code page, binary, or one that only a repairing reader opens) and the map. Output:
the corrected file, of the same version and with the same ends of lines. Every thing stays at its place in the order:
circles become ellipses; outlines with rounded corners, and in version R12, which has no ellipses, whatever is round,
become chains of short lines within FLATTENED_MM. What was written is read back and counted before it is handed on.
"""

import cmath
import io
import math
import re
from collections import Counter
from collections.abc import Iterable

from ezdxf import bbox, recover, transform, units
from ezdxf.audit import AuditError
from ezdxf.document import Drawing
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.enums import InsertUnits
from ezdxf.layouts.layout import Modelspace
from ezdxf.lldxf.const import DXF2000
from ezdxf.lldxf.tagger import binary_tags_loader
from ezdxf.math import Matrix44
from msgspec.structs import replace

from core.errors import BadInputError
from core.geometry.affine import Affine
from core.geometry.corrected_design import FLATTENED_MM, MOST_IN_FILE, CorrectedDesign, too_many_things
from core.said import Name, said

_MARK = "CORRECTED_FOR_MACHINE"
# A thing begins with group code 0 and its kind; a value 0 is followed by another code.
_THING = re.compile(rb"(?:\A|[\r\n])[ \t]*0[ \t]*\r?\n[ \t]*[A-Za-z_]")
_BINARY_SIGN = b"\r\n\x1a\x00"  # after the eighteen letters that such a file begins with
_TEXTS = {"TEXT", "MTEXT", "ATTRIB"}
_DEEPEST_BLOCK = 8
# Blocks within blocks, or rows and columns of them, make a small file draw any number of things.
MOST_THINGS = 100_000
_ROUND = {"CIRCLE", "ARC", "ELLIPSE"}
# Drawn in a block of their own: their lines and texts are corrected in place of them.
_ANNOTATIONS = "DIMENSION ARC_DIMENSION LARGE_RADIAL_DIMENSION"
_DIMENSION = "DIMENSION"
# The end of the file, or of a section: what the reader repairs behind it is no thing that is cut.
_END, _END_BYTES = re.compile(rb"^\s*(?:EOF|ENDSEC)\s*\x1a?\s*\Z", re.MULTILINE), 256
_KEPT = ("layer", "color", "true_color", "linetype", "ltscale", "lineweight")
# A name that later versions would not allow cuts as well as any.
_HARMLESS = {AuditError.INVALID_LAYER_NAME}
# What an entity of its own follows in the file and is not counted with it.
_FOLLOWERS = {"VERTEX", "SEQEND", "ATTRIB"}


def correct_dxf(content: bytes, correction: Affine) -> CorrectedDesign:
    """Correct the model space about the middle of what is drawn; raises BadInputError as the SVG one does."""
    try:
        document, undrawn = _document(content)
        corrected = _corrected(document, correction, crlf=b"\r\n" in content[:4096])
    except (BadInputError, MemoryError):
        raise
    except Exception as exc:
        # A damaged file makes the library stumble where it happens to: over a missing key, index or block.
        raise BadInputError(said("not a DXF file that can be read: {why}", why=Name(str(exc)))) from exc
    return replace(corrected, undrawn=undrawn)


def _document(content: bytes) -> tuple[Drawing, int]:
    """The drawing, and how many dimensions the library took out because nobody drew their lines."""
    if content[18:22] == _BINARY_SIGN:
        if sum(tag.code == 0 for tag in binary_tags_loader(content)) > MOST_IN_FILE:
            raise too_many_things()
        return Drawing.load(binary_tags_loader(content)), 0
    if sum(1 for _ in _THING.finditer(content)) > MOST_IN_FILE:
        raise too_many_things()
    document, auditor = recover.read(io.BytesIO(content))
    if not _END.search(content[-_END_BYTES:]):
        raise BadInputError(said("the file breaks off before its end: copy or save it again"))
    grave = [error for error in auditor.errors if error.code not in _HARMLESS]
    if grave:
        raise BadInputError(said("damaged beyond repair: {message}", message=Name(grave[0].message)))
    undrawn = sum(fix.code is AuditError.UNDEFINED_BLOCK and _DIMENSION in fix.message for fix in auditor.fixes)
    return document, undrawn


def _corrected(document: Drawing, correction: Affine, *, crlf: bool) -> CorrectedDesign:
    if document.header.custom_vars.has_tag(_MARK) or _MARK in document.layers:
        raise BadInputError(said("this design was corrected before: correct the original, never twice"))
    space = document.modelspace()
    _explode(document)
    if not len(space):
        raise BadInputError(said("nothing is drawn in its model space, which is what a machine cuts"))
    extents = bbox.extents(space, fast=True)
    fixed = (extents.center.x, extents.center.y) if extents.has_data else (0.0, 0.0)
    kinds = Counter(entity.dxftype() for entity in space)
    matrix = _matrix(correction, fixed)
    flattened = _reshape(document, space)
    left_out = sum(not _moved(entity, matrix) for entity in space)
    if document.dxfversion < DXF2000:
        document.layers.add(_MARK)  # R12 has no properties of a drawing
    else:
        document.header.custom_vars.append(_MARK, "yes")
    content = _written(document, crlf=crlf)
    _check(content, document, Counter(entity.dxftype() for entity in space))
    return CorrectedDesign(
        content=content,
        texts=sum(kinds[kind] for kind in _TEXTS),
        circles=sum(kinds[kind] for kind in _ROUND) if document.dxfversion >= DXF2000 else 0,
        flattened=flattened,
        left_out=left_out,
    )


def _explode(document: Drawing) -> None:
    """A block drawn in place can be sheared where a reference to it cannot; blocks may hold blocks."""
    space = document.modelspace()
    for annotation in list(space.query(_ANNOTATIONS)):
        annotation.explode()
    for _ in range(_DEEPEST_BLOCK):
        for reference in list(space.query("INSERT")):
            block = document.blocks.get(reference.dxf.name)
            if len(space) + reference.mcount * (len(block) if block else 0) > MOST_THINGS:
                raise BadInputError(
                    said(
                        "more than {most} things once its blocks are drawn: save the design without nested blocks",
                        most=MOST_THINGS,
                    )
                )
            reference.explode()


def _reshape(document: Drawing, space: Modelspace) -> int:
    """Put in the place of what cannot be sheared what can; return how many became chains of lines."""
    within = FLATTENED_MM
    if document.units:
        within *= units.conversion_factor(InsertUnits.Millimeters, InsertUnits(document.units))
    things = list(space)
    flattened = 0
    for index, entity in enumerate(things):
        kind = entity.dxftype()
        if kind in ("LWPOLYLINE", "POLYLINE"):
            flattened += _unround(entity, within)
        elif kind in _ROUND and document.dxfversion < DXF2000:
            things[index] = _chain(entity, space, within)
            flattened += 1
        elif kind in ("CIRCLE", "ARC"):
            things[index] = _ellipse(entity, space)
    space.entity_space.entities = [*things]
    return flattened


def _unround(entity: DXFGraphic, within: float) -> bool:
    """Draw the rounded parts of an outline as short lines, in the outline itself; False where it has none."""
    if isinstance(entity, LWPolyline) and entity.has_arc:
        corners = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        points = _flattened(corners, entity.closed, within)
        entity.set_points(points, format="xy")
        return True
    if isinstance(entity, Polyline) and entity.is_2d_polyline and entity.has_arc:
        corners = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        points = _flattened(corners, entity.is_closed, within)
        height = entity.vertices[0].dxf.location.z
        entity.vertices.clear()
        entity.append_formatted_vertices([(x, y, height) for x, y in points], format="xyz")
        return True
    return False


def _flattened(corners: list[tuple[float, float, float]], closed: bool, within: float) -> list[tuple[float, float]]:
    """Corners with bulges (the tangent of a quarter of the arc's angle) as points no chord of which is farther than
    `within` from its arc."""
    points: list[tuple[float, float]] = []
    following = [*corners[1:], corners[0]] if closed else corners[1:]
    for (x, y, bulge), (to_x, to_y, _) in zip(corners, following, strict=False):
        points.append((x, y))
        chord = complex(to_x - x, to_y - y)
        if bulge == 0.0 or chord == 0.0:
            continue
        sweep = 4.0 * math.atan(bulge)
        radius = abs(chord) / (2.0 * abs(math.sin(sweep / 2.0)))
        step = 2.0 * math.acos(max(1.0 - within / radius, 0.0))
        pieces = max(2, math.ceil(abs(sweep) / step))
        centre = complex(x, y) + chord / 2.0 + 1j * chord / (2.0 * math.tan(sweep / 2.0))
        for piece in range(1, pieces):
            point = centre + (complex(x, y) - centre) * cmath.rect(1.0, sweep * piece / pieces)
            points.append((point.real, point.imag))
    return points if closed else [*points, corners[-1][:2]]


def _chain(entity: DXFGraphic, space: Modelspace, within: float) -> DXFGraphic:
    """A circle, an arc or part of an ellipse as a polyline, closed where it was."""
    assert isinstance(entity, Circle | Ellipse)
    points = [point.vec2 for point in entity.flattening(within)]
    closed = len(points) > 2 and points[0].isclose(points[-1])
    attributes = {name: entity.dxf.get(name) for name in _KEPT if entity.dxf.hasattr(name)}
    return space.add_polyline2d(points[:-1] if closed else points, close=closed, dxfattribs=attributes)


def _ellipse(entity: DXFGraphic, space: Modelspace) -> DXFGraphic:
    ellipse = Ellipse.from_arc(entity)
    space.add_entity(ellipse)
    return ellipse


def _moved(entity: DXFGraphic, matrix: Matrix44) -> bool:
    """Correct one thing; False where the library cannot."""
    errors = transform.inplace([entity], matrix)
    return not len(errors)


def _written(document: Drawing, *, crlf: bool) -> bytes:
    text = io.StringIO()
    document.write(text)
    written = text.getvalue().replace("\r\n", "\n")
    return (written.replace("\n", "\r\n") if crlf else written).encode(document.output_encoding, errors="dxfreplace")


def _check(content: bytes, document: Drawing, expected: Counter[str]) -> None:
    """Read what was written tag by tag, by no part of the library, and count; raises BadInputError for a difference."""
    lines = content.decode(document.output_encoding, errors="replace").splitlines()
    tags = list(zip((line.strip() for line in lines[0::2]), (line.strip() for line in lines[1::2]), strict=False))
    if tags.count(("0", "EOF")) != 1 or tags[-1] != ("0", "EOF"):
        raise BadInputError(
            said("the corrected file would not end where it should: save the design in a later version")
        )
    paper = _paper_things(document)
    found = Counter(_kinds_of(tags))
    wanted = expected + paper
    lost = {kind: count for kind, count in (wanted - found).items() if kind not in _FOLLOWERS}
    if lost:
        named = ", ".join(f"{count} {kind}" for kind, count in sorted(lost.items()))
        raise BadInputError(
            said("the corrected file would lack {named}: save the design in a later version of DXF", named=Name(named))
        )


def _paper_things(document: Drawing) -> Counter[str]:
    active = document.layouts.active_layout() if document.dxfversion >= DXF2000 else document.paperspace()
    return Counter(entity.dxftype() for entity in active)


def _kinds_of(tags: Iterable[tuple[str, str]]) -> Iterable[str]:
    """The kinds of the things in the section ENTITIES, in order."""
    before, inside = ("", ""), False
    for tag in tags:
        if before == ("0", "SECTION"):
            inside = tag == ("2", "ENTITIES")
        elif tag == ("0", "ENDSEC"):
            inside = False
        elif inside and tag[0] == "0":
            yield tag[1]
        before = tag


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
