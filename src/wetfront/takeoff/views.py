"""Where the cells are drawn: which elements share a plan or an elevation, and at which place in it."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from wetfront.nouns.element import Element, Wall
from wetfront.takeoff.cutting import Cut
from wetfront.takeoff.geometry import footprint, on_site, points_on_site

_GAP_M = 1.0
_OVERLAP_M2 = 1e-6


@dataclass(frozen=True, slots=True)
class View:
    """One drawing plane: a plan in site coordinates, or the front elevation of walls in one line or columns in a row.

    `direction_deg` is the direction in which the drawing's own horizontal axis runs on site, anticlockwise from site x.
    `to_place` is False where the elements stand side by side for the drawing only.
    """

    kind: Literal["plan", "elevation"]
    title: str
    direction_deg: float = 0.0
    to_place: bool = True


Outlines = list[NDArray[np.float64]]


def title_of(what: str, names: Sequence[str]) -> str:
    """ "Elevation of W1, W2": a long list shows its ends."""
    shown = ", ".join(names) if len(names) <= 4 else f"{names[0]} … {names[-1]} ({len(names)} elements)"
    return f"{what} of {shown}"


def arrange(elements: Sequence[Element], cuts: Sequence[Cut]) -> tuple[tuple[View, ...], list[int], list[Outlines]]:
    """The views, and for each element its view and its cells' corners in that view's plane.

    Plans: placed elements in site coordinates; one that lies over another goes to the next plan.
    Elevations: walls whose front faces lie in one plane; all others side by side, not to place.
    """
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    plans = _plan_sheets(elements, cuts)
    for k, (element, cut) in enumerate(zip(elements, cuts, strict=True)):
        placed = element.at_m is not None and element.count == 1
        if not cut.elevation:
            groups[("plan", plans[k]) if placed else ("plan-row",)].append(k)
        elif placed and isinstance(element, Wall):
            groups["wall", *_line_of(element)].append(k)
        else:
            groups[("elevation-row",)].append(k)
    views: list[View] = []
    view_of = [0] * len(elements)
    outlines: list[Outlines] = [[] for _ in elements]
    for key, members in groups.items():
        names = [elements[k].id for k in members]
        for k in members:
            view_of[k] = len(views)
        if key[0] == "plan":
            views.append(View("plan", title_of("Plan", names)))
            for k in members:
                outlines[k] = [points_on_site(elements[k], corners) for corners in cuts[k].outlines]
        elif key[0] == "wall":
            angle = math.radians(elements[members[0]].turn_deg)
            views.append(View("elevation", title_of("Front elevation", names), elements[members[0]].turn_deg % 360))
            starts = [_along(elements[k], angle) for k in members]
            for k, start in zip(members, starts, strict=True):
                shift = np.array([start - min(starts), 0.0])
                outlines[k] = [corners + shift for corners in cuts[k].outlines]
        else:
            kind: Literal["plan", "elevation"] = "plan" if key[0] == "plan-row" else "elevation"
            what = "Plan" if kind == "plan" else "Elevation"
            alone = len(members) == 1 and not cuts[members[0]].copies
            title = title_of(what, names) + ("" if alone else ", side by side, not to place")
            views.append(View(kind, title, to_place=alone))
            _row(cuts, members, outlines)
    return tuple(views), view_of, outlines


def _along(element: Element, angle: float) -> float:
    x, y = element.at_m or (0.0, 0.0)
    return x * math.cos(angle) + y * math.sin(angle)


def _line_of(wall: Wall) -> tuple[float, float]:
    """Direction and distance of the front face's line: equal for walls in one line, to the millimetre."""
    angle = math.radians(wall.turn_deg)
    x, y = wall.at_m or (0.0, 0.0)
    return round(wall.turn_deg % 360, 3), round(y * math.cos(angle) - x * math.sin(angle), 3)


def _plan_sheets(elements: Sequence[Element], cuts: Sequence[Cut]) -> dict[int, int]:
    """For every placed element drawn in plan: the number of the first plan in which it lies over none drawn before."""
    members = [
        k
        for k, (element, cut) in enumerate(zip(elements, cuts, strict=True))
        if not cut.elevation and element.at_m is not None and element.count == 1
    ]
    shapes = [on_site(elements[k], footprint(elements[k])) for k in members]
    if not shapes:
        return {}
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    over: dict[int, list[int]] = defaultdict(list)
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        if b < a and shapes[a].intersection(shapes[b]).area > _OVERLAP_M2:
            over[a].append(b)
    sheets: list[int] = []
    for a in range(len(members)):
        taken = {sheets[b] for b in over[a]}
        sheets.append(next(sheet for sheet in range(len(members)) if sheet not in taken))
    return dict(zip(members, sheets, strict=True))


def _row(cuts: Sequence[Cut], members: Sequence[int], outlines: list[Outlines]) -> None:
    """Side by side from the left, each copy of an element at its own place."""
    at = 0.0
    for k in members:
        shapes = cuts[k].outlines
        if cuts[k].copies:
            for corners in shapes:
                outlines[k].append(corners + np.array([at - corners[:, 0].min(), 0.0]))
                at += float(np.ptp(corners[:, 0])) + _GAP_M
            continue
        low = min(float(corners[:, 0].min()) for corners in shapes)
        high = max(float(corners[:, 0].max()) for corners in shapes)
        outlines[k] = [corners + np.array([at - low, 0.0]) for corners in shapes]
        at += high - low + _GAP_M
