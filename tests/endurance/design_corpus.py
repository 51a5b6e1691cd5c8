"""Any folder of SVG and DXF: each is corrected and held against the affine map of the original, by tools of others.

    python tests/endurance/design_corpus.py FOLDER ... [--svg 200] [--dxf 100] [--seed 1] [--off DEGREES]

SVG: rsvg-convert draws the original and the corrected file; the original's picture is mapped by Pillow. DXF: ogr2ogr
(GDAL's own reader) lists the vertices of both; those of the original are mapped. `--off` corrects by so much
more skew than is judged: what the judge then still calls right is what it cannot tell. Prints counts and every refusal
with its reason; status 1 when a file is silently wrong or more than 5 % are refused. A file that the judge itself
cannot read, or that draws nothing, is counted apart and judged by nobody.

Folders it has been tried on: Debian 12's librecad-data, freecad-common, openscad, gdal-data (DXF);
inkscape, openclipart-svg, tango-icon-theme, freecad-common, fritzing-parts, gimp-data, dia-common (SVG), unpacked by
`apt-get download PACKAGE` and `dpkg -x`. Tools: librsvg2-bin, gdal-bin.

On 2026-11-28, seed 1: 225 SVG, 218 right, 2 refused (no well-formed XML), 5 not judged (four draw nothing, one has no
page); 110 DXF, 107 right, 3 refused (one breaks off, one is empty, one has a null ellipse); none silently wrong.
"""

from __future__ import annotations

import argparse
import gzip
import io
import json
import random
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
from lxml import etree
from PIL import Image, ImageOps
from scipy.ndimage import binary_erosion, gaussian_filter, maximum_filter, minimum_filter
from shapely import STRtree, get_coordinates, points
from shapely.affinity import affine_transform, translate
from shapely.geometry import GeometryCollection, shape
from shapely.geometry.base import BaseGeometry

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from core.errors import BadInputError
from core.geometry.affine import Affine, cut_by
from core.geometry.design_file import correct_design

SKEW_DEG = 6.0  # far more than a machine leans: what is not corrected shows
MAP = cut_by(SKEW_DEG, 0.02, -0.03).inverse
PIXELS = 1200
DIFFERS = 40  # of 255: more than an edge that is drawn between two pixels
_DIMENSIONS = {b"DIMENSION", b"ARC_DIMENSION", b"LARGE_RADIAL_DIMENSION"}
WRONG_SHARE = 0.05  # of what is inked; a hairline is greyer in one picture than in the other
NEAR = 2e-3  # of a drawing's size: the judge draws arcs by chords


class NotJudgedError(Exception):
    """The judge cannot read the original, or there is nothing in it."""


def without_texts(file: Path) -> bytes:
    """Letters are fitted to pixels, each size otherwise: what is compared is everything else."""
    content = file.read_bytes()
    content = gzip.decompress(content) if file.suffix.lower() == ".svgz" else content
    root = etree.fromstring(content, etree.XMLParser(huge_tree=True))
    if root.tag == "svg":  # of SVG 1.0, whose document type gives the namespace
        root = etree.fromstring(etree.tostring(root).replace(b"<svg", b'<svg xmlns="http://www.w3.org/2000/svg"', 1))
    tree = root.getroottree()
    for text in list(tree.iter("{http://www.w3.org/2000/svg}text")):
        text.getparent().remove(text)
    return etree.tostring(tree, encoding="UTF-8")


def rendered(file: Path, ground: str) -> Image.Image:
    """The drawing as dark ink, whether it is dark on white or, as icons for dark screens are, light on black."""
    try:
        content = without_texts(file)
    except etree.XMLSyntaxError as error:
        raise NotJudgedError(f"no XML: {error}") from error
    done = subprocess.run(
        ["rsvg-convert", "-w", str(PIXELS), "--keep-aspect-ratio", "--unlimited", "-b", ground],
        input=content,
        capture_output=True,
        timeout=60,
        check=False,
    )
    if done.returncode != 0 or not done.stdout:
        raise NotJudgedError(f"rsvg: {done.stderr[:60]!r}")
    picture = Image.open(io.BytesIO(done.stdout)).convert("L")
    return picture if ground == "white" else ImageOps.invert(picture)


