"""Plan geometry of elements in their own axes, and their place on site."""

import math
from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Geometry as Region
from shapely import MultiPolygon, Polygon, affinity

from wetfront.errors import InvalidInput
from wetfront.nouns.element import (
    Beam,
    Column,
    DeckSlab,
    DropPanel,
    Element,
    GroundSlab,
    Haunch,
    Kerb,
    MassBlock,
    Pedestal,
    PlanOpening,
    Slab,
    Stair,
    StripFooting,
    TaperedFooting,
    Wall,
)

AnySlab = Slab | GroundSlab | DeckSlab
SNAP_M = 1e-6
"""Edges nearer than this are one edge: no site measures a micrometre."""
_CIRCLE_CORNERS = 256


def slab_outline(slab: AnySlab) -> Polygon:
    """The slab's outer edge: its outline or its rectangle. InvalidInput names the key where both or none is given."""
    if slab.outline_m is not None:
        if slab.length_m is not None or slab.width_m is not None:
            raise InvalidInput("outline_m", "give either outline_m or length_m and width_m, not both")
        return Polygon(slab.outline_m)
    if slab.length_m is None or slab.width_m is None:
        missing = "length_m" if slab.length_m is None else "width_m"
        raise InvalidInput(missing, f"{missing} is missing: give length_m and width_m, or outline_m")
    return shapely.box(0, 0, slab.length_m, slab.width_m)


def opening_outline(opening: PlanOpening) -> Polygon:
    """The edge of a hole in a slab, in the slab's axes. Raises InvalidInput as `slab_outline` does."""
    rectangle = (opening.at_m, opening.length_m, opening.width_m)
    if opening.outline_m is not None:
        if any(value is not None for value in rectangle):
            raise InvalidInput("opening.outline_m", "give either outline_m or at_m, length_m and width_m, not both")
        return Polygon(opening.outline_m)
    if opening.at_m is None or opening.length_m is None or opening.width_m is None:
        names = ("at_m", "length_m", "width_m")
        missing = next(name for name, value in zip(names, rectangle, strict=True) if value is None)
        raise InvalidInput(
            f"opening.{missing}", f"{missing} is missing: give at_m, length_m and width_m of the opening, or outline_m"
        )
    x, y = opening.at_m
    return shapely.box(x, y, x + opening.length_m, y + opening.width_m)


class _Lines:
    """Coordinates that edges already have. A later edge within a micrometre of one lies on it, so that no skin of
    concrete thinner than that is left between an opening and an edge."""

    def __init__(self, *us_and_vs: Sequence[float]) -> None:
        self._known = [sorted(set(values)) for values in us_and_vs]

    def on(self, axis: int, value: float) -> float:
        """The known coordinate next to the value, or the value, which is known from now on."""
        known = self._known[axis]
        at = bisect_left(known, value)
        for near in known[max(at - 1, 0) : at + 1]:
            if abs(near - value) < SNAP_M:
                return near
        known.insert(at, value)
        return value

    def polygon(self, shape: Polygon) -> Polygon:
        """The polygon with its corners on known coordinates where they come near."""
        return Polygon([(self.on(0, x), self.on(1, y)) for x, y in shape.exterior.coords[:-1]])


def _slab_shapes(slab: AnySlab) -> tuple[Polygon, list[Polygon], list[tuple[Polygon, float]]]:
    """Outline, openings, (thickening, extra depth m)."""
    outline = slab_outline(slab)
    lines = _Lines(*zip(*outline.exterior.coords, strict=True))
    openings = [lines.polygon(opening_outline(opening)) for opening in slab.opening]
    thickenings = () if isinstance(slab, DeckSlab) else slab.thickening
    deep = [(lines.polygon(Polygon(thick.outline_m)), thick.extra_depth_mm / 1000) for thick in thickenings]
    return outline, openings, deep


def slab_region(slab: AnySlab) -> Region:
    """The slab's outline without its openings."""
    outline, openings, _ = _slab_shapes(slab)
    return shapely.difference(outline, shapely.union_all(openings)) if openings else outline


def thickening_regions(slab: Slab | GroundSlab, region: Region) -> list[tuple[Region, float]]:
    """(plan region, extra depth m) of every thickening, without the slab's openings."""
    return [(shapely.intersection(shape, region), extra_m) for shape, extra_m in _slab_shapes(slab)[2]]


