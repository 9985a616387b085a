"""Which way each shape is cut into cells, and which of its faces need a form."""

import math

import numpy as np
import shapely

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
from wetfront.takeoff.cutting import (
    Cut,
    PlanBody,
    SideFace,
    Slice,
    cut_plan,
    cut_slices,
    cut_wall,
    grid_counts,
    layers_needed,
)
from wetfront.takeoff.geometry import (
    centred_box,
    column_section,
    drop_panel_top,
    footprint,
    slab_region,
    thickening_regions,
)
from wetfront.takeoff.volumes import (
    column_area,
    deck_slab_volume,
    ground_slab_volume,
    measured_slab_volume,
    prismatoid_volume,
    stair_volume,
)


def mean_thickness_m(slab: Slab | GroundSlab | DeckSlab) -> float:
    """Mean thickness [m] without thickenings; with ponding where a deck slab is poured to a level."""
    match slab:
        case Slab():
            return slab.thickness_mm / 1000
        case GroundSlab():
            if slab.measured_thicknesses_mm:
                return measured_slab_volume(1.0, slab.measured_thicknesses_mm).mean_thickness_mm / 1000
            band = ground_slab_volume(1.0, slab.thickness_mm, slab.subbase_lowest_mm, slab.subbase_highest_mm)
            return band.mean_thickness_mm / 1000
        case DeckSlab():
            return deck_slab_volume(
                1.0,
                slab.overall_depth_mm,
                slab.rib_height_mm,
                slab.rib_pitch_mm,
                slab.rib_width_top_mm,
                slab.rib_width_bottom_mm,
                slab.deck_deflection_mm,
                slab.poured_to,
            ).volume_m3


def rise_m(element: Element) -> float:
    """Height of the element from its underside to its upper face [m]."""
    match element:
        case Slab() | GroundSlab():
            return element.thickness_mm / 1000
        case DeckSlab():
            return element.overall_depth_mm / 1000
        case TaperedFooting():
            return element.edge_thickness_m + element.tapered_height_m
        case StripFooting() | Beam():
            return element.depth_mm / 1000
        case Stair():
            return element.risers_count * element.riser_m
        case DropPanel():
            return element.drop_depth_m
        case Haunch():
            return element.haunch_depth_m
        case MassBlock():
            return element.depth_m
        case Wall() | Column() | Pedestal() | Kerb():
            return element.height_m


def cut_element(element: Element, cell_size_m: float, layer_mm: float) -> Cut:
    """The element's cells in its own axes (levels are those of the site)."""
    match element:
        case Wall():
            return cut_wall(element, cell_size_m, layer_mm)
        case Column():
            return _cut_column(element, layer_mm)
        case TaperedFooting():
            return _cut_footing(element, layer_mm)
        case DropPanel():
            return _cut_drop_panel(element, layer_mm)
        case Stair():
            return _one_flight(element)
    body = plan_body(element, layer_mm)
    low_x, low_y, high_x, high_y = body.region.bounds
    cut = cut_plan(body, *grid_counts(high_x - low_x, high_y - low_y, cell_size_m))
    if isinstance(element, Haunch | Kerb):
        _keep_upright_sides(cut, element)
    return cut


def _slab_body(slab: Slab | GroundSlab | DeckSlab, layer_mm: float) -> PlanBody:
    region, deep = slab_region(slab), mean_thickness_m(slab)
    base = slab.base_level_m + rise_m(slab) - deep
    if isinstance(slab, DeckSlab):
        edge = slab.overall_depth_mm / 1000
        return PlanBody(region=region, base_m=base, thickness_m=deep, edge_form_along_m=edge, edge_form_across_m=edge)
    formed = 1.0 if isinstance(slab, Slab) and slab.support == "falsework" else 0.0
    return PlanBody(
        region=region,
        base_m=base,
        thickness_m=deep,
        layers_count=layers_needed(deep, layer_mm),
        thickenings=tuple(thickening_regions(slab, region)),
        soffit_form=formed,
        edge_form_along_m=deep,
        edge_form_across_m=deep,
        thickening_form=formed,
    )


def plan_body(
    element: Slab | GroundSlab | DeckSlab | Pedestal | StripFooting | Beam | MassBlock | Haunch | Kerb, layer_mm: float
) -> PlanBody:
    """What is cut over the plan: one mean thickness over a region."""
    if isinstance(element, Slab | GroundSlab | DeckSlab):
        return _slab_body(element, layer_mm)
    region, base, rise = footprint(element), element.base_level_m, rise_m(element)
    match element:
        case Haunch():
            slope = math.hypot(element.haunch_width_m, element.haunch_depth_m) / element.haunch_width_m
            deep = element.haunch_depth_m / 2
            return PlanBody(region=region, base_m=base + deep, thickness_m=deep, soffit_form=slope, top_open=0.0)
        case Kerb():
            upper = element.width_m if element.top_width_m is None else element.top_width_m
            deep = element.height_m * (element.width_m + upper) / 2 / element.width_m
            return PlanBody(
                region=region,
                base_m=base,
                thickness_m=deep,
                layers_count=layers_needed(deep, layer_mm) if upper == element.width_m else 1,
                edge_form_along_m=math.hypot(element.height_m, (element.width_m - upper) / 2),
                edge_form_across_m=deep,
                top_open=upper / element.width_m,
            )
        case Pedestal() | StripFooting() | Beam() | MassBlock():
            beam = isinstance(element, Beam)
            return PlanBody(
                region=region,
                base_m=base,
                thickness_m=rise,
                layers_count=layers_needed(rise, layer_mm),
                soffit_form=1.0 if beam else 0.0,
                edge_form_along_m=rise,
                edge_form_across_m=0.0 if beam else rise,
            )


