"""Any folder of SVG and DXF: each is corrected and held against the affine map of the original, by tools of others.

    python tests/endurance/design_corpus.py FOLDER ... [--svg 200] [--dxf 100] [--seed 1] [--fine] [--off DEGREES]

SVG: rsvg-convert draws the original and the corrected file; the original's picture is mapped by Pillow. DXF: ogr2ogr
(GDAL's own reader) lists the vertices of both; those of the original are mapped. `--off` corrects by so much
more skew than is judged: what the judge then still calls right is what it cannot tell. Prints counts and every refusal
with its reason; status 1 when a file is silently wrong or more than 5 % are refused. A file that the judge itself
cannot read, or that draws nothing, is counted apart and judged by nobody. `--fine` judges by larger pictures, arcs in
chords of half a degree and a quarter of the distance. A picture that differs goes to a second judge where Chromium is
installed (rsvg fits gradients to the upright box of what is slanted, so that they differ where nothing is wrong): it
is wrong unless that one finds it right.

Folders it has been tried on: Debian 12's librecad-data, freecad-common, openscad, gdal-data (DXF);
inkscape, openclipart-svg, tango-icon-theme, freecad-common, fritzing-parts, gimp-data, dia-common (SVG), unpacked by
`apt-get download PACKAGE` and `dpkg -x`. Tools: librsvg2-bin, gdal-bin.
"""

from __future__ import annotations

import argparse
import gzip
import io
import json
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import numpy as np
from lxml import etree
from PIL import Image
from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter
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
DIFFERS = 40  # of 255: more than an edge that is drawn between two pixels


@dataclass(frozen=True, slots=True, kw_only=True)
class Sharpness:
    """How finely is judged: width of pictures, share of what is inked that may differ (a hairline is greyer in one than
    in the other), degrees of an arc to a chord, and how near vertices must lie, of a drawing's size."""

    pixels: int = 1200
    wrong_share: float = 0.05
    arc_step_deg: float = 4.0
    near: float = 2e-3


Judge: TypeAlias = Callable[[Path, Path, Sharpness], bool]
USUAL = Sharpness()
FINE = Sharpness(pixels=2000, wrong_share=0.02, arc_step_deg=0.5, near=5e-4)


class NotJudgedError(Exception):
    """The judge cannot read the original, or there is nothing in it."""


def without_texts(file: Path) -> bytes:
    """Letters are fitted to pixels, each size otherwise: what is compared is everything else."""
    content = file.read_bytes()
    content = gzip.decompress(content) if file.suffix.lower() == ".svgz" else content
    tree = etree.fromstring(content, etree.XMLParser(huge_tree=True)).getroottree()
    for text in list(tree.iter("{http://www.w3.org/2000/svg}text")):
        text.getparent().remove(text)
    return etree.tostring(tree, encoding="UTF-8")


def drawable(file: Path) -> bytes:
    try:
        return without_texts(file)
    except etree.XMLSyntaxError as error:
        raise NotJudgedError(f"no XML: {error}") from error


def by_rsvg(file: Path, pixels: int) -> Image.Image:
    done = subprocess.run(
        ["rsvg-convert", "-w", str(pixels), "--keep-aspect-ratio", "--unlimited", "-b", "white"],
        input=drawable(file),
        capture_output=True,
        timeout=60,
        check=False,
    )
    if done.returncode != 0 or not done.stdout:
        raise NotJudgedError(f"rsvg: {done.stderr[:60]!r}")
    return Image.open(io.BytesIO(done.stdout)).convert("L")


def by_chromium(file: Path, pixels: int) -> Image.Image:
    """The same width as the other judge draws; the page is as high as its own sides are."""
    width, height = by_rsvg(file, pixels).size
    with tempfile.TemporaryDirectory() as folder:
        page, picture = Path(folder) / "page.html", Path(folder) / "page.png"
        (Path(folder) / "design.svg").write_bytes(drawable(file))
        shown = f"width:{width}px;height:{height}px"
        page.write_text(f'<body style="margin:0"><img src="design.svg" style="{shown}"></body>')
        command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
        size = f"--window-size={width},{height}"
        subprocess.run(
            [*command, size, f"--screenshot={picture}", page.as_uri()], capture_output=True, timeout=120, check=False
        )
        if not picture.exists():
            raise NotJudgedError("Chromium draws nothing")
        return Image.open(picture).convert("L").crop((0, 0, width, height))