def svg_is_right(original: Path, corrected: Path) -> bool:
    """Draw both at their own width; find the scale from the pages, and the shift from the ink's middle."""
    grounds = ((ground, rendered(original, ground)) for ground in ("white", "black"))
    inked = ((ground, one) for ground, one in grounds if (255.0 - np.asarray(one, dtype=float)).sum() >= 255 * 20)
    ground, before = next(inked, ("", None))
    if before is None:
        raise NotJudgedError("nothing is drawn")
    after = rendered(corrected, ground)
    matrix = MAP.y_down
    width, height = before.size
    corners = [(x, y) for x in (0, width) for y in (0, height)]
    middle = (width / 2, height / 2)
    xs, ys = zip(*(matrix.apply(corner, middle) for corner in corners), strict=True)
    low_x, low_y = min(0, *xs), min(0, *ys)
    scale = after.size[0] / (max(width, *xs) - low_x)
    undone = matrix.inverse
    # For each pixel of the corrected picture, the place in the original that it shows.
    shift = undone.apply((low_x - middle[0], low_y - middle[1]))
    coefficients = (
        undone.xx / scale, undone.xy / scale, middle[0] + shift[0],
        undone.yx / scale, undone.yy / scale, middle[1] + shift[1],
    )  # fmt: skip

    def moved(picture: Image.Image) -> np.ndarray:
        return np.asarray(
            picture.transform(
                after.size, Image.Transform.AFFINE, coefficients, Image.Resampling.BICUBIC, fillcolor=255
            ),
            dtype=float,
        )

    # The corrected page is larger: what the original draws beyond its own page comes into sight, and is not compared.
    page = moved(Image.new("L", before.size, 0)) < 128
    return _wrong_share(moved(before), np.asarray(after, dtype=float), page) < WRONG_SHARE


def _wrong_share(wanted: np.ndarray, found: np.ndarray, page: np.ndarray) -> float:
    """Pixels of the page that differ from all their neighbours in the other picture, as a share of what is inked."""

    # A hairline between two pixels is as dark as on one, once both are blurred.
    wanted, found = gaussian_filter(wanted, 1.0), gaussian_filter(found, 1.0)

    def far(one: np.ndarray, other: np.ndarray) -> np.ndarray:
        return (one < minimum_filter(other, 5) - DIFFERS) | (one > maximum_filter(other, 5) + DIFFERS)

    inked = (((wanted < 250) | (found < 250)) & page).sum()
    # Two pixels in from its edge, where the neighbours are.
    page = binary_erosion(page, iterations=3)
    return float(((far(wanted, found) | far(found, wanted)) & page).sum() / max(inked, 1))


def shapes(file: Path) -> list[BaseGeometry]:
    """All lines, arcs and points as GDAL reads them, arcs as chords; drawing's units."""
    done = subprocess.run(
        [
            *["ogr2ogr", "-f", "GeoJSONSeq", "-dim", "XY", "/vsistdout/"],
            str(file),
            "-where",
            "SubClasses NOT LIKE '%Text%'",
        ],
        capture_output=True,
        timeout=120,
        check=False,
        env={"PATH": "/usr/bin:/bin", "DXF_INLINE_BLOCKS": "TRUE"},
    )
    geometries = [json.loads(line)["geometry"] for line in done.stdout.splitlines()]
    found = [shape(one) for one in geometries if one is not None]
    if not found:
        raise NotJudgedError(f"ogr: {done.stderr[:60]!r}")
    return found


