"""One element cut into placing cells, in its own axes.

Three ways: over the plan and in layers (slabs, blocks, beams), over the front elevation (walls), in slices one above
the other (columns, tapered footings). What cannot be cut honestly is one cell.
"""

import math
from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry as Region
from shapely import Polygon

from wetfront.nouns.element import Wall
from wetfront.takeoff.geometry import wall_openings
from wetfront.takeoff.grid import Pieces, cut_region, edges_of, shared_edges

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
PairArea = dict[tuple[int, int], float]


@dataclass(frozen=True, slots=True)
class SideFace:
    """A vertical rectangle of one cell, its outside to the right of start → end. `form_share`: formed m² per m²."""

    cell: int
    start: tuple[float, float]
    end: tuple[float, float]
    low_m: float
    high_m: float
    form_share: float


@dataclass(frozen=True, slots=True)
class LevelFace:
    """A horizontal face of one cell. `share`: part of it open (upper) or formed (lower) where nothing touches."""

    cell: int
    shape: Region
    level_m: float
    share: float


@dataclass(slots=True)
class Cut:
    """The cells of one element; arrays of length n, faces towards other elements, outlines in the drawing plane."""

    volume_m3: Floats
    plan_area_m2: Floats
    middle_m: Floats
    """(n, 3)"""
    layer: Ints
    layers_count: int
    i: Ints
    j: Ints
    top_area_m2: Floats
    formed_area_m2: Floats
    outlines: list[Floats]
    """Plan (x, y) or elevation (along, level); anticlockwise, not closed."""
    elevation: bool
    copies: bool = False
    """True where each cell is one of several identical elements, whose places are not known."""
    lateral: PairArea = field(default_factory=dict)
    vertical: PairArea = field(default_factory=dict)
    sides: list[SideFace] = field(default_factory=list)
    tops: list[LevelFace] = field(default_factory=list)
    bottoms: list[LevelFace] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanBody:
    """A body of one mean thickness over a plan region, with what its faces need as form (per m² or per m)."""

    region: Region
    base_m: float
    """Level of the mean underside."""
    thickness_m: float
    layers_count: int = 1
    thickenings: tuple[tuple[Region, float], ...] = ()
    soffit_form: float = 0.0
    """Formed area per plan area of the underside: 1 on falsework, more where it slopes."""
    edge_form_along_m: float = 0.0
    """Formed height of outer edges that run along x."""
    edge_form_across_m: float = 0.0
    thickening_form: float = 0.0
    """1 where the sides of the thickenings are formed."""
    top_open: float = 1.0
    """Upper free surface per plan area."""


def grid_counts(length_m: float, width_m: float, cell_size_m: float) -> tuple[int, int]:
    """Squares along and across: the sides come as near to the wanted size as whole numbers allow."""
    return max(1, round(length_m / cell_size_m)), max(1, round(width_m / cell_size_m))


def layers_needed(depth_m: float, layer_mm: float) -> int:
    """Equal layers, none over layer_mm."""
    return max(1, math.ceil(depth_m * 1000 / layer_mm - 1e-9))


def _corners(polygons: NDArray[np.object_]) -> list[Floats]:
    return [shapely.get_coordinates(polygon)[:-1] for polygon in polygons]


def _sums(count: int, index: Ints, values: Floats) -> Floats:
    return np.bincount(index, weights=values, minlength=count).astype(float)


def cut_plan(body: PlanBody, u_count: int, v_count: int) -> Cut:
    """Grid squares over the plan, in equal layers; thickenings belong to the lowest cells above them."""
    pieces = cut_region(body.region, u_count, v_count, corners_of=[shape for shape, _ in body.thickenings])
    count, layers = len(pieces.polygons), body.layers_count
    layer_m = body.thickness_m / layers
    area = shapely.area(pieces.polygons)
    extra_volume, extra_formed, extra_faces, deep = _thickened(body, pieces)
    edge_formed = _edge_form(body, pieces) / layers

    layer = np.repeat(np.arange(layers), count)
    lowest, highest = layer == 0, layer == layers - 1
    plan_area = np.tile(area, layers)
    volume = plan_area * layer_m + np.where(lowest, np.tile(extra_volume, layers), 0)
    formed = np.tile(edge_formed, layers) + np.where(lowest, np.tile(area * body.soffit_form + extra_formed, layers), 0)
    centre = shapely.get_coordinates(shapely.centroid(pieces.polygons))
    bottom = body.base_m + layer * layer_m - np.where(lowest, np.tile(extra_volume / area, layers), 0)
    level = (bottom + body.base_m + (layer + 1) * layer_m) / 2
    cut = Cut(
        volume_m3=volume,
        plan_area_m2=plan_area,
        middle_m=np.column_stack((np.tile(centre, (layers, 1)), level)),
        layer=layer,
        layers_count=layers,
        i=np.tile(pieces.i, layers),
        j=np.tile(pieces.j, layers),
        top_area_m2=np.where(highest, plan_area * body.top_open, 0.0),
        formed_area_m2=formed,
        outlines=_corners(pieces.polygons) * layers,
        elevation=False,
    )
    _join_plan(cut, body, pieces, extra_faces, layer_m)
    _expose_plan(cut, body, pieces, deep, layer_m)
    return cut