def wall_openings(wall: Wall) -> list[tuple[float, float, float, float]]:
    """(start, sill, end, head) of every opening on the wall's front face, from its start and base [m]."""
    lines = _Lines((0.0, wall.length_m), (0.0, wall.height_m))
    return [
        (
            lines.on(0, hole.from_start_m),
            lines.on(1, hole.sill_above_base_m),
            lines.on(0, hole.from_start_m + hole.width_m),
            lines.on(1, hole.sill_above_base_m + hole.height_m),
        )
        for hole in wall.opening
    ]


def circle(diameter_m: float) -> Polygon:
    """A regular 256-sided polygon round the origin with exactly the circle's area (its radius is 0.005 % more)."""
    corners = _CIRCLE_CORNERS
    radius = diameter_m / 2 * math.sqrt(2 * math.pi / (corners * math.sin(2 * math.pi / corners)))
    angle = 2 * np.pi * np.arange(corners) / corners
    return Polygon(np.column_stack((radius * np.cos(angle), radius * np.sin(angle))))


def octagon(across_flats_m: float) -> Polygon:
    """A regular octagon round the origin with two flats square to x."""
    radius = across_flats_m / 2 / math.cos(math.pi / 8)
    angle = np.pi / 8 + np.pi / 4 * np.arange(8)
    return Polygon(np.column_stack((radius * np.cos(angle), radius * np.sin(angle))))


def centred_box(length_m: float, width_m: float) -> Polygon:
    """A rectangle round the origin."""
    return shapely.box(-length_m / 2, -width_m / 2, length_m / 2, width_m / 2)


def column_section(column: Column) -> Polygon:
    """The column's plan section round its centre. Raises InvalidInput where the section's own key is missing."""

    def needed(key: str, value: float | None) -> float:
        if value is None:
            raise InvalidInput(key, f"{key} is missing for a {column.section} column")
        return value

    match column.section:
        case "circular":
            return circle(needed("diameter_m", column.diameter_m))
        case "octagonal":
            return octagon(needed("across_flats_m", column.across_flats_m))
        case "rectangular":
            return centred_box(needed("width_m", column.width_m), needed("breadth_m", column.breadth_m))


def haunch_region(haunch: Haunch) -> Region:
    """One rectangle a side; the second mirrored below y = 0."""
    first = shapely.box(0, 0, haunch.length_m, haunch.haunch_width_m)
    if haunch.sides_count == 1:
        return first
    low = -haunch.between_sides_m - haunch.haunch_width_m
    second = shapely.box(0, low, haunch.length_m, -haunch.between_sides_m)
    return MultiPolygon([second, first])


def drop_panel_top(panel: DropPanel) -> tuple[float, float]:
    """Length and breadth [m] of a drop panel at the slab's soffit."""
    wider = 2 * panel.side_slope_horizontal_per_vertical * panel.drop_depth_m
    return panel.drop_length_m + wider, panel.drop_breadth_m + wider


def footprint(element: Element) -> Region:
    """The largest horizontal section in the element's own axes."""
    match element:
        case Slab() | GroundSlab() | DeckSlab():
            return slab_region(element)
        case Wall():
            return shapely.box(0, 0, element.length_m, element.thickness_mm / 1000)
        case Column():
            return column_section(element)
        case Pedestal():
            return centred_box(element.length_m, element.width_m)
        case TaperedFooting():
            return centred_box(element.base_length_m, element.base_breadth_m)
        case DropPanel():
            return centred_box(*drop_panel_top(element))
        case Haunch():
            return haunch_region(element)
        case Stair():
            return shapely.box(0, 0, element.risers_count * element.going_m, element.width_m)
        case StripFooting() | Beam() | Kerb() | MassBlock():
            return shapely.box(0, 0, element.length_m, element.width_m)


def on_site(element: Element, shape: Region) -> Region:
    """A plan shape in the element's own axes, moved to its place on site."""
    x, y = element.at_m or (0.0, 0.0)
    if element.turn_deg == 0:
        return affinity.translate(shape, x, y)
    angle = math.radians(element.turn_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    return affinity.affine_transform(shape, (cos, -sin, sin, cos, x, y))


def points_on_site(element: Element, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Plan points, shape (n, 2), in the element's own axes, moved to their place on site."""
    angle = math.radians(element.turn_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    turned = points @ np.array([[cos, sin], [-sin, cos]]) if element.turn_deg else points
    placed: NDArray[np.float64] = turned + np.array(element.at_m or (0.0, 0.0))
    return placed