def without_dimensions(content: bytes) -> bytes:
    """How a dimension looks is left to who draws it, and they differ: what is compared is everything else."""
    lines = content.splitlines(keepends=True)
    kept, dropping = [], False
    for code, value in zip(lines[0::2], lines[1::2], strict=False):
        if code.strip() == b"0":
            dropping = value.strip() in _DIMENSIONS
        kept += [] if dropping else [code, value]
    return b"".join(kept)


def dxf_is_right(original: Path, corrected: Path) -> bool:
    """Every mapped vertex of the original lies on what was written, and the other way round, but for a shift."""
    before = affine_transform(GeometryCollection(shapes(original)), [MAP.xx, MAP.xy, MAP.yx, MAP.yy, 0.0, 0.0])
    after = GeometryCollection(shapes(corrected))
    left, low, right, high = before.bounds
    to_left, to_low, to_right, to_high = after.bounds
    after = translate(after, (left + right - to_left - to_right) / 2.0, (low + high - to_low - to_high) / 2.0)
    near = NEAR * max(right - left, high - low, 1e-9)
    return _all_near(before, after, near) and _all_near(after, before, near)


def _all_near(one: BaseGeometry, other: BaseGeometry, near: float) -> bool:
    lines = STRtree(list(other.geoms))
    vertices = points(get_coordinates(one))
    _, distances = lines.query_nearest(vertices, return_distance=True, all_matches=False)
    return bool(distances.max() <= near)


def judged(file: Path, is_right: Callable[[Path, Path], bool], correction: Affine) -> str:
    """The word for a file: right, WRONG, refused or not judged, each but the first with its reason."""
    try:
        corrected = correct_design(file.name, file.read_bytes(), correction)
        with tempfile.TemporaryDirectory() as folder:
            original, written = (
                Path(folder) / f"original{file.suffix.lower()}",
                Path(folder) / f"corrected{file.suffix}",
            )
            if file.suffix.lower() == ".dxf" and b"DIMENSION" in file.read_bytes():
                original.write_bytes(without_dimensions(file.read_bytes()))
                corrected = correct_design(file.name, original.read_bytes(), correction)
            else:
                original = file
            written.write_bytes(corrected.content)
            return "right" if is_right(original, written) else "WRONG: differs from the map of the original"
    except BadInputError as error:
        return f"refused: {str(error).removeprefix(file.name + ': ')[:110]}"
    except (NotJudgedError, subprocess.TimeoutExpired) as error:
        return f"not judged: {error}"[:60]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--svg", type=int, default=200)
    parser.add_argument("--dxf", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--off", type=float, default=0.0)
    args = parser.parse_args()
    correction = cut_by(SKEW_DEG + args.off, 0.02, -0.03).inverse
    rng = random.Random(args.seed)
    status = 0
    for kind, endings, most, is_right in (
        ("SVG", (".svg", ".svgz"), args.svg, svg_is_right),
        ("DXF", (".dxf",), args.dxf, dxf_is_right),
    ):
        files = sorted(
            one for top in args.folders for one in top.rglob("*") if one.suffix.lower() in endings and one.is_file()
        )
        chosen = _spread(files, most, rng)
        words = Counter[str]()
        for file in chosen:
            word = judged(file, is_right, correction)
            words[word.partition(":")[0]] += 1
            if word != "right":
                print(f"{word}   {file}", flush=True)
        print(f"{kind}: {len(chosen)} files of {len(files)}: {dict(words)}", flush=True)
        if words["WRONG"] or words["refused"] > 0.05 * len(chosen):
            status = 1
    return status


def _spread(files: list[Path], most: int, rng: random.Random) -> list[Path]:
    """Some of every folder's, so that one large package does not stand for all."""
    rng.shuffle(files)
    turns: dict[Path, int] = {}
    ranked = []
    for file in files:
        turns[file.parent] = turns.get(file.parent, 0) + 1
        ranked.append((turns[file.parent], len(ranked), file))
    return [file for _, _, file in sorted(ranked)[:most]]


if __name__ == "__main__":
    sys.exit(main())
