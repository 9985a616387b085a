"""Exact volumes of the shapes that are poured.

Each function is geometry (definition, no standard). It takes plain numbers in metres unless a name says millimetres,
returns a small result with its intermediate values, and raises InvalidInput naming the size that does not fit.
Reinforcement, chairs, cast-in items and small voids are not deducted.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance, Source

STEEL_KG_PER_M3 = 7850.0
"""Density of reinforcing steel, EN 1991-1-1:2002, Table A.4 (range 77 to 78.5 kN/m³); from memory."""
PONDING_SHARE = 0.7
"""Added mean thickness of a slab poured to a level, as a share of the deck's deflection."""
PONDING_SOURCE = Source("EN 1994-1-1:2004, 9.3.2 (0.7 × deflection over the whole span)", Provenance.MEMORY)
OCTAGON_AREA_FACTOR = 2 * (math.sqrt(2) - 1)
"""Area of a regular octagon over the square of its width across flats."""
_GUARD = 1e-9


@dataclass(frozen=True, slots=True)
class WallVolume:
    """Net volume of a wall and what was taken off for openings."""

    volume_m3: float
    deducted_area_m2: float
    kept_openings_count: int


def wall_volume(
    length_m: float,
    height_m: float,
    thickness_m: float,
    opening_widths_m: Sequence[float] = (),
    opening_heights_m: Sequence[float] = (),
    smallest_deducted_opening_m2: float = 0.0,
) -> WallVolume:
    """Wall less its openings. An opening of `smallest_deducted_opening_m2` or less stays in.

    InvalidInput where the two lists differ in length, an opening is larger than the wall, or all together are.

    >>> wall_volume(8, 3, 0.25, [1.0], [2.0]).volume_m3
    5.5
    """
    if len(opening_heights_m) != len(opening_widths_m):
        raise InvalidInput(
            "opening_heights_m",
            f"opening_heights_m has {len(opening_heights_m)} entries, opening_widths_m has {len(opening_widths_m)}",
        )
    for key, sizes, whole in (
        ("opening_widths_m", opening_widths_m, length_m),
        ("opening_heights_m", opening_heights_m, height_m),
    ):
        for size in sizes:
            if size > whole + _GUARD:
                raise InvalidInput(key, f"{key}: an opening of {size:g} m is larger than the wall ({whole:g} m)")
    areas = [width * height for width, height in zip(opening_widths_m, opening_heights_m, strict=True)]
    deducted = [area for area in areas if area > smallest_deducted_opening_m2 + _GUARD]
    deducted_area, wall_area = math.fsum(deducted), length_m * height_m
    if deducted_area > wall_area + _GUARD:
        raise InvalidInput(
            "opening_widths_m",
            f"opening_widths_m: the openings have {deducted_area:g} m², the whole wall has {wall_area:g} m²",
        )
    net_area = max(wall_area - deducted_area, 0.0)
    return WallVolume(net_area * thickness_m, deducted_area, len(areas) - len(deducted))


def rectangle_area(width_m: float, breadth_m: float) -> float:
    """Area [m²]."""
    return width_m * breadth_m


def circle_area(diameter_m: float) -> float:
    """Area [m²]."""
    return math.pi / 4 * diameter_m**2


def octagon_area(across_flats_m: float) -> float:
    """Area of a regular octagon [m²] from its width across flats."""
    return OCTAGON_AREA_FACTOR * across_flats_m**2


def column_area(
    section: str,
    *,
    width_m: float | None = None,
    breadth_m: float | None = None,
    diameter_m: float | None = None,
    across_flats_m: float | None = None,
) -> float:
    """Cross-section [m²] of a "rectangular", "circular" or "octagonal" column. InvalidInput names a missing size."""
    sizes = {
        "rectangular": {"width_m": width_m, "breadth_m": breadth_m},
        "circular": {"diameter_m": diameter_m},
        "octagonal": {"across_flats_m": across_flats_m},
    }
    if section not in sizes:
        raise InvalidInput("section", f"section is {section!r}; allowed is one of {', '.join(sizes)}")
    given: list[float] = []
    for key, size in sizes[section].items():
        if size is None:
            raise InvalidInput(key, f"{key} is missing; a {section} column needs it")
        given.append(size)
    match section:
        case "rectangular":
            return rectangle_area(*given)
        case "circular":
            return circle_area(*given)
    return octagon_area(*given)


def column_volume(height_m: float, section_area_m2: float) -> float:
    """Column [m³]; height from footing or kicker to slab soffit, else the slab's depth is counted twice."""
    return height_m * section_area_m2


def prismatoid_volume(
    height_m: float, base_length_m: float, base_breadth_m: float, top_length_m: float, top_breadth_m: float
) -> float:
    """Solid between two parallel rectangles whose sides are joined by planes [m³]: exact.

    >>> round(prismatoid_volume(0.6, 3, 2, 3, 0), 9)
    1.8
    """
    base = base_length_m * base_breadth_m
    middle_times_4 = (base_length_m + top_length_m) * (base_breadth_m + top_breadth_m)
    return height_m / 6 * (base + middle_times_4 + top_length_m * top_breadth_m)


@dataclass(frozen=True, slots=True)
class TaperedFootingVolume:
    """A pad with vertical edge and taper."""

    volume_m3: float
    tapered_volume_m3: float
    edge_volume_m3: float


