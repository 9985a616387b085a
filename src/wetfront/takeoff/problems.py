"""What a single key cannot show: sizes that do not fit each other, elements that lie in one another."""

from collections import Counter, defaultdict
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from functools import partial
from itertools import combinations, islice, pairwise
from typing import NamedTuple

import shapely
from shapely import Geometry as Region
from shapely import Polygon
from shapely.validation import explain_validity

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
    WallOpening,
)
from wetfront.takeoff.bodies import mean_thickness_m, rise_m
from wetfront.takeoff.geometry import (
    AnySlab,
    centred_box,
    column_section,
    footprint,
    on_site,
    opening_outline,
    slab_outline,
    slab_region,
    thickening_regions,
)
from wetfront.takeoff.volumes import tapered_footing_volume

_GUARD_M = 1e-6
_OVERLAP_M = 1e-3
"""Elements that lie in one another by less than a millimetre are taken as touching."""


MOST_TOLD = 200
"""Misfits told of one element, and overlaps told of all: a list pasted twice would otherwise tell millions."""


class GeometryProblem(NamedTuple):
    """One misfit: whose, which key, what is wrong and what is allowed."""

    element_id: str
    key: str
    message: str


def geometry_problems(elements: Sequence[Element]) -> tuple[GeometryProblem, ...]:
    """All misfits of all elements at once, in the order of the elements; overlaps come last.

    Elements without `at_m`, or with a count, are not checked for overlap; neither are stairs and haunches.
    """
    found: list[GeometryProblem] = []
    sound: list[Element] = []
    for element in elements:
        own = [GeometryProblem(element.id, key, message) for key, message in islice(_misfits(element), MOST_TOLD)]
        found += own
        if not own:
            sound.append(element)
    for name, times in Counter(element.id for element in elements).items():
        if times > 1:
            found.append(
                GeometryProblem(name, "id", f"{times} elements are called {name!r}; allowed is each name once")
            )
    return (*found, *_overlaps(sound))


def _misfits(element: Element) -> Iterator[tuple[str, str]]:
    """(key, message) of every misfit within one element."""
    match element:
        case Slab() | GroundSlab() | DeckSlab():
            yield from _slab_misfits(element)
        case Wall():
            yield from _wall_misfits(element)
        case Column():
            yield from _refused(lambda: column_section(element))
        case TaperedFooting():
            yield from _refused(
                lambda: tapered_footing_volume(
                    element.base_length_m,
                    element.base_breadth_m,
                    element.tapered_height_m,
                    element.top_length_m,
                    element.top_breadth_m,
                )
            )
        case Kerb() if element.top_width_m is not None and element.top_width_m > element.width_m:
            yield (
                "top_width_m",
                f"top_width_m is {element.top_width_m:g}; allowed is at most width_m {element.width_m:g}",
            )
        case Stair() if (element.landing_area_m2 > 0) != (element.landing_thickness_m > 0):
            missing = "landing_thickness_m" if element.landing_area_m2 > 0 else "landing_area_m2"
            yield missing, f"{missing} is 0; a landing needs both its area and its thickness"
        case _:
            return


def _refused(calculation: Callable[[], object]) -> Iterator[tuple[str, str]]:
    try:
        calculation()
    except InvalidInput as problem:
        yield problem.key, problem.message


def _slab_misfits(slab: AnySlab) -> Iterator[tuple[str, str]]:
    yield from _refused(lambda: mean_thickness_m(slab))
    try:
        outline = slab_outline(slab)
    except InvalidInput as problem:
        yield problem.key, problem.message
        return
    if not outline.is_valid or outline.area <= 0:
        yield "outline_m", f"outline_m is no simple polygon: {explain_validity(outline)}"
        return
    shapely.prepare(outline)
    openings = ((one.id, partial(opening_outline, one)) for one in slab.opening)
    holes = yield from _inside(openings, outline, "opening")
    if not isinstance(slab, DeckSlab):
        thickenings = ((one.id, partial(Polygon, one.outline_m)) for one in slab.thickening)
        yield from _inside(thickenings, outline, "thickening")
    if holes and shapely.difference(outline, shapely.union_all(holes)).area < _GUARD_M:
        yield "opening", "the openings leave nothing of the slab"


def _inside(
    shapes: Iterable[tuple[str, Callable[[], Region]]], outline: Region, what: str
) -> Generator[tuple[str, str], None, list[Region]]:
    """Misfits of openings or thickenings with the slab and with each other; returns those that are sound."""
    sound: list[tuple[str, Region]] = []
    roomy = outline.buffer(_GUARD_M)
    for name, build in shapes:
        try:
            shape = build()
        except InvalidInput as problem:
            yield problem.key, f"{what} {name!r}: {problem.message}"
            continue
        if not shape.is_valid or shape.area <= 0:
            yield f"{what}.outline_m", f"{what} {name!r} is no simple polygon: {explain_validity(shape)}"
        elif shape.area > outline.area + _GUARD_M:
            yield what, f"{what} {name!r} has {shape.area:.4g} m², more than the whole slab ({outline.area:.4g} m²)"
        elif not roomy.covers(shape):
            yield what, f"{what} {name!r} reaches outside the slab"
        else:
            sound.append((name, shape))
    if len(sound) > 1:
        tree = shapely.STRtree([shape for _, shape in sound])
        one, other = tree.query([shape for _, shape in sound], predicate="intersects")
        for a, b in sorted((a, b) for a, b in zip(one.tolist(), other.tolist(), strict=True) if a < b):
            if _lie_in_one_another(sound[a][1], sound[b][1]):
                yield what, f"{what} {sound[b][0]!r} overlaps {what} {sound[a][0]!r}"
    return [shape for _, shape in sound]


