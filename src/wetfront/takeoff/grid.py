"""Cutting a plane region into grid squares, and the edges that the pieces share.

Every cut runs along one of the region's own axes, so shared edges are horizontal or vertical.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry as Region
from shapely import Polygon

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SLIVER_SHARE = 0.01
"""A piece under this share of a whole square is joined to its neighbour."""
_SNAP_M = 1e-6
_SAME_LINE_M = 1e-7
_SHORTEST_M = 1e-7


@dataclass(frozen=True, slots=True)
class Pieces:
    """k simple polygons without holes, anticlockwise, sorted by (i, j)."""

    polygons: NDArray[np.object_]
    i: Ints
    j: Ints


@dataclass(frozen=True, slots=True)
class SharedEdges:
    """Lengths along which two pieces touch. `first` has the smaller coordinate across the edge."""

    first: Ints
    second: Ints
    upright: NDArray[np.bool_]
    """True where the edge runs along v (its neighbours stand side by side along u)."""
    length_m: Floats


def cut_region(
    region: Region,
    u_count: int,
    v_count: int,
    frame: tuple[float, float, float, float] | None = None,
    corners_of: Sequence[Region] = (),
) -> Pieces:
    """Cut the frame (by default the bounding rectangle) into u_count × v_count equal boxes and clip them to the region.

    A cut that comes within a micrometre of a corner of the region, or of the shapes `corners_of`, goes through it.
    A piece with a hole is cut through the hole, parts that hang apart become pieces of their own, slivers are joined
    to the neighbour with the longest common edge.
    """
    low_u, low_v, high_u, high_v = frame or region.bounds
    corners = shapely.get_coordinates([region, *corners_of])
    us = _lines(low_u, high_u, u_count, corners[:, 0])
    vs = _lines(low_v, high_v, v_count, corners[:, 1])
    i, j = (index.ravel() for index in np.meshgrid(np.arange(u_count), np.arange(v_count), indexing="ij"))
    boxes = shapely.box(us[i], vs[j], us[i + 1], vs[j + 1])
    shapely.prepare(region)
    cut = ~shapely.contains_properly(region, boxes)
    parts = [[box] for box in boxes]
    for square, shape in zip(np.flatnonzero(cut), shapely.intersection(region, boxes[cut]), strict=True):
        parts[square] = _simple_parts(shape)
    whole_m2 = (high_u - low_u) * (high_v - low_v) / (u_count * v_count)
    polygons, columns, rows = [], [], []
    for shapes, column, row in zip(parts, i.tolist(), j.tolist(), strict=True):
        real = [shape for shape in shapes if shape.area > 1e-12 * whole_m2]
        polygons += real
        columns += [column] * len(real)
        rows += [row] * len(real)
    return _join_slivers(polygons, columns, rows, SLIVER_SHARE * whole_m2)


def _lines(low: float, high: float, count: int, corners: Floats) -> Floats:
    """Equal steps from low to high, moved onto a corner's coordinate where one is within a micrometre."""
    lines = np.linspace(low, high, count + 1)
    known = np.unique(corners)
    at = np.clip(np.searchsorted(known, lines), 1, len(known) - 1)
    near = np.where(lines - known[at - 1] < known[at] - lines, known[at - 1], known[at])
    return np.where(np.abs(near - lines) < _SNAP_M, near, lines)


def _simple_parts(shape: shapely.Geometry) -> list[Polygon]:
    """The polygons of a shape, cut through the middle of their holes until none has one."""
    found = []
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        if not part.interiors:
            found.append(part if part.exterior.is_ccw else Polygon(part.exterior.coords[::-1]))
            continue
        hole_u = Polygon(part.interiors[0]).centroid.x
        low_u, low_v, high_u, high_v = part.bounds
        for half in (shapely.box(low_u, low_v, hole_u, high_v), shapely.box(hole_u, low_v, high_u, high_v)):
            found += _simple_parts(shapely.intersection(part, half))
    return found