def _thickened(body: PlanBody, pieces: Pieces) -> tuple[Floats, Floats, PairArea, list[tuple[int, Region, float]]]:
    """Per square: extra volume, extra formed sides; faces shared inside thickenings; the deep undersides."""
    count = len(pieces.polygons)
    volume, formed = np.zeros(count), np.zeros(count)
    faces: PairArea = defaultdict(float)
    deep: list[tuple[int, Region, float]] = []
    for region, extra_m in body.thickenings:
        parts, square = shapely.get_parts(shapely.intersection(pieces.polygons, region), return_index=True)
        real = (shapely.get_type_id(parts) == 3) & (shapely.area(parts) > 0)
        parts, square = shapely.normalize(parts[real]), square[real]
        # normalize turns rings clockwise; the matching of edges wants them the other way round.
        parts = shapely.reverse(parts)
        volume += _sums(count, square, shapely.area(parts) * extra_m)
        edges = shared_edges(parts)
        formed += _sums(count, square, shapely.length(parts) * extra_m * body.thickening_form)
        for first, second, length in zip(square[edges.first], square[edges.second], edges.length_m, strict=True):
            formed[[first, second]] -= length * extra_m * body.thickening_form
            if first != second:
                faces[min(first, second), max(first, second)] += float(length * extra_m)
        deep += [(int(k), part, extra_m) for k, part in zip(square, parts, strict=True)]
    return volume, formed, faces, deep


def _edge_form(body: PlanBody, pieces: Pieces) -> Floats:
    """Formed area of each square's outer edges over the whole thickness."""
    count = len(pieces.polygons)
    piece, start, end = edges_of(pieces.polygons)
    step = np.abs(end - start)
    length = np.hypot(step[:, 0], step[:, 1])
    # Where the two heights differ the body is a rectangle, so that an edge runs either along or across.
    height = np.where(step[:, 0] >= step[:, 1], body.edge_form_along_m, body.edge_form_across_m)
    formed = _sums(count, piece, length * height)
    edges = shared_edges(pieces.polygons)
    inner = edges.length_m * np.where(edges.upright, body.edge_form_across_m, body.edge_form_along_m)
    return formed - _sums(count, edges.first, inner) - _sums(count, edges.second, inner)


def _join_plan(cut: Cut, body: PlanBody, pieces: Pieces, extra_faces: PairArea, layer_m: float) -> None:
    count = len(pieces.polygons)
    edges = shared_edges(pieces.polygons)
    lengths: PairArea = defaultdict(float)
    for first, second, length in zip(edges.first.tolist(), edges.second.tolist(), edges.length_m.tolist(), strict=True):
        lengths[min(first, second), max(first, second)] += length
    area = shapely.area(pieces.polygons)
    for layer in range(body.layers_count):
        base = layer * count
        for (first, second), length in lengths.items():
            extra = extra_faces.get((first, second), 0.0) if layer == 0 else 0.0
            cut.lateral[base + first, base + second] = length * layer_m + extra
        if layer:
            cut.vertical.update(
                {(base - count + square, base + square): float(area[square]) for square in range(count)}
            )


