"""Take-off: volume, formed area and upper surface of every shape, and the list of a pour.

What needs a form, shape by shape (our own rule, said here so that it can be compared with a bill of quantities):

- slab: outer edges and opening reveals over the thickness; on falsework also the soffit and the sides of thickenings
- ground slab: outer edges and reveals over the mean thickness; thickenings are cast against the ground
- deck slab: outer edges and reveals over the overall depth; the deck itself is the soffit's form
- wall: both faces, both ends, jambs, head and sill of openings (no sill at the base, no head at the top)
- column, pedestal, mass block, strip footing: all sides
- tapered footing: vertical edges and the four sloping faces (listed apart, to leave them out where they are flat)
- beam: soffit and both sides; its ends meet columns or walls
- stair: sloping soffit, risers, both sides of the flight, soffit of the landing
- drop panel: soffit and four sides; haunch: the sloping face; kerb: both sides and both ends

The upper surface is what dries and is finished. Drop panel and haunch have none: the slab goes on above them. A beam's
is counted, and lost where a slab lies on it in the same lattice.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

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
    Slab,
    Stair,
    StripFooting,
    TaperedFooting,
    Wall,
)
from wetfront.takeoff.bodies import mean_thickness_m, stair_formed_area_m2
from wetfront.takeoff.geometry import (
    column_section,
    drop_panel_top,
    slab_outline,
    slab_region,
    thickening_regions,
    wall_openings,
)
from wetfront.takeoff.problems import geometry_problems
from wetfront.takeoff.volumes import (
    column_area,
    column_volume,
    deck_slab_volume,
    drop_panel_volume,
    haunch_volume,
    stair_volume,
    tapered_footing_volume,
    wall_volume,
)


@dataclass(frozen=True, slots=True)
class Part:
    """One intermediate value of a take-off."""

    step: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Quantities:
    """One element: net volume, formed area, upper surface, largest horizontal section, and how they came about."""

    volume_m3: float
    formed_area_m2: float
    top_area_m2: float
    plan_area_m2: float
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class TakeOffRow:
    """One line of the list; `each` is one element, the totals are for all `count` of them."""

    id: str
    shape: str
    count: int
    each: Quantities
    volume_m3: float
    formed_area_m2: float
    top_area_m2: float


@dataclass(frozen=True, slots=True)
class TakeOff:
    """The list and its totals."""

    rows: tuple[TakeOffRow, ...]
    volume_m3: float
    formed_area_m2: float
    top_area_m2: float


def take_off(elements: Sequence[Element]) -> TakeOff:
    """Quantities of all elements. InvalidInput names element and key of the first size that does not fit another."""
    for problem in geometry_problems(elements):
        raise InvalidInput(problem.key, f"{problem.element_id}: {problem.message}")
    rows = []
    for element in elements:
        each, count = quantities_of(element), element.count
        rows.append(
            TakeOffRow(
                element.id,
                element.shape,
                count,
                each,
                count * each.volume_m3,
                count * each.formed_area_m2,
                count * each.top_area_m2,
            )
        )
    return TakeOff(
        tuple(rows),
        math.fsum(row.volume_m3 for row in rows),
        math.fsum(row.formed_area_m2 for row in rows),
        math.fsum(row.top_area_m2 for row in rows),
    )


def quantities_of(element: Element) -> Quantities:
    """Quantities of one element (not multiplied by its count). Its sizes must fit each other: `geometry_problems`."""
    match element:
        case Slab() | GroundSlab():
            return _slab(element)
        case DeckSlab():
            return _deck_slab(element)
        case Wall():
            return _wall(element)
        case Column():
            return _column(element)
        case TaperedFooting():
            return _tapered_footing(element)
        case Pedestal():
            return _block(element.length_m, element.width_m, element.height_m)
        case MassBlock():
            return _block(element.length_m, element.width_m, element.depth_m)
        case StripFooting():
            return _block(element.length_m, element.width_m, element.depth_mm / 1000)
        case Beam():
            return _beam(element)
        case Stair():
            return _stair(element)
        case DropPanel():
            return _drop_panel(element)
        case Haunch():
            return _haunch(element)
        case Kerb():
            return _kerb(element)


def _slab(slab: Slab | GroundSlab) -> Quantities:
    outline, region = slab_outline(slab), slab_region(slab)
    area, edges = float(region.area), float(region.length)
    mean = mean_thickness_m(slab)
    thickenings = thickening_regions(slab, region)
    below = math.fsum(float(shape.area) * extra for shape, extra in thickenings)
    parts = [
        Part("gross plan area", float(outline.area), "m²"),
        Part("openings", float(outline.area) - area, "m²"),
        Part("mean thickness", mean * 1000, "mm"),
        Part("edges and reveals", edges * mean, "m²"),
    ]
    formed = edges * mean
    if thickenings:
        parts.append(Part("thickenings", below, "m³"))
    if isinstance(slab, Slab) and slab.support == "falsework":
        steps = math.fsum(float(shape.length) * extra for shape, extra in thickenings)
        parts.append(Part("soffit and sides of thickenings", area + steps, "m²"))
        formed += area + steps
    return Quantities(area * mean + below, formed, area, area, tuple(parts))


def _deck_slab(slab: DeckSlab) -> Quantities:
    outline, region = slab_outline(slab), slab_region(slab)
    area = float(region.area)
    found = deck_slab_volume(
        area,
        slab.overall_depth_mm,
        slab.rib_height_mm,
        slab.rib_pitch_mm,
        slab.rib_width_top_mm,
        slab.rib_width_bottom_mm,
        slab.deck_deflection_mm,
        slab.poured_to,
    )
    parts = (
        Part("gross plan area", float(outline.area), "m²"),
        Part("openings", float(outline.area) - area, "m²"),
        Part("mean thickness without ponding", found.mean_thickness_mm, "mm"),
        Part("ponding", found.ponding_thickness_mm, "mm"),
    )
    return Quantities(found.volume_m3, float(region.length) * slab.overall_depth_mm / 1000, area, area, parts)


def _wall(wall: Wall) -> Quantities:
    thick = wall.thickness_mm / 1000
    holes = wall_openings(wall)
    widths, heights = [u1 - u0 for u0, _, u1, _ in holes], [v1 - v0 for _, v0, _, v1 in holes]
    found = wall_volume(wall.length_m, wall.height_m, thick, widths, heights)
    top_open, reveals, ends = wall.length_m, 0.0, 2 * wall.height_m
    for u0, v0, u1, v1 in holes:
        at_ends = (u0 == 0) + (u1 == wall.length_m)
        # A jamb on the wall's own end is no reveal, and the end is not there to be formed.
        reveals += (v1 - v0) * (2 - at_ends) + (u1 - u0) * ((v0 > 0) + (v1 < wall.height_m))
        ends -= (v1 - v0) * at_ends
        top_open -= u1 - u0 if v1 == wall.height_m else 0.0
    reveals -= 2 * _touching_openings_m(holes)
    faces = 2 * (wall.length_m * wall.height_m - found.deducted_area_m2)
    parts = (
        Part("gross face", wall.length_m * wall.height_m, "m²"),
        Part("openings", found.deducted_area_m2, "m²"),
        Part("both faces", faces, "m²"),
        Part("ends", ends * thick, "m²"),
        Part("opening reveals", reveals * thick, "m²"),
    )
    formed = faces + (ends + reveals) * thick
    return Quantities(found.volume_m3, formed, top_open * thick, wall.length_m * thick, parts)


def _touching_openings_m(holes: Sequence[tuple[float, float, float, float]]) -> float:
    """Length along which openings touch each other: no concrete, so no reveal."""
    total = 0.0
    for (u0, v0, u1, v1), (p0, q0, p1, q1) in combinations(holes, 2):
        if u1 == p0 or p1 == u0:
            total += max(0.0, min(v1, q1) - max(v0, q0))
        elif v1 == q0 or q1 == v0:
            total += max(0.0, min(u1, p1) - max(u0, p0))
    return total


def _column(column: Column) -> Quantities:
    area = column_area(
        column.section,
        width_m=column.width_m,
        breadth_m=column.breadth_m,
        diameter_m=column.diameter_m,
        across_flats_m=column.across_flats_m,
    )
    if column.section == "circular" and column.diameter_m is not None:
        perimeter = math.pi * column.diameter_m
    else:
        perimeter = float(column_section(column).length)
    parts = (Part("section", area, "m²"), Part("perimeter", perimeter, "m"))
    return Quantities(column_volume(column.height_m, area), perimeter * column.height_m, area, area, parts)


def _tapered_footing(footing: TaperedFooting) -> Quantities:
    l0, b0, l1, b1 = (
        footing.base_length_m,
        footing.base_breadth_m,
        footing.top_length_m,
        footing.top_breadth_m,
    )
    found = tapered_footing_volume(l0, b0, footing.tapered_height_m, l1, b1, footing.edge_thickness_m)
    edge = 2 * (l0 + b0) * footing.edge_thickness_m
    sloping = _sloping_sides(l0, b0, l1, b1, footing.tapered_height_m)
    parts = (
        Part("edge block", found.edge_volume_m3, "m³"),
        Part("taper", found.tapered_volume_m3, "m³"),
        Part("vertical edges", edge, "m²"),
        Part("sloping faces", sloping, "m²"),
    )
    return Quantities(found.volume_m3, edge + sloping, l1 * b1, l0 * b0, parts)


def _sloping_sides(l0: float, b0: float, l1: float, b1: float, height: float) -> float:
    """Four trapezia between two rectangles round one axis [m²]."""
    return (l0 + l1) * math.hypot(height, (b0 - b1) / 2) + (b0 + b1) * math.hypot(height, (l0 - l1) / 2)


def _block(length: float, width: float, height: float) -> Quantities:
    area, sides = length * width, 2 * (length + width) * height
    return Quantities(area * height, sides, area, area, (Part("sides", sides, "m²"),))


def _beam(beam: Beam) -> Quantities:
    deep, area = beam.depth_mm / 1000, beam.length_m * beam.width_m
    sides = 2 * beam.length_m * deep
    return Quantities(area * deep, area + sides, area, area, (Part("soffit", area, "m²"), Part("sides", sides, "m²")))


def _stair(stair: Stair) -> Quantities:
    found = stair_volume(
        stair.risers_count,
        stair.riser_m,
        stair.going_m,
        stair.width_m,
        stair.waist_m,
        stair.landing_area_m2,
        stair.landing_thickness_m,
    )
    parts = (
        Part("waist", found.waist_volume_m3, "m³"),
        Part("steps", found.steps_volume_m3, "m³"),
        Part("landing", found.landing_volume_m3, "m³"),
    )
    plan = stair.risers_count * stair.going_m * stair.width_m + stair.landing_area_m2
    return Quantities(found.volume_m3, stair_formed_area_m2(stair), plan, plan, parts)


def _drop_panel(panel: DropPanel) -> Quantities:
    volume = drop_panel_volume(
        panel.drop_length_m, panel.drop_breadth_m, panel.drop_depth_m, panel.side_slope_horizontal_per_vertical
    )
    length, breadth = drop_panel_top(panel)
    soffit = panel.drop_length_m * panel.drop_breadth_m
    sides = _sloping_sides(panel.drop_length_m, panel.drop_breadth_m, length, breadth, panel.drop_depth_m)
    parts = (Part("soffit", soffit, "m²"), Part("sides", sides, "m²"))
    return Quantities(volume, soffit + sides, 0.0, length * breadth, parts)


def _haunch(haunch: Haunch) -> Quantities:
    volume = haunch_volume(haunch.length_m, haunch.haunch_width_m, haunch.haunch_depth_m, haunch.sides_count)
    sloping = haunch.length_m * math.hypot(haunch.haunch_width_m, haunch.haunch_depth_m) * haunch.sides_count
    plan = haunch.length_m * haunch.haunch_width_m * haunch.sides_count
    return Quantities(volume, sloping, 0.0, plan, (Part("sloping faces", sloping, "m²"),))


def _kerb(kerb: Kerb) -> Quantities:
    top = kerb.width_m if kerb.top_width_m is None else kerb.top_width_m
    section = kerb.height_m * (kerb.width_m + top) / 2
    sides = 2 * kerb.length_m * math.hypot(kerb.height_m, (kerb.width_m - top) / 2)
    parts = (Part("section", section, "m²"), Part("sides", sides, "m²"), Part("ends", 2 * section, "m²"))
    return Quantities(
        section * kerb.length_m, sides + 2 * section, kerb.length_m * top, kerb.length_m * kerb.width_m, parts
    )