def _join_slivers(polygons: list[Polygon], i: list[int], j: list[int], least_m2: float) -> Pieces:
    at_square: dict[tuple[int, int], list[int]] = defaultdict(list)
    for piece, square in enumerate(zip(i, j, strict=True)):
        at_square[square].append(piece)
    gone: set[int] = set()
    slivers = [piece for piece in range(len(polygons)) if polygons[piece].area < least_m2]
    for sliver in sorted(slivers, key=lambda piece: (polygons[piece].area, piece)):
        if polygons[sliver].area >= least_m2:
            continue
        near = [
            piece
            for di in (-1, 0, 1)
            for dj in (-1, 0, 1)
            for piece in at_square[i[sliver] + di, j[sliver] + dj]
            if piece not in gone and piece != sliver
        ]
        for _, neighbour in sorted(_common_lengths(polygons, sliver, near), reverse=True):
            joined = shapely.union(polygons[sliver], polygons[neighbour])
            both_m2 = polygons[sliver].area + polygons[neighbour].area
            simple = joined.geom_type == "Polygon" and not joined.interiors
            if simple and abs(joined.area - both_m2) <= 1e-13 * both_m2:
                polygons[neighbour] = _simple_parts(joined)[0]
                gone.add(sliver)
                break
    kept = sorted(set(range(len(polygons))) - gone, key=lambda piece: (i[piece], j[piece], polygons[piece].bounds))
    shapes = np.empty(len(kept), dtype=object)
    shapes[:] = [polygons[piece] for piece in kept]
    return Pieces(shapes, np.array([i[p] for p in kept], dtype=int), np.array([j[p] for p in kept], dtype=int))


def _common_lengths(polygons: list[Polygon], sliver: int, near: list[int]) -> list[tuple[float, int]]:
    """(length of the common edge, neighbour) for the neighbours that touch."""
    shapes = np.empty(len(near) + 1, dtype=object)
    shapes[:] = [polygons[piece] for piece in (sliver, *near)]
    edges = shared_edges(shapes)
    lengths: dict[int, float] = defaultdict(float)
    for first, second, length in zip(edges.first, edges.second, edges.length_m, strict=True):
        if 0 in (first, second):
            lengths[near[max(first, second) - 1]] += float(length)
    return [(length, piece) for piece, length in lengths.items()]


def edges_of(polygons: NDArray[np.object_]) -> tuple[Ints, Floats, Floats]:
    """(piece, start point, end point) of every edge of polygons without holes, shapes (e), (e, 2), (e, 2)."""
    points, piece = shapely.get_coordinates(polygons, return_index=True)
    inside = piece[1:] == piece[:-1]
    return piece[:-1][inside], points[:-1][inside], points[1:][inside]


def shared_edges(polygons: NDArray[np.object_]) -> SharedEdges:
    """Where anticlockwise polygons that do not overlap touch along a horizontal or vertical line."""
    piece, start, end = edges_of(polygons)
    step = end - start
    found: list[tuple[int, int, bool, float]] = []
    for axis, upright in ((1, True), (0, False)):
        runs = (np.abs(step[:, 1 - axis]) < _SAME_LINE_M) & (np.abs(step[:, axis]) > _SHORTEST_M)
        if not runs.any():
            continue
        line = (start[runs, 1 - axis] + end[runs, 1 - axis]) / 2
        low = np.minimum(start[runs, axis], end[runs, axis])
        high = np.maximum(start[runs, axis], end[runs, axis])
        # Anticlockwise: an edge running up has its piece to the left (smaller u), one running right has it above.
        owner_is_first = (step[runs, axis] > 0) == upright
        found += [
            (first, second, upright, length)
            for first, second, length in _touching(line, low, high, owner_is_first, piece[runs])
        ]
    first, second, uprights, lengths = zip(*found, strict=True) if found else ((), (), (), ())
    return SharedEdges(
        np.array(first, dtype=int), np.array(second, dtype=int), np.array(uprights, dtype=bool), np.array(lengths)
    )


def _touching(
    line: Floats, low: Floats, high: Floats, owner_is_first: NDArray[np.bool_], piece: Ints
) -> list[tuple[int, int, float]]:
    """(first piece, second piece, length) where intervals of both sides of one line overlap."""
    order = np.argsort(line, kind="stable")
    group = np.empty(len(line), dtype=int)
    group[order] = np.concatenate(([0], np.cumsum(np.diff(line[order]) > _SAME_LINE_M)))
    sides = []
    for side in (owner_is_first, ~owner_is_first):
        chosen = np.flatnonzero(side)
        chosen = chosen[np.lexsort((low[chosen], group[chosen]))]
        columns = (group[chosen], low[chosen], high[chosen], piece[chosen])
        sides.append(list(zip(*(column.tolist() for column in columns), strict=True)))
    firsts, seconds = sides
    found, a, b = [], 0, 0
    while a < len(firsts) and b < len(seconds):
        group_a, low_a, high_a, piece_a = firsts[a]
        group_b, low_b, high_b, piece_b = seconds[b]
        if group_a == group_b:
            length = min(high_a, high_b) - max(low_a, low_b)
            if length > _SHORTEST_M and piece_a != piece_b:
                found.append((piece_a, piece_b, length))
        if (group_a, high_a) <= (group_b, high_b):
            a += 1
        else:
            b += 1
    return found