def _expose_plan(
    cut: Cut, body: PlanBody, pieces: Pieces, deep: list[tuple[int, Region, float]], layer_m: float
) -> None:
    """Outer faces towards other elements."""
    count, layers = len(pieces.polygons), body.layers_count
    piece, start, end = edges_of(pieces.polygons)
    outer = shapely.dwithin(shapely.linestrings(np.stack((start, end), axis=1)), body.region.boundary, 1e-6)
    for k, a, b in zip(piece[outer].tolist(), start[outer].tolist(), end[outer].tolist(), strict=True):
        along = abs(b[0] - a[0]) >= abs(b[1] - a[1])
        formed_m = body.edge_form_along_m if along else body.edge_form_across_m
        for layer in range(layers):
            low = body.base_m + layer * layer_m
            share = formed_m / body.thickness_m
            cut.sides.append(SideFace(layer * count + k, tuple(a), tuple(b), low, low + layer_m, share))
    high_m = body.base_m + body.thickness_m
    below: dict[int, list[Region]] = defaultdict(list)
    for k, part, extra_m in deep:
        below[k].append(part)
        cut.bottoms.append(LevelFace(k, part, body.base_m - extra_m, body.soffit_form))
    for k, polygon in enumerate(pieces.polygons):
        cut.tops.append(LevelFace((layers - 1) * count + k, polygon, high_m, body.top_open))
        rest = shapely.difference(polygon, shapely.union_all(below[k])) if k in below else polygon
        cut.bottoms.append(LevelFace(k, rest, body.base_m, body.soffit_form))


def cut_wall(wall: Wall, cell_size_m: float, layer_mm: float) -> Cut:
    """Squares of the front elevation: parts of the length by equal layers, openings left out exactly."""
    thick_m, height_m = wall.thickness_mm / 1000, wall.height_m
    holes = [shapely.box(*corners) for corners in wall_openings(wall)]
    face = shapely.difference(shapely.box(0, 0, wall.length_m, height_m), shapely.union_all(holes))
    layers = layers_needed(height_m, layer_mm)
    whole = (0.0, 0.0, wall.length_m, height_m)
    pieces = cut_region(face, grid_counts(wall.length_m, 1, cell_size_m)[0], layers, whole)
    order = np.lexsort((pieces.i, pieces.j))
    polygons, i, layer = pieces.polygons[order], pieces.i[order], pieces.j[order]
    area = shapely.area(polygons)
    bounds = shapely.bounds(polygons)
    # A sliver that joined a cell of the next layer does not raise that cell out of its own layer.
    low_m = np.maximum(bounds[:, 1], layer * height_m / layers)
    high_m = np.minimum(bounds[:, 3], (layer + 1) * height_m / layers)
    edges = shared_edges(polygons)
    touching = _sums(len(area), edges.first, edges.length_m) + _sums(len(area), edges.second, edges.length_m)
    piece, start, end = edges_of(polygons)
    flat = np.abs(end[:, 1] - start[:, 1]) < 1e-9
    width = np.abs(end[:, 0] - start[:, 0])
    at_top = _sums(len(area), piece, np.where(flat & (start[:, 1] > height_m - 1e-9), width, 0))
    at_base = _sums(len(area), piece, np.where(flat & (start[:, 1] < 1e-9), width, 0))
    reveals = shapely.length(polygons) - touching - at_top - at_base
    centre = shapely.get_coordinates(shapely.centroid(polygons))
    middle = np.column_stack((centre[:, 0], np.full(len(area), thick_m / 2), (low_m + high_m) / 2))
    cut = Cut(
        volume_m3=area * thick_m,
        plan_area_m2=area * thick_m / (high_m - low_m),
        middle_m=middle + np.array([0, 0, wall.base_level_m]),
        layer=layer,
        layers_count=layers,
        i=i,
        j=np.zeros(len(area), dtype=int),
        top_area_m2=at_top * thick_m,
        formed_area_m2=2 * area + reveals * thick_m,
        outlines=[corners + np.array([0, wall.base_level_m]) for corners in _corners(polygons)],
        elevation=True,
    )
    for upright, pairs in ((True, cut.lateral), (False, cut.vertical)):
        chosen = edges.upright == upright
        for first, second, length in zip(
            edges.first[chosen].tolist(), edges.second[chosen].tolist(), edges.length_m[chosen].tolist(), strict=True
        ):
            pair = (min(first, second), max(first, second)) if upright else (first, second)
            pairs[pair] = pairs.get(pair, 0.0) + length * thick_m
    _expose_wall(cut, wall, polygons)
    return cut


def _expose_wall(cut: Cut, wall: Wall, polygons: NDArray[np.object_]) -> None:
    thick_m, base, length_m = wall.thickness_mm / 1000, wall.base_level_m, wall.length_m
    for cell, polygon in enumerate(polygons):
        for low_u, low_v, high_u, high_v in _rectangles(polygon):
            low, high = base + low_v, base + high_v
            cut.sides.append(SideFace(cell, (low_u, 0.0), (high_u, 0.0), low, high, 1.0))
            cut.sides.append(SideFace(cell, (high_u, thick_m), (low_u, thick_m), low, high, 1.0))
            if low_u < 1e-9:
                cut.sides.append(SideFace(cell, (0.0, thick_m), (0.0, 0.0), low, high, 1.0))
            if high_u > length_m - 1e-9:
                cut.sides.append(SideFace(cell, (length_m, 0.0), (length_m, thick_m), low, high, 1.0))
            strip = shapely.box(low_u, 0, high_u, thick_m)
            if high_v > wall.height_m - 1e-9:
                cut.tops.append(LevelFace(cell, strip, high, 1.0))
            if low_v < 1e-9:
                cut.bottoms.append(LevelFace(cell, strip, low, 0.0))


