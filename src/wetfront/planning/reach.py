"""What a boom reaches from its place, along which edges it does not, and how near it can come to an overhead line.

Plan geometry only: horizontal distances from the slewing axis. Height, obstacles and the unfolding of the boom are the
operator's to check.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon
from shapely.ops import unary_union

from wetfront.nouns.plan import Reach
from wetfront.nouns.site import OverheadLine, Pump

Point = tuple[float, float]
Edge = tuple[Point, Point]

_SAME_POINT_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDistance:
    """Least distance in plan between a fully stretched boom and an overhead line."""

    pump: str
    voltage_kv: float
    least_distance_m: float
    agreed_m: float

    @property
    def kept(self) -> bool:
        """The boom cannot come nearer than agreed, even stretched towards the line."""
        return self.least_distance_m >= self.agreed_m


def outer_edges(outlines: Sequence[Sequence[Point]]) -> tuple[Edge, ...]:
    """Edges round all outlines together; edges of touching elements in one line become one edge."""
    joined = unary_union([Polygon(outline) for outline in outlines]).simplify(_SAME_POINT_M)
    parts = list(joined.geoms) if hasattr(joined, "geoms") else [joined]
    edges: list[Edge] = []
    for part in parts:
        ring = _without_straight_corners([(float(x), float(y)) for x, y in part.exterior.coords[:-1]])
        edges += list(zip(ring, ring[1:] + ring[:1], strict=True))
    return tuple(edges)


def farthest_point(centre: Point, outlines: Sequence[Sequence[Point]]) -> tuple[Point, float]:
    """Farthest corner from the slewing axis, and its distance [m]. A corner is always farthest: distance is convex."""
    corners = sorted(tuple(map(float, corner)) for outline in outlines for corner in outline)
    point = max(corners, key=lambda corner: math.dist(centre, corner))
    return (point[0], point[1]), math.dist(centre, point)


def reached_part(edge: Edge, centre: Point, reach_m: float) -> tuple[float, float] | None:
    """Part of an edge inside the circle of reach, as shares of its length from its first point; None: no part."""
    (x0, y0), (x1, y1) = edge
    length = math.dist(*edge)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = (centre[0] - x0) * ux + (centre[1] - y0) * uy
    across = abs((centre[0] - x0) * uy - (centre[1] - y0) * ux)
    if across >= reach_m:
        return None
    half = math.sqrt(reach_m**2 - across**2)
    low, high = max(0.0, along - half), min(length, along + half)
    return (low / length, high / length) if high > low else None


def boom_reach(pump: Pump, outlines: Sequence[Sequence[Point]]) -> Reach:
    """Reach of one boom over the outlines of a pour. One whose reach the sheet leaves out is told as not checked."""
    point, distance = farthest_point(pump.position_m, outlines)
    if pump.horizontal_reach_m is None:
        how = {"boom": "see what the boom reaches", "line": "lay out the line", "skip": "see what the crane reaches"}
        text = f"{pump.id}: no reach in the sheet, not checked; {how[pump.kind]} (farthest corner {distance:.1f} m)"
        return Reach(
            pump=pump.id,
            reach_m=0.0,
            farthest_m=distance,
            farthest_point_m=point,
            reaches_all=True,  # what the sheet leaves out is not held against it; the plan says that it was not checked
            text=text,
        )
    reach = pump.horizontal_reach_m
    reaches_all = distance <= reach
    if reaches_all:
        text = f"{pump.id} reaches all of it: farthest corner {distance:.2f} m of {reach:.1f} m"
        if reach - distance < 1.0:
            text += "; less than 1 m to spare"
    else:
        missed = _missed_edges(pump.position_m, reach, outlines)
        text = f"{pump.id} ({reach:.1f} m) does not reach all of it (farthest {distance:.2f} m): " + "; ".join(missed)
    return Reach(
        pump=pump.id,
        reach_m=reach,
        farthest_m=distance,
        farthest_point_m=point,
        reaches_all=reaches_all,
        text=text,
    )


def line_distance(pump: Pump, line: OverheadLine) -> LineDistance | None:
    """Least distance in plan from the stretched boom or jib to a line parallel to x or y; None where there is none."""
    if pump.kind == "line" or pump.horizontal_reach_m is None:
        return None
    if line.y_m is not None:
        apart = abs(line.y_m - pump.position_m[1])
    elif line.x_m is not None:
        apart = abs(line.x_m - pump.position_m[0])
    else:
        return None
    return LineDistance(
        pump=pump.id,
        voltage_kv=line.voltage_kv,
        least_distance_m=max(0.0, apart - pump.horizontal_reach_m),
        agreed_m=line.least_clearance_agreed_m,
    )


def _missed_edges(centre: Point, reach_m: float, outlines: Sequence[Sequence[Point]]) -> list[str]:
    """Edges that are not wholly reached, farthest first, in words."""
    found = []
    for edge in outer_edges(outlines):
        part = reached_part(edge, centre, reach_m)
        if part is not None and part[0] <= 0.0 and part[1] >= 1.0:
            continue
        middle = ((edge[0][0] + edge[1][0]) / 2, (edge[0][1] + edge[1][1]) / 2)
        found.append((-math.dist(centre, middle), _edge_words(edge, part)))
    return [words for _, words in sorted(found)]


def _edge_words(edge: Edge, part: tuple[float, float] | None) -> str:
    (x0, y0), (x1, y1) = edge
    if abs(y1 - y0) < _SAME_POINT_M:
        name, axis, low, high = f"edge y = {y0:.1f} m", "x", x0, x1
    elif abs(x1 - x0) < _SAME_POINT_M:
        name, axis, low, high = f"edge x = {x0:.1f} m", "y", y0, y1
    else:
        name, axis, low, high = f"edge ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f})", "x", x0, x1
    if part is None:
        return f"no part of the {name}"
    ends = sorted((low + part[0] * (high - low), low + part[1] * (high - low)))
    return f"the {name} only from {axis} = {ends[0]:.1f} to {ends[1]:.1f} m"


def _without_straight_corners(ring: list[Point]) -> list[Point]:
    """The ring without corners at which it does not turn."""
    kept = []
    for before, here, after in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1], strict=True):
        turn = (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (after[0] - here[0])
        if abs(turn) > _SAME_POINT_M:
            kept.append(here)
    return kept