def tapered_footing_volume(
    base_length_m: float,
    base_breadth_m: float,
    tapered_height_m: float,
    top_length_m: float,
    top_breadth_m: float,
    edge_thickness_m: float = 0.0,
) -> TaperedFootingVolume:
    """Footing that narrows to its top. InvalidInput where the top is larger than the base."""
    for key, top, base in (
        ("top_length_m", top_length_m, base_length_m),
        ("top_breadth_m", top_breadth_m, base_breadth_m),
    ):
        if top > base + _GUARD:
            raise InvalidInput(key, f"{key} is {top:g} m, larger than the base ({base:g} m)")
    taper = prismatoid_volume(tapered_height_m, base_length_m, base_breadth_m, top_length_m, top_breadth_m)
    edge = base_length_m * base_breadth_m * edge_thickness_m
    return TaperedFootingVolume(edge + taper, taper, edge)


def drop_panel_volume(
    drop_length_m: float,
    drop_breadth_m: float,
    drop_depth_m: float,
    side_slope_horizontal_per_vertical: float = 0.0,
) -> float:
    """Concrete below a slab's soffit [m³]; sizes at the panel's own soffit, sides slope outward going up."""
    wider = 2 * side_slope_horizontal_per_vertical * drop_depth_m
    return prismatoid_volume(drop_depth_m, drop_length_m + wider, drop_breadth_m + wider, drop_length_m, drop_breadth_m)


@dataclass(frozen=True, slots=True)
class StairVolume:
    """A straight flight with its landing."""

    volume_m3: float
    steps_volume_m3: float
    waist_volume_m3: float
    landing_volume_m3: float


def stair_volume(
    risers_count: int,
    riser_m: float,
    going_m: float,
    width_m: float,
    waist_m: float,
    landing_area_m2: float = 0.0,
    landing_thickness_m: float = 0.0,
) -> StairVolume:
    """Waist along the slope, step triangles on it, and landings."""
    waist = width_m * risers_count * waist_m * math.hypot(riser_m, going_m)
    steps = width_m * risers_count * riser_m * going_m / 2
    landing = landing_area_m2 * landing_thickness_m
    return StairVolume(waist + steps + landing, steps, waist, landing)


@dataclass(frozen=True, slots=True)
class DeckSlabVolume:
    """A slab on a ribbed deck."""

    volume_m3: float
    mean_thickness_mm: float
    """Without ponding."""
    ponding_thickness_mm: float


def deck_slab_volume(
    area_m2: float,
    overall_depth_mm: float,
    rib_height_mm: float,
    rib_pitch_mm: float,
    rib_width_top_mm: float,
    rib_width_bottom_mm: float,
    deck_deflection_mm: float = 0.0,
    poured_to: str = "constant-thickness",
) -> DeckSlabVolume:
    """Slab on a ribbed deck; rib widths are those of the concrete in the trough.

    Poured to a level, the sagging deck takes 0.7 × its deflection more (PONDING_SOURCE; a parabola has 2/3).
    InvalidInput where the rib is not lower than the slab, or its concrete is wider than the pitch.
    """
    if rib_height_mm >= overall_depth_mm:
        raise InvalidInput(
            "rib_height_mm", f"rib_height_mm is {rib_height_mm:g}; allowed is less than {overall_depth_mm:g} mm"
        )
    for key, width in (("rib_width_top_mm", rib_width_top_mm), ("rib_width_bottom_mm", rib_width_bottom_mm)):
        if width > rib_pitch_mm + _GUARD:
            raise InvalidInput(key, f"{key} is {width:g} mm, wider than the pitch ({rib_pitch_mm:g} mm)")
    mean_width = (rib_width_top_mm + rib_width_bottom_mm) / 2
    mean_thickness = (overall_depth_mm - rib_height_mm) + rib_height_mm * mean_width / rib_pitch_mm
    ponding = PONDING_SHARE * deck_deflection_mm if poured_to == "level" else 0.0
    return DeckSlabVolume(area_m2 * (mean_thickness + ponding) / 1000, mean_thickness, ponding)


@dataclass(frozen=True, slots=True)
class GroundSlabVolume:
    """A slab on a sub-base that is not exactly level."""

    volume_m3: float
    mean_thickness_mm: float
    thinnest_mm: float
    thickest_mm: float


def ground_slab_volume(
    area_m2: float, thickness_mm: float, subbase_lowest_mm: float, subbase_highest_mm: float
) -> GroundSlabVolume:
    """Slab over a sub-base within a tolerance: the mean of the band.

    InvalidInput where the sub-base may rise through the slab.
    """
    if subbase_highest_mm >= thickness_mm:
        raise InvalidInput(
            "subbase_highest_mm",
            f"subbase_highest_mm is {subbase_highest_mm:g}; allowed is less than the slab ({thickness_mm:g} mm)",
        )
    mean = thickness_mm + (subbase_lowest_mm - subbase_highest_mm) / 2
    return GroundSlabVolume(
        area_m2 * mean / 1000, mean, thickness_mm - subbase_highest_mm, thickness_mm + subbase_lowest_mm
    )


def measured_slab_volume(area_m2: float, measured_thicknesses_mm: Sequence[float]) -> GroundSlabVolume:
    """Slab over a sub-base measured on a regular grid: the mean of the thicknesses found."""
    if not measured_thicknesses_mm:
        raise InvalidInput("measured_thicknesses_mm", "measured_thicknesses_mm is empty; at least one is needed")
    mean = math.fsum(measured_thicknesses_mm) / len(measured_thicknesses_mm)
    return GroundSlabVolume(area_m2 * mean / 1000, mean, min(measured_thicknesses_mm), max(measured_thicknesses_mm))


def haunch_volume(length_m: float, haunch_width_m: float, haunch_depth_m: float, sides_count: int = 1) -> float:
    """Triangular prisms [m³], one a side."""
    return haunch_width_m * haunch_depth_m / 2 * length_m * sides_count


def reinforcement_displacement(reinforcement_kg_per_m3: float) -> float:
    """Share of the volume taken by the steel [%]; for information, never deducted from an order."""
    return reinforcement_kg_per_m3 / STEEL_KG_PER_M3 * 100