def _rectangles(polygon: Polygon) -> list[tuple[float, float, float, float]]:
    """A polygon with right angles as upright rectangles."""
    if len(polygon.exterior.coords) == 5:
        return [polygon.bounds]
    us = sorted({u for u, _ in polygon.exterior.coords})
    _, low_v, _, high_v = polygon.bounds
    strips = [shapely.intersection(polygon, shapely.box(a, low_v, b, high_v)) for a, b in pairwise(us)]
    return [part.bounds for part in shapely.get_parts(strips) if part.area > 0]


@dataclass(frozen=True, slots=True)
class Slice:
    """A horizontal slice of a column or footing."""

    low_m: float
    high_m: float
    volume_m3: float
    formed_area_m2: float
    lower: Region
    upper: Region
    upright: bool = True


def cut_slices(slices: list[Slice], top_open: float, soffit_form: float) -> Cut:
    """One cell a slice, from below."""
    count = len(slices)
    volume = np.array([one.volume_m3 for one in slices])
    rise = np.array([one.high_m - one.low_m for one in slices])
    formed = np.array([one.formed_area_m2 for one in slices])
    formed[0] += soffit_form * slices[0].lower.area
    top = np.zeros(count)
    top[-1] = top_open * slices[-1].upper.area
    middle = np.array([[0, 0, (one.low_m + one.high_m) / 2] for one in slices], dtype=float)
    outlines = []
    for one in slices:
        low_u, _, high_u, _ = one.lower.bounds
        upper = one.upper.bounds if one.upper.area > 0 else (0.0, 0.0, 0.0, 0.0)
        corners = [(low_u, one.low_m), (high_u, one.low_m), (upper[2], one.high_m), (upper[0], one.high_m)]
        outlines.append(np.array(corners))
    zeros = np.zeros(count, dtype=int)
    cut = Cut(volume, volume / rise, middle, np.arange(count), count, zeros, zeros, top, formed, outlines, True)
    cut.vertical = {(k, k + 1): float(slices[k].upper.area) for k in range(count - 1)}
    for cell, one in enumerate(slices):
        if one.upright and len(one.lower.exterior.coords) < 20:
            corners_ccw = shapely.get_coordinates(one.lower)
            corners_ccw = corners_ccw if one.lower.exterior.is_ccw else corners_ccw[::-1]
            for a, b in zip(corners_ccw[:-1].tolist(), corners_ccw[1:].tolist(), strict=True):
                cut.sides.append(SideFace(cell, tuple(a), tuple(b), one.low_m, one.high_m, 1.0))
    cut.tops.append(LevelFace(count - 1, slices[-1].upper, slices[-1].high_m, top_open))
    cut.bottoms.append(LevelFace(0, slices[0].lower, slices[0].low_m, soffit_form))
    return cut


def copies_of(cut: Cut, count: int) -> Cut:
    """One cell for each of `count` identical elements, without neighbours; drawn as the hull of the element."""
    lowest = cut.layer == 0
    plan_area = float(cut.plan_area_m2[lowest].sum())
    middle = np.average(cut.middle_m, axis=0, weights=cut.volume_m3)
    hull = shapely.convex_hull(shapely.MultiPoint(np.concatenate(cut.outlines)))
    corners = shapely.get_coordinates(hull)[:-1]
    corners = corners if hull.exterior.is_ccw else corners[::-1]
    zeros = np.zeros(count, dtype=int)
    return Cut(
        volume_m3=np.full(count, cut.volume_m3.sum()),
        plan_area_m2=np.full(count, plan_area),
        middle_m=np.tile(middle, (count, 1)),
        layer=zeros,
        layers_count=1,
        i=np.arange(count),
        j=zeros,
        top_area_m2=np.full(count, cut.top_area_m2.sum()),
        formed_area_m2=np.full(count, cut.formed_area_m2.sum()),
        outlines=[corners] * count,
        elevation=cut.elevation,
        copies=True,
    )
