"""Elements: the shapes that a pour is made of, with their dimensions.

Each class is both the noun that the rooms hand on and the declaration of a sheet's keys: a field's name carries its
unit, its annotation the permitted range. Sizes are those of the concrete. An element has its own axes: x along its
length, y across, z up from its underside. Its origin is its low-x, low-y corner; that of the shapes that stand on or
under a column (column, pedestal, tapered footing, drop panel) is their centre, and an outline brings its own origin.
`at_m` puts the origin on site, `turn_deg` turns the element about it, anticlockwise.
"""

from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Ge, Gt, Le, Len, MinLen

Coordinate = Annotated[float, Ge(-10_000_000), Le(10_000_000)]
"""A place on site [m]; a national grid's figures fit."""
Point = tuple[Coordinate, Coordinate]
Size = Annotated[float, Gt(0), Le(2000)]
"""A length in the plan or up a wall [m]."""
Depth = Annotated[float, Gt(0), Le(30_000)]
"""A thickness [mm]."""
Count = Annotated[int, Ge(1), Le(10_000)]
Outline = Annotated[tuple[Point, ...], MinLen(3)]
Name = Annotated[str, Len(1, 60)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOpening:
    """A hole through a slab: a rectangle from `at_m` or a polygon `outline_m` (in the slab's own coordinates)."""

    id: Name
    at_m: Point | None = None
    length_m: Size | None = None
    width_m: Size | None = None
    outline_m: Outline | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Thickening:
    """Extra depth below a slab's soffit over a plan outline, with vertical sides."""

    id: Name
    outline_m: Outline
    extra_depth_mm: Depth


@dataclass(frozen=True, slots=True, kw_only=True)
class WallOpening:
    """A rectangular opening in a wall, from the wall's start and above its base."""

    id: Name
    from_start_m: Annotated[float, Ge(0)]
    width_m: Size
    height_m: Size
    sill_above_base_m: Annotated[float, Ge(0)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Element:
    id: Name
    at_m: Point | None = None
    """Where the origin lies on site. Without it the element counts in the quantities and is cut into cells, but it has
    no neighbours and is not checked for lying where another one lies."""
    turn_deg: Annotated[float, Ge(-360), Le(360)] = 0.0
    base_level_m: Annotated[float, Ge(-500), Le(9000)] = 0.0
    """Level of the underside: of a slab without its thickenings, of a ground slab at its design thickness."""
    count: Count = 1
    """Identical elements. Each of several becomes one cell without neighbours, since their places are not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slab(_Element):
    """A slab of constant thickness over a polygon (`outline_m`) or a rectangle (`length_m` × `width_m`)."""

    shape: Literal["slab"]
    thickness_mm: Depth
    length_m: Size | None = None
    width_m: Size | None = None
    outline_m: Outline | None = None
    support: Literal["ground", "falsework"] = "falsework"
    opening: tuple[PlanOpening, ...] = ()
    thickening: tuple[Thickening, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundSlab(_Element):
    """A slab on a sub-base whose level was measured, or that may lie within a tolerance."""

    shape: Literal["ground-slab"]
    thickness_mm: Depth
    length_m: Size | None = None
    width_m: Size | None = None
    outline_m: Outline | None = None
    subbase_lowest_mm: Annotated[float, Ge(0), Le(500)] = 0.0
    subbase_highest_mm: Annotated[float, Ge(0), Le(500)] = 0.0
    measured_thicknesses_mm: tuple[Depth, ...] = ()
    opening: tuple[PlanOpening, ...] = ()
    thickening: tuple[Thickening, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeckSlab(_Element):
    """A slab on a ribbed deck; ribs run along x. Rib widths are those of the concrete in the trough."""

    shape: Literal["deck-slab"]
    length_m: Size | None = None
    width_m: Size | None = None
    outline_m: Outline | None = None
    overall_depth_mm: Depth
    rib_height_mm: Depth
    rib_pitch_mm: Depth
    rib_width_top_mm: Depth
    rib_width_bottom_mm: Depth
    deck_deflection_mm: Annotated[float, Ge(0), Le(200)] = 0.0
    poured_to: Literal["constant-thickness", "level"] = "constant-thickness"
    opening: tuple[PlanOpening, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall(_Element):
    """A straight wall; `at_m` is the start of its front (low-y) face, `turn_deg` the direction of its length."""

    shape: Literal["wall"]
    length_m: Size
    height_m: Size
    thickness_mm: Depth
    opening: tuple[WallOpening, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Column(_Element):
    """A column, round its centre. Height from kicker or footing to slab soffit."""

    shape: Literal["column"]
    height_m: Size
    section: Literal["rectangular", "circular", "octagonal"]
    width_m: Size | None = None
    breadth_m: Size | None = None
    diameter_m: Size | None = None
    across_flats_m: Size | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pedestal(_Element):
    """A rectangular block on a footing, round its centre."""

    shape: Literal["pedestal"]
    length_m: Size
    width_m: Size
    height_m: Size


@dataclass(frozen=True, slots=True, kw_only=True)
class TaperedFooting(_Element):
    """A pad with a vertical edge and a taper to a smaller top, both round its centre."""

    shape: Literal["tapered-footing"]
    base_length_m: Size
    base_breadth_m: Size
    edge_thickness_m: Annotated[float, Ge(0), Le(30)] = 0.0
    tapered_height_m: Size
    top_length_m: Annotated[float, Ge(0)]
    top_breadth_m: Annotated[float, Ge(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class StripFooting(_Element):
    """A straight strip along x."""

    shape: Literal["strip-footing"]
    length_m: Size
    width_m: Size
    depth_mm: Depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam(_Element):
    """A beam along x; its depth counts below the slab where one sits on it."""

    shape: Literal["beam"]
    length_m: Size
    width_m: Size
    depth_mm: Depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Stair(_Element):
    """A straight flight rising along x, with an optional landing whose place is not asked."""

    shape: Literal["stair"]
    risers_count: Annotated[int, Ge(1), Le(200)]
    riser_m: Annotated[float, Gt(0), Le(1)]
    going_m: Annotated[float, Gt(0), Le(2)]
    width_m: Size
    waist_m: Annotated[float, Gt(0), Le(2)]
    landing_area_m2: Annotated[float, Ge(0), Le(1000)] = 0.0
    landing_thickness_m: Annotated[float, Ge(0), Le(2)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DropPanel(_Element):
    """Concrete below a slab's soffit round a column, its centre. Sized at its own soffit, sides slope outward."""

    shape: Literal["drop-panel"]
    drop_length_m: Size
    drop_breadth_m: Size
    drop_depth_m: Annotated[float, Gt(0), Le(5)]
    side_slope_horizontal_per_vertical: Annotated[float, Ge(0), Le(5)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Haunch(_Element):
    """A triangular prism along x below a slab, deepest at y = 0, from there to nothing at y = `haunch_width_m`.

    With two sides the second is its mirror image below y = 0, `between_sides_m` (the beam's width) away.
    """

    shape: Literal["haunch"]
    length_m: Size
    haunch_width_m: Size
    haunch_depth_m: Size
    sides_count: Annotated[int, Ge(1), Le(2)] = 1
    between_sides_m: Annotated[float, Ge(0), Le(20)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Kerb(_Element):
    """An upstand along x, with an optional narrower top (symmetric trapezium)."""

    shape: Literal["kerb"]
    length_m: Size
    width_m: Size
    height_m: Size
    top_width_m: Size | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MassBlock(_Element):
    """A rectangular block deep enough to be placed in layers."""

    shape: Literal["mass-block"]
    length_m: Size
    width_m: Size
    depth_m: Size


Element = (
    Slab
    | GroundSlab
    | DeckSlab
    | Wall
    | Column
    | Pedestal
    | TaperedFooting
    | StripFooting
    | Beam
    | Stair
    | DropPanel
    | Haunch
    | Kerb
    | MassBlock
)
