"""The shapes built a second time, as solids of a general-purpose geometry kernel (manifold3d), by boolean operations.

Nothing here uses the take-off's own geometry: boxes, hulls and extrusions are joined and cut by the kernel.
"""

import math
from functools import reduce

import numpy as np
from manifold3d import CrossSection, Manifold

from wetfront.nouns.element import (
    Beam,
    Column,
    DeckSlab,
    DropPanel,
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


def box(low, high):
    size = [b - a for a, b in zip(low, high, strict=True)]
    return Manifold.cube(size).translate(low)


def prism(outline, low, high):
    """Upright prism; coordinates of the outline must have at most 6 decimals (the kernel rounds sections to 8)."""
    return CrossSection([np.array(outline, dtype=float)]).extrude(high - low).translate((0, 0, low))


def hull(*points):
    return Manifold.hull_points(np.array(points, dtype=float))


def centred(length, width, level):
    return [(sx * length / 2, sy * width / 2, level) for sx in (-1, 1) for sy in (-1, 1)]


def slab_solid(slab, thickness_m):
    def area(part, low, high):
        if part.outline_m is not None:
            return prism(part.outline_m, low, high)
        x, y = getattr(part, "at_m", None) or (0.0, 0.0)
        return box((x, y, low), (x + part.length_m, y + part.width_m, high))

    at_origin = Slab(
        shape="slab",
        id="x",
        thickness_mm=1,
        length_m=slab.length_m,
        width_m=slab.width_m,
        outline_m=slab.outline_m,
    )
    solid = area(at_origin, 0, thickness_m)
    for thick in slab.thickening:
        # The joining overlap of 10 mm makes one solid of the two.
        solid += prism(thick.outline_m, -thick.extra_depth_mm / 1000, 0.01)
    for opening in slab.opening:
        solid -= area(opening, -20, 20)
    return solid


def wall_solid(wall):
    thick = wall.thickness_mm / 1000
    solid = box((0, 0, 0), (wall.length_m, thick, wall.height_m))
    for hole in wall.opening:
        u0, v0 = hole.from_start_m, hole.sill_above_base_m
        u1, v1 = u0 + hole.width_m, v0 + hole.height_m
        # Cut beyond the wall where the opening reaches its edge, so that no skin is left.
        low = (u0 if u0 > 0 else -1, -1, v0 if v0 > 0 else -1)
        high = (u1 if u1 < wall.length_m else u1 + 1, thick + 1, v1 if v1 < wall.height_m else v1 + 1)
        solid -= box(low, high)
    return solid


def deck_solid(deck):
    """Ribs along x, one a pitch from y = 0; the width must be a whole number of pitches."""
    rib, overall, pitch = (v / 1000 for v in (deck.rib_height_mm, deck.overall_depth_mm, deck.rib_pitch_mm))
    top, bottom = deck.rib_width_top_mm / 1000, deck.rib_width_bottom_mm / 1000
    parts = [box((0, 0, rib), (deck.length_m, deck.width_m, overall))]
    for k in range(round(deck.width_m / pitch)):
        middle = (k + 0.5) * pitch
        parts.append(
            hull(
                *[(x, middle + s * bottom / 2, 0) for x in (0, deck.length_m) for s in (-1, 1)],
                *[(x, middle + s * top / 2, rib) for x in (0, deck.length_m) for s in (-1, 1)],
            )
        )
    return reduce(lambda a, b: a + b, parts)


def stair_solid(stair):
    """Steps as boxes on a sloping waist, all of it above the soffit's plane."""
    n, riser, going, width = stair.risers_count, stair.riser_m, stair.going_m, stair.width_m
    drop = stair.waist_m / math.cos(math.atan2(riser, going))
    run, rise = n * going, n * riser
    waist = hull(*[(x, y, z) for y in (0, width) for x, z in ((0, 0), (0, -drop), (run, rise), (run, rise - drop))])
    steps = [hull(*[p for y in (0, width) for p in _step(k, y, riser, going)]) for k in range(n)]
    return reduce(lambda a, b: a + b, steps, waist)


def _step(k, y, riser, going):
    x, z = k * going, k * riser
    return [(x, y, z), (x, y, z + riser), (x + going, y, z + riser)]


def kerb_solid(kerb):
    top = kerb.width_m if kerb.top_width_m is None else kerb.top_width_m
    inset = (kerb.width_m - top) / 2
    return hull(
        *[(x, y, 0) for x in (0, kerb.length_m) for y in (0, kerb.width_m)],
        *[(x, y, kerb.height_m) for x in (0, kerb.length_m) for y in (inset, inset + top)],
    )


def solid_of(element):
    match element:
        case Slab():
            return slab_solid(element, element.thickness_mm / 1000)
        case GroundSlab():
            return slab_solid(
                element, sum(element.measured_thicknesses_mm) / len(element.measured_thicknesses_mm) / 1000
            )
        case DeckSlab():
            return deck_solid(element)
        case Wall():
            return wall_solid(element)
        case Column(section="rectangular"):
            return box((0, 0, 0), (element.width_m, element.breadth_m, element.height_m))
        case Column(section="octagonal"):
            # A square of the flats' distance cut by the same square turned by 45 degrees.
            half, side = element.across_flats_m / 2, element.across_flats_m
            square = box((-half, -half, 0), (half, half, element.height_m))
            return square ^ box((-side / 2, -side / 2, 0), (half, half, element.height_m)).rotate((0, 0, 45))
        case Column(section="circular"):
            return Manifold.cylinder(element.height_m, element.diameter_m / 2, circular_segments=4000)
        case Pedestal():
            return box((0, 0, 0), (element.length_m, element.width_m, element.height_m))
        case MassBlock():
            return box((0, 0, 0), (element.length_m, element.width_m, element.depth_m))
        case StripFooting() | Beam():
            return box((0, 0, 0), (element.length_m, element.width_m, element.depth_mm / 1000))
        case TaperedFooting():
            e, h = element.edge_thickness_m, element.tapered_height_m
            lower = centred(element.base_length_m, element.base_breadth_m, e)
            taper = hull(*lower, *centred(element.top_length_m, element.top_breadth_m, e + h))
            return taper if e == 0 else taper + hull(*lower, *centred(element.base_length_m, element.base_breadth_m, 0))
        case DropPanel():
            wider = 2 * element.side_slope_horizontal_per_vertical * element.drop_depth_m
            return hull(
                *centred(element.drop_length_m, element.drop_breadth_m, 0),
                *centred(element.drop_length_m + wider, element.drop_breadth_m + wider, element.drop_depth_m),
            )
        case Haunch():
            w, d = element.haunch_width_m, element.haunch_depth_m
            one = hull(*[(x, y, z) for x in (0, element.length_m) for y, z in ((0, 0), (0, d), (w, d))])
            return one if element.sides_count == 1 else one + one.mirror((0, 1, 0)).translate((0, -0.3, 0))
        case Stair():
            return stair_solid(element)
        case Kerb():
            return kerb_solid(element)
    raise AssertionError(f"no solid for {element}")