def svg_is_right(original: Path, corrected: Path, sharpness: Sharpness) -> bool:
    """By either of two judges, where the second is there."""
    if _drawn_right(original, corrected, sharpness, by_rsvg):
        return True
    return shutil.which("chromium") is not None and _drawn_right(original, corrected, sharpness, by_chromium)


def _drawn_right(
    original: Path, corrected: Path, sharpness: Sharpness, rendered: Callable[[Path, int], Image.Image]
) -> bool:
    """Draw both at their own width; find the scale from the pages, and the shift from the ink's middle."""
    before, after = rendered(original, sharpness.pixels), rendered(corrected, sharpness.pixels)
    ink = 255 - np.asarray(before, dtype=float)
    if ink.sum() < 255 * 20:
        raise NotJudgedError("nothing is drawn")
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
    wanted = np.asarray(
        before.transform(after.size, Image.Transform.AFFINE, coefficients, Image.Resampling.BICUBIC, fillcolor=255),
        dtype=float,
    )
    found = np.asarray(after, dtype=float)
    return _wrong_share(wanted, found) < sharpness.wrong_share


def _wrong_share(wanted: np.ndarray, found: np.ndarray) -> float:
    """Pixels that differ from all their neighbours in the other picture, as a share of what is inked."""

    # A hairline between two pixels is as dark as on one, once both are blurred.
    wanted, found = gaussian_filter(wanted, 1.0), gaussian_filter(found, 1.0)

    def far(one: np.ndarray, other: np.ndarray) -> np.ndarray:
        return (one < minimum_filter(other, 5) - DIFFERS) | (one > maximum_filter(other, 5) + DIFFERS)

    inked = ((wanted < 250) | (found < 250)).sum()
    return float((far(wanted, found) | far(found, wanted)).sum() / max(inked, 1))


def shapes(file: Path, sharpness: Sharpness) -> list[BaseGeometry]:
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
        env={"PATH": "/usr/bin:/bin", "DXF_INLINE_BLOCKS": "TRUE", "OGR_ARC_STEPSIZE": f"{sharpness.arc_step_deg}"},
    )
    geometries = [json.loads(line)["geometry"] for line in done.stdout.splitlines()]
    found = [shape(one) for one in geometries if one is not None]
    if not found:
        raise NotJudgedError(f"ogr: {done.stderr[:60]!r}")
    return found


def dxf_is_right(original: Path, corrected: Path, sharpness: Sharpness) -> bool:
    """Every mapped vertex of the original lies on what was written, and the other way round, but for a shift."""
    original_shapes = GeometryCollection(shapes(original, sharpness))
    before = affine_transform(original_shapes, [MAP.xx, MAP.xy, MAP.yx, MAP.yy, 0.0, 0.0])
    after = GeometryCollection(shapes(corrected, sharpness))
    left, low, right, high = before.bounds
    to_left, to_low, to_right, to_high = after.bounds
    after = translate(after, (left + right - to_left - to_right) / 2.0, (low + high - to_low - to_high) / 2.0)
    near = sharpness.near * max(right - left, high - low, 1e-9)
    return _all_near(before, after, near) and _all_near(after, before, near)


def _all_near(one: BaseGeometry, other: BaseGeometry, near: float) -> bool:
    lines = STRtree(list(other.geoms))
    vertices = points(get_coordinates(one))
    _, distances = lines.query_nearest(vertices, return_distance=True, all_matches=False)
    return bool(distances.max() <= near)


def judged(file: Path, is_right: Judge, correction: Affine, sharpness: Sharpness) -> str:
    try:
        corrected = correct_design(file.name, file.read_bytes(), correction)
    except BadInputError as error:
        return f"refused: {str(error).removeprefix(file.name)[:110]}"
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / f"corrected{file.suffix.lower()}"
        written.write_bytes(corrected.content)
        try:
            return "right" if is_right(file, written, sharpness) else "WRONG"
        except (NotJudgedError, subprocess.TimeoutExpired) as error:
            return f"not judged: {error}"[:60]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--svg", type=int, default=200)
    parser.add_argument("--dxf", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--fine", action="store_true")
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
            word = judged(file, is_right, correction, FINE if args.fine else USUAL)
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