def _keep_upright_sides(cut: Cut, element: Haunch | Kerb) -> None:
    """Sloping sides touch no neighbour; the deep side of a haunch does, over its whole depth."""
    if isinstance(element, Kerb):
        if element.top_width_m is not None and element.top_width_m != element.width_m:
            cut.sides = [side for side in cut.sides if abs(side.end[0] - side.start[0]) < 1e-9]
        return
    low, high = element.base_level_m, element.base_level_m + element.haunch_depth_m
    deep = {0.0} if element.sides_count == 1 else {0.0, -element.between_sides_m}
    cut.sides = [
        SideFace(side.cell, side.start, side.end, low, high, 0.0)
        for side in cut.sides
        if abs(side.end[0] - side.start[0]) > 1e-9 and any(abs(side.start[1] - y) < 1e-9 for y in deep)
    ]


def _cut_column(column: Column, layer_mm: float) -> Cut:
    section = column_section(column)
    area = column_area(
        column.section,
        width_m=column.width_m,
        breadth_m=column.breadth_m,
        diameter_m=column.diameter_m,
        across_flats_m=column.across_flats_m,
    )
    round_column = column.section == "circular" and column.diameter_m is not None
    perimeter = math.pi * column.diameter_m if round_column and column.diameter_m else section.length
    layers = layers_needed(column.height_m, layer_mm)
    rise = column.height_m / layers
    slices = [
        Slice(
            column.base_level_m + k * rise,
            column.base_level_m + (k + 1) * rise,
            area * rise,
            perimeter * rise,
            section,
            section,
        )
        for k in range(layers)
    ]
    return cut_slices(slices, top_open=1.0, soffit_form=0.0)


def _tapering(
    low_m: float, height_m: float, lower: tuple[float, float], upper: tuple[float, float], layers: int
) -> list[Slice]:
    """Slices between two rectangles round one axis; the four sides count as formed."""
    slices = []
    for k in range(layers):
        (l0, b0), (l1, b1) = (
            tuple(a + (b - a) * part / layers for a, b in zip(lower, upper, strict=True)) for part in (k, k + 1)
        )
        rise = height_m / layers
        sides = (l0 + l1) * math.hypot(rise, (b0 - b1) / 2) + (b0 + b1) * math.hypot(rise, (l0 - l1) / 2)
        slices.append(
            Slice(
                low_m + k * rise,
                low_m + (k + 1) * rise,
                prismatoid_volume(rise, l0, b0, l1, b1),
                sides,
                centred_box(l0, b0),
                centred_box(l1, b1),
                upright=(l0, b0) == (l1, b1),
            )
        )
    return slices


def _cut_footing(footing: TaperedFooting, layer_mm: float) -> Cut:
    base = (footing.base_length_m, footing.base_breadth_m)
    edge, level = footing.edge_thickness_m, footing.base_level_m
    slices = _tapering(level, edge, base, base, layers_needed(edge, layer_mm)) if edge > 0 else []
    top = (footing.top_length_m, footing.top_breadth_m)
    rise = footing.tapered_height_m
    slices += _tapering(level + edge, rise, base, top, layers_needed(rise, layer_mm))
    return cut_slices(slices, top_open=1.0, soffit_form=0.0)


def _cut_drop_panel(panel: DropPanel, layer_mm: float) -> Cut:
    slices = _tapering(
        panel.base_level_m,
        panel.drop_depth_m,
        (panel.drop_length_m, panel.drop_breadth_m),
        drop_panel_top(panel),
        layers_needed(panel.drop_depth_m, layer_mm),
    )
    return cut_slices(slices, top_open=0.0, soffit_form=1.0)


def flight_profile(stair: Stair) -> shapely.Polygon:
    """The flight seen from the side: steps above, sloping soffit below."""
    run, rise = stair.risers_count * stair.going_m, stair.risers_count * stair.riser_m
    slope = math.hypot(stair.riser_m, stair.going_m)
    drop = stair.waist_m * slope / stair.going_m
    corners = [(0.0, 0.0)]
    for step in range(stair.risers_count):
        corners.append((step * stair.going_m, (step + 1) * stair.riser_m))
        corners.append(((step + 1) * stair.going_m, (step + 1) * stair.riser_m))
    corners += [(run, rise - drop), (0.0, -drop)]
    return shapely.Polygon(corners[::-1])


def stair_formed_area_m2(stair: Stair) -> float:
    """Sloping soffit, risers, both sides of the flight, soffit of the landing."""
    slope = stair.risers_count * math.hypot(stair.riser_m, stair.going_m)
    risers = stair.risers_count * stair.riser_m
    sides = 2 * float(flight_profile(stair).area)
    return stair.width_m * (slope + risers) + sides + stair.landing_area_m2


def _one_flight(stair: Stair) -> Cut:
    run, rise = stair.risers_count * stair.going_m, stair.risers_count * stair.riser_m
    plan = run * stair.width_m + stair.landing_area_m2
    volume = stair_volume(
        stair.risers_count,
        stair.riser_m,
        stair.going_m,
        stair.width_m,
        stair.waist_m,
        stair.landing_area_m2,
        stair.landing_thickness_m,
    ).volume_m3
    profile = shapely.get_coordinates(flight_profile(stair))[:-1] + np.array([0, stair.base_level_m])
    zero = np.zeros(1, dtype=int)
    return Cut(
        volume_m3=np.array([volume]),
        plan_area_m2=np.array([plan]),
        middle_m=np.array([[run / 2, stair.width_m / 2, stair.base_level_m + rise / 2]]),
        layer=zero,
        layers_count=1,
        i=zero,
        j=zero,
        top_area_m2=np.array([plan]),
        formed_area_m2=np.array([stair_formed_area_m2(stair)]),
        outlines=[profile],
        elevation=True,
    )
