"""Faces that elements share: bays side by side, wall panels end to end, a wall on its footing."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from wetfront.nouns.element import Element
from wetfront.takeoff.cutting import Cut
from wetfront.takeoff.geometry import footprint, on_site, points_on_site

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TOUCH_M = 5e-4
"""Faces up to half a millimetre apart touch: sheets give positions rounded to the millimetre."""


@dataclass(frozen=True, slots=True)
class Joins:
    """Faces between cells of different elements; for each the area that each side loses as formed or open face."""

    lateral: list[tuple[int, int, float]]
    vertical: list[tuple[int, int, float]]
    formed_lost: list[tuple[int, float]]
    top_lost: list[tuple[int, float]]


@dataclass(frozen=True, slots=True)
class _Sides:
    """Side faces of one element on site: cell, start, end (f, 2), levels, formed share."""

    cell: Ints
    start: Floats
    end: Floats
    low: Floats
    high: Floats
    share: Floats


def join_elements(elements: Sequence[Element], cuts: Sequence[Cut], first_cell: Sequence[int]) -> Joins:
    """Touching faces of all placed single elements; `first_cell` is the number of each element's first cell."""
    found = Joins([], [], [], [])
    placed = [k for k, element in enumerate(elements) if element.at_m is not None and element.count == 1]
    if len(placed) < 2:
        return found
    prints = [on_site(elements[k], footprint(elements[k])) for k in placed]
    tree = shapely.STRtree(prints)
    one, other = tree.query(prints, predicate="dwithin", distance=2 * TOUCH_M)
    sides: dict[int, _Sides] = {}
    for a, b in sorted((a, b) for a, b in zip(one.tolist(), other.tolist(), strict=True) if a < b):
        pair = (placed[a], placed[b])
        for k in pair:
            if k not in sides:
                sides[k] = _sides_on_site(elements[k], cuts[k], first_cell[k])
        _join_sides(sides[pair[0]], sides[pair[1]], found)
        for lower, upper in (pair, pair[::-1]):
            _join_levels(elements, cuts, first_cell, lower, upper, found)
    return found


def _sides_on_site(element: Element, cut: Cut, first: int) -> _Sides:
    faces = cut.sides
    return _Sides(
        np.array([face.cell + first for face in faces], dtype=int),
        points_on_site(element, np.array([face.start for face in faces]).reshape(-1, 2)),
        points_on_site(element, np.array([face.end for face in faces]).reshape(-1, 2)),
        np.array([face.low_m for face in faces]),
        np.array([face.high_m for face in faces]),
        np.array([face.form_share for face in faces]),
    )


def _near(sides: _Sides, other: _Sides) -> Ints:
    """Faces of `sides` that reach the bounding box of `other`."""
    if len(sides.cell) == 0 or len(other.cell) == 0:
        return np.zeros(0, dtype=int)
    low = np.minimum(other.start, other.end).min(axis=0) - TOUCH_M
    high = np.maximum(other.start, other.end).max(axis=0) + TOUCH_M
    face_low, face_high = np.minimum(sides.start, sides.end), np.maximum(sides.start, sides.end)
    inside = ((face_high >= low) & (face_low <= high)).all(axis=1)
    inside &= (sides.high > other.low.min()) & (sides.low < other.high.max())
    return np.flatnonzero(inside)


def _join_sides(one: _Sides, other: _Sides, found: Joins) -> None:
    near_one, near_other = _near(one, other), _near(other, one)
    if len(near_other) == 0:
        return
    for face in near_one.tolist():
        along = one.end[face] - one.start[face]
        length = float(np.hypot(*along))
        along = along / length
        outward = np.array([along[1], -along[0]])
        starts, ends = other.start[near_other] - one.start[face], other.end[near_other] - one.start[face]
        in_plane = (np.abs(starts @ outward) < TOUCH_M) & (np.abs(ends @ outward) < TOUCH_M)
        # Opposite faces run against each other; `ends` then comes first along this face.
        low, high = np.maximum(ends @ along, 0.0), np.minimum(starts @ along, length)
        rise = np.minimum(one.high[face], other.high[near_other]) - np.maximum(one.low[face], other.low[near_other])
        touching = in_plane & (high - low > TOUCH_M) & (rise > TOUCH_M)
        for hit in np.flatnonzero(touching).tolist():
            area = float((high[hit] - low[hit]) * rise[hit])
            partner = int(near_other[hit])
            found.lateral.append((int(one.cell[face]), int(other.cell[partner]), area))
            found.formed_lost.append((int(one.cell[face]), area * float(one.share[face])))
            found.formed_lost.append((int(other.cell[partner]), area * float(other.share[partner])))


def _join_levels(
    elements: Sequence[Element], cuts: Sequence[Cut], first_cell: Sequence[int], lower: int, upper: int, found: Joins
) -> None:
    """Upper faces of one element under lower faces of the other."""
    tops, bottoms = cuts[lower].tops, cuts[upper].bottoms
    if not tops or not bottoms:
        return
    levels = {round(face.level_m / TOUCH_M) for face in tops}
    if not any(round(face.level_m / TOUCH_M) + step in levels for face in bottoms for step in (-1, 0, 1)):
        return
    top_shapes = [on_site(elements[lower], face.shape) for face in tops]
    bottom_shapes = [on_site(elements[upper], face.shape) for face in bottoms]
    a, b = shapely.STRtree(bottom_shapes).query(top_shapes, predicate="intersects")
    for top_at, bottom_at in zip(a.tolist(), b.tolist(), strict=True):
        top, bottom = tops[top_at], bottoms[bottom_at]
        if abs(top.level_m - bottom.level_m) > TOUCH_M:
            continue
        area = float(top_shapes[top_at].intersection(bottom_shapes[bottom_at]).area)
        if area > TOUCH_M**2:
            found.vertical.append((first_cell[lower] + top.cell, first_cell[upper] + bottom.cell, area))
            found.top_lost.append((first_cell[lower] + top.cell, area * top.share))
            found.formed_lost.append((first_cell[upper] + bottom.cell, area * bottom.share))