def _lie_in_one_another(one: Region, other: Region) -> bool:
    common = one.intersection(other)
    return bool(common.area > _OVERLAP_M * common.length / 2)


def _wall_misfits(wall: Wall) -> Iterator[tuple[str, str]]:
    for hole in wall.opening:
        for key, size, whole, limit in (
            ("width_m", hole.width_m, "length", wall.length_m),
            ("height_m", hole.height_m, "height", wall.height_m),
        ):
            if size > limit + _GUARD_M:
                yield (
                    f"opening.{key}",
                    f"opening {hole.id!r}: {key} is {size:g}, over the wall's {whole} of {limit:g} m",
                )
        if hole.width_m <= wall.length_m + _GUARD_M < hole.from_start_m + hole.width_m:
            most = wall.length_m - hole.width_m
            yield (
                "opening.from_start_m",
                f"opening {hole.id!r}: from_start_m is {hole.from_start_m:g}; allowed is at most {most:g}",
            )
        if hole.height_m <= wall.height_m + _GUARD_M < hole.sill_above_base_m + hole.height_m:
            most = wall.height_m - hole.height_m
            yield (
                "opening.sill_above_base_m",
                f"opening {hole.id!r}: sill_above_base_m is {hole.sill_above_base_m:g}; allowed is at most {most:g}",
            )
    for one, other in combinations(wall.opening, 2):
        if _overlap_on_face(one, other):
            yield "opening", f"opening {other.id!r} overlaps opening {one.id!r}"
    face_m2 = wall.length_m * wall.height_m
    if sum(hole.width_m * hole.height_m for hole in wall.opening) >= face_m2 - _GUARD_M:
        yield "opening", f"the openings leave nothing of the wall's {face_m2:g} m²"


def _overlap_on_face(one: WallOpening, other: WallOpening) -> bool:
    across = min(one.from_start_m + one.width_m, other.from_start_m + other.width_m) - max(
        one.from_start_m, other.from_start_m
    )
    up = min(one.sill_above_base_m + one.height_m, other.sill_above_base_m + other.height_m) - max(
        one.sill_above_base_m, other.sill_above_base_m
    )
    return across > _GUARD_M and up > _GUARD_M


def _prisms(element: Element) -> list[tuple[Region, float, float]]:
    """(plan shape, lower level, upper level) of upright prisms that lie wholly within the element."""
    low = element.base_level_m
    high = low + rise_m(element)
    match element:
        case Slab() | GroundSlab():
            region = slab_region(element)
            deep = [(shape, low - extra, low) for shape, extra in thickening_regions(element, region)]
            return [(region, low, high), *deep]
        case DeckSlab():
            return [(slab_region(element), low + element.rib_height_mm / 1000, high)]
        case TaperedFooting():
            edge = low + element.edge_thickness_m
            base, top = footprint(element), centred_box(element.top_length_m, element.top_breadth_m)
            return [(base, low, edge), (top, edge, high)]
        case DropPanel():
            return [(centred_box(element.drop_length_m, element.drop_breadth_m), low, high)]
        case Kerb() if element.top_width_m is not None:
            inset = (element.width_m - element.top_width_m) / 2
            return [(shapely.box(0, inset, element.length_m, inset + element.top_width_m), low, high)]
        case Haunch() | Stair():
            return []
        case Wall():
            return _wall_prisms(element, low)
        case Column() | Pedestal() | StripFooting() | Beam() | Kerb() | MassBlock():
            return [(footprint(element), low, high)]


def _wall_prisms(wall: Wall, low: float) -> list[tuple[Region, float, float]]:
    """The wall between its openings, cut at every jamb, sill and head."""
    thick = wall.thickness_mm / 1000
    if not wall.opening:
        return [(footprint(wall), low, low + wall.height_m)]
    us = sorted({0.0, wall.length_m, *(u for o in wall.opening for u in (o.from_start_m, o.from_start_m + o.width_m))})
    prisms: list[tuple[Region, float, float]] = []
    for u0, u1 in pairwise(us):
        middle, level = (u0 + u1) / 2, 0.0
        above = [o for o in wall.opening if o.from_start_m < middle < o.from_start_m + o.width_m]
        for hole in sorted(above, key=lambda o: o.sill_above_base_m):
            if hole.sill_above_base_m > level:
                prisms.append((shapely.box(u0, 0, u1, thick), low + level, low + hole.sill_above_base_m))
            level = hole.sill_above_base_m + hole.height_m
        if level < wall.height_m:
            prisms.append((shapely.box(u0, 0, u1, thick), low + level, low + wall.height_m))
    return prisms


def _overlaps(elements: Sequence[Element]) -> Iterator[GeometryProblem]:
    shapes: list[Region] = []
    levels: list[tuple[float, float]] = []
    owner: list[int] = []
    for k, element in enumerate(elements):
        if element.at_m is None or element.count > 1:
            continue
        for shape, low, high in _prisms(element):
            shapes.append(on_site(element, shape))
            levels.append((low, high))
            owner.append(k)
    if not shapes:
        return
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    told: dict[tuple[int, int], float] = defaultdict(float)
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        common_m = min(levels[a][1], levels[b][1]) - max(levels[a][0], levels[b][0])
        if owner[a] >= owner[b] or common_m <= _OVERLAP_M or not _lie_in_one_another(shapes[a], shapes[b]):
            continue
        if len(told) >= MOST_TOLD and (owner[a], owner[b]) not in told:
            break
        told[owner[a], owner[b]] += float(shapes[a].intersection(shapes[b]).area) * common_m
    for (a, b), volume in sorted(told.items()):
        yield GeometryProblem(
            elements[b].id,
            "at_m",
            f"lies in {elements[a].id!r} with {volume:.3g} m³; allowed is to touch (place, level or size is wrong)",
        )
