"""One region a seed: a flood from the seeds that meets in the walls, and its regions as polygons.

The ground of the flood is the distance to the nearest wall, below nought in the open and above it inside
ink. So floods meet in door openings and in the middle of walls, and a closed room that nobody clicked falls
to the neighbour behind the thinnest wall.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely import Polygon
from shapely.geometry.base import BaseGeometry
from skimage.segmentation import watershed

from spread.drawings.ink import Mask

Labels = NDArray[np.int32]
_DISC = 0.15  # metres around a click that are surely of its region
HALF_DOOR = 0.55
"""Metres. Openings up to twice as wide are doors that a hallway ends at (no source)."""
_FROM_HALL = 0.25
_OUTER = 0.15
DOOR = (0.5, 3.0)
"""Metres of a gap in a wall that is taken for a door (no source)."""


@dataclass(frozen=True, slots=True)
class Seed:
    """Clicks of one region, in pixels; ``label`` is above nought."""

    label: int
    at: tuple[tuple[float, float], ...]


def flood(ink: Mask, outline: Polygon, seeds: Sequence[Seed], halls: Collection[int], metre: float) -> Labels:
    """Return the label of every pixel inside an outline; nought outside it.

    ``halls``: labels of hallways. They end at openings narrower than a double door: else a hallway would
    take a room whose way to the hallway is wider than the way to its own home's click.
    """
    inside = _inside(ink.shape, outline)
    # The outline is a wall, though it may be drawn beside its ink: nothing runs along outside.
    ink = ink | ~_inside(ink.shape, outline.buffer(-_OUTER * metre))
    free = inside & ~ink
    depth = ndimage.distance_transform_edt(~ink)
    ground = ndimage.distance_transform_edt(ink) - depth
    markers = np.zeros(ink.shape, dtype=np.int32)
    reach = max(int(_DISC * metre), 1)
    for seed in seeds:
        for x, y in seed.at:
            i, j = int(y), int(x)
            markers[max(i - reach, 0) : i + reach + 1, max(j - reach, 0) : j + reach + 1] = seed.label
    homes = np.where(np.isin(markers, list(halls)), 0, markers)
    hall = np.zeros(ink.shape, dtype=np.int32)
    edge = np.zeros(ink.shape, dtype=bool)
    for label in halls:
        reached, rim = _hallway(markers == label, depth, metre)
        hall[reached & free] = label
        edge |= rim
    if hall.any() and homes.any():
        _closets(free & (hall == 0), homes, hall)
        first = watershed(ground, homes, mask=inside & (hall == 0))
        clear = free & (ndimage.distance_transform_edt(hall == 0) > _FROM_HALL * metre)
        markers = np.where((hall > 0) & ~edge, hall, np.where(clear, first, homes))
    labels: Labels = watershed(ground, markers, mask=inside)
    return labels


def _inside(size: tuple[int, ...], outline: BaseGeometry) -> Mask:
    picture = Image.new("1", (size[1], size[0]))
    pen = ImageDraw.Draw(picture)
    for part in shapely.get_parts(outline):
        pen.polygon([(x, y) for x, y in shapely.get_coordinates(part).tolist()], fill=1)
    return np.array(picture, dtype=bool)


def _hallway(clicked: Mask, depth: NDArray[np.float64], metre: float) -> tuple[Mask, Mask]:
    """Return what a hallway's clicks reach without passing an opening as narrow as a door, and its rim."""
    near = ndimage.binary_dilation(clicked, iterations=max(int(0.3 * metre), 1))
    least = min(HALF_DOOR * metre, 0.8 * float(depth[near].max()))
    wide, _ = ndimage.label(depth > least)
    core = np.isin(wide, np.setdiff1d(wide[near], 0))
    far = ndimage.distance_transform_edt(~core)
    return far <= least, (far > 0.6 * least) & (far <= least)  # the rim bulges into door openings


def _closets(rest: Mask, homes: Labels, hall: Labels) -> None:
    """Give the hallway the rooms that open to it and to no home that was clicked."""
    pieces, _ = ndimage.label(rest)
    beside = ndimage.grey_dilation(hall, size=(3, 3))
    opens = np.setdiff1d(pieces[beside > 0], np.append(pieces[homes > 0], 0))
    for piece in opens.tolist():
        place = pieces == piece
        hall[place] = int(beside[place].max())


def outlines_of(labels: Labels) -> dict[int, BaseGeometry]:
    """Return the region of each label as polygons that share every corner along their walls."""
    padded = np.pad(labels, 1)
    rows, columns = np.nonzero(padded[:, 1:] != padded[:, :-1])  # walls that run down, between columns
    down = np.stack([np.stack([columns, rows - 1], -1), np.stack([columns, rows], -1)], 1)
    rows, columns = np.nonzero(padded[1:] != padded[:-1])
    across = np.stack([np.stack([columns - 1, rows], -1), np.stack([columns, rows], -1)], 1)
    ends = np.concatenate([down, across]).astype(float)
    steps = np.asarray(shapely.linestrings(ends), dtype=object)
    faces: dict[int, list[BaseGeometry]] = {}
    for face in shapely.get_parts(shapely.polygonize(list(steps))):
        at = face.representative_point()
        label = int(labels[int(at.y), int(at.x)])
        if label:
            faces.setdefault(label, []).append(face)
    return {label: shapely.union_all(parts) for label, parts in sorted(faces.items())}


def gap_between(labels: Labels, ink: Mask, one: int, other: int, metre: float) -> tuple[float, float] | None:
    """Return the middle of the widest gap in the wall between two regions, if one is wide as a door."""
    rows, columns = np.nonzero(labels == one)
    window = (
        slice(max(rows.min() - 2, 0), rows.max() + 3),
        slice(max(columns.min() - 2, 0), columns.max() + 3),
    )
    near = labels[window]
    mine, theirs = near == one, near == other
    meets = mine & ndimage.binary_dilation(theirs)
    pieces, _ = ndimage.label(meets & ~ink[window], np.ones((3, 3), dtype=bool))
    best, middle = 0.0, None
    for number, place in enumerate(ndimage.find_objects(pieces), start=1):
        wide = max(side.stop - side.start for side in place) / metre
        if best < wide and DOOR[0] <= wide <= DOOR[1]:
            down, across = np.nonzero(pieces[place] == number)
            best = wide
            x = across.mean() + place[1].start + window[1].start
            middle = (float(x), float(down.mean() + place[0].start + window[0].start))
    return middle
