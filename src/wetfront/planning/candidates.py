"""Which decisions are worth trying: the sheet's choices, and our own where it leaves them open.

Times of start lie on a quarter-hour grid, intervals on half minutes, as people and plants say them on the telephone.
What cannot be good is not tried: an interval far off the pump's, a truck that would only stand, a start whose steady
pour ends after the hours.
"""

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Literal

from wetfront.nouns.element import DeckSlab, Element, GroundSlab, MassBlock, Slab, Wall
from wetfront.placing.sequence import Corner
from wetfront.planning.candidate import Candidate, Means, OrderChoice, Pattern
from wetfront.planning.situation import Situation

Point = tuple[float, float]
Outlines = Mapping[str, tuple[tuple[Point, ...], ...]]
"""By element."""

GRID_MIN = 15.0
INTERVAL_GRID_MIN = 0.5
RATE_SHARES = (1.0, 0.9, 0.8)
"""Placing rates as shares of what pump, gang, vibrators and forms allow, where the sheet names none."""
INTERVAL_SHARES = (0.9, 1.0, 1.1, 1.25)
"""Intervals as shares of the time that one load takes at the placing rate."""
YOUNG_SHARES = (1.0, 0.6)
"""Loads as shares of what can be discharged before it is too old, where full trucks cannot."""
SPARE_TRUCKS = (0, 1, 2)
"""Trucks beyond those that a steady round trip needs."""
STRIP_WIDTHS_M = (2.0, 3.0, 4.0, 6.0)
LATEST_START_AFTER_OPENING_MIN = 8 * 60.0


def placing_orders(situation: Situation) -> tuple[OrderChoice, ...]:
    """Orders of elements, strips and layers to try."""
    choices = situation.sheet.choices
    elements = situation.elements
    has_slab = any(isinstance(element, Slab | GroundSlab | DeckSlab) for element in elements)
    thick = [element for element in elements if depth_mm(element) > situation.sheet.specification.largest_layer_mm]
    along: tuple[Literal["x", "y"], ...] = ("x", "y") if choices.strips_along == "either" else (choices.strips_along,)
    widths = choices.strip_widths_m or _widths(elements)
    layers = tuple(layer for layer in choices.layers_mm if layer <= situation.sheet.specification.largest_layer_mm)
    layers = layers or (situation.sheet.specification.largest_layer_mm,)
    stepping: tuple[Literal["whole", "stepped"], ...] = (
        (choices.layer_orders or ("whole", "stepped")) if thick else ("whole",)
    )
    in_strips = has_slab or bool(thick_blocks(thick))
    corners = corners_far_first(situation) if in_strips or thick else corners_far_first(situation)[:1]
    found = [
        OrderChoice(
            element_order=order,
            start_corner=corner,
            strips_along=direction,
            strip_width_m=width,
            layer_mm=layer,
            layers=layer_order,
            step_length_m=choices.step_length_m,
        )
        for order in element_orders(situation)
        for direction in (along if in_strips else along[:1])
        for width in (widths if in_strips else widths[:1])
        for corner in corners
        for layer in layers
        for layer_order in stepping
    ]
    return tuple(dict.fromkeys(found))


def thick_blocks(elements: Iterable[Element]) -> list[Element]:
    """Those of them that are placed in strips over their plan."""
    return [element for element in elements if isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock)]


def corners_far_first(situation: Situation) -> tuple[Corner, ...]:
    """The four corners of the pour, farthest from the pump first: the hose then draws back from placed concrete."""
    return corners_far_from(situation.pump.position_m, situation.outlines)


def corners_far_from(pump: Point, outlines: Outlines) -> tuple[Corner, ...]:
    """The same from the pump's place and the plan outlines on site; one corner where no element has a place."""
    points = [point for parts in outlines.values() for outline in parts for point in outline]
    if not points:
        return ("low-x low-y",)
    xs, ys = [x for x, _ in points], [y for _, y in points]
    places: list[tuple[Corner, tuple[float, float]]] = [
        ("low-x low-y", (min(xs), min(ys))),
        ("low-x high-y", (min(xs), max(ys))),
        ("high-x low-y", (max(xs), min(ys))),
        ("high-x high-y", (max(xs), max(ys))),
    ]
    return tuple(
        corner for corner, _ in sorted(places, key=lambda place: (-round(math.dist(pump, place[1]), 6), place[0]))
    )


def element_orders(situation: Situation) -> tuple[tuple[str, ...], ...]:
    """The sheet's order if it fixes one; else as listed, backwards, and farthest from the pump first."""
    ids = tuple(element.id for element in situation.elements)
    fixed = tuple(name for name in situation.sheet.choices.element_order if name in ids)
    if set(fixed) == set(ids):
        return (fixed,)
    far_first = tuple(sorted(ids, key=lambda name: (-situation.distance_m[name], name)))
    return tuple(dict.fromkeys((ids, ids[::-1], far_first)))


def placing_rates(situation: Situation, means: Means | None = None) -> tuple[float, ...]:
    """Rates to try, fastest first; none is over what pump, gang, vibrators and forms allow."""
    cap, _ = situation.highest_rate(means)
    if situation.sheet.choices.placing_rates_m3_per_h:
        chosen = [rate for rate in situation.sheet.choices.placing_rates_m3_per_h if rate <= cap + 1e-9]
    else:
        step = 1.0 if cap >= 10 else 0.05
        chosen = [math.floor(cap * share / step + 1e-9) * step for share in RATE_SHARES]
        if situation.pour.planned_rate_m3_per_h is not None:
            chosen.append(min(situation.pour.planned_rate_m3_per_h, cap))
    return tuple(sorted({round(rate, 3) for rate in chosen if rate > 0}, reverse=True))


def load_sizes(situation: Situation) -> tuple[float, ...]:
    """Full trucks; for slow work in forms also smaller loads; where all of these grow too old, what does not."""
    capacity = situation.sheet.trucks.capacity_m3
    if situation.sheet.choices.load_sizes_m3:
        return tuple(size for size in situation.sheet.choices.load_sizes_m3 if size <= capacity) or (capacity,)
    step = situation.sheet.allowance.rounding_step_m3
    sizes = [capacity]
    if situation.forms:
        least = situation.loads_count(capacity)
        sizes += [math.ceil(situation.gross_m3 / count / step - 1e-9) * step for count in range(least, least + 3)]
    if placed_in_time_m3(situation) < min(sizes):
        young = [math.floor(placed_in_time_m3(situation) * share / step + 1e-9) * step for share in YOUNG_SHARES]
        sizes += [size for size in young if size >= max(step, situation.sheet.allowance.smallest_load_m3)]
    return tuple(sorted({round(min(size, capacity), 3) for size in sizes}, reverse=True))


def placed_in_time_m3(situation: Situation) -> float:
    """What one truck can discharge, after a slow trip and at the slowest rate tried, before its load is too old."""
    trucks, plant = situation.sheet.trucks, situation.main_plants[0]
    on_the_way = plant.batching_min + plant.travel_loaded_min.high + trucks.position_and_check_min
    left_min = max(0.0, trucks.longest_batching_to_end_of_discharge_min - on_the_way)
    return situation.highest_rate()[0] * min(RATE_SHARES) * left_min / 60


def intervals(situation: Situation, load_m3: float, rate_m3_per_h: float) -> tuple[float, ...]:
    """Call-off intervals round the time that one load takes, or that the trucks take to come again, where longer."""
    if situation.sheet.site_mixer is not None:
        return (INTERVAL_GRID_MIN,)  # nobody calls the batches off: a drum is charged as soon as it is free
    headway = steady_interval_min(situation, load_m3, rate_m3_per_h)
    return tuple(sorted({interval_near(situation, headway, share) for share in INTERVAL_SHARES}))


def steady_interval_min(situation: Situation, load_m3: float, rate_m3_per_h: float) -> float:
    """The time that one load takes at the placing rate, or that the trucks take to come again, where longer."""
    return max(load_m3 / rate_m3_per_h * 60, _turn_min(situation, load_m3, rate_m3_per_h))


def interval_near(situation: Situation, steady_min: float, share: float) -> float:
    """A share of the steady interval on the grid, as the sheet's choice permits."""
    low, high = situation.sheet.choices.interval_between_min or (0.5, 600.0)
    grid = INTERVAL_GRID_MIN if steady_min < 60 else 1.0
    return min(max(round(steady_min * share / grid) * grid, low), high)


def _turn_min(situation: Situation, load_m3: float, rate_m3_per_h: float) -> float:
    """Shortest interval that all trucks that may be had can keep up; 0 where each of them comes only once."""
    fleet = situation.sheet.trucks.count_in_fleet
    most = min((situation.sheet.choices.trucks_between or (1, fleet))[1], fleet)
    if situation.loads_count(load_m3) <= most:
        return 0.0
    return (situation.round_trip_min + load_m3 / rate_m3_per_h * 60) / most


def trucks_needed(situation: Situation, load_m3: float, interval_min: float, rate_m3_per_h: float) -> int:
    """Trucks for a steady round trip at this interval."""
    round_trip = situation.round_trip_min + load_m3 / rate_m3_per_h * 60
    return max(1, math.ceil(round_trip / interval_min - 1e-9))


def truck_counts(situation: Situation, load_m3: float, interval_min: float, rate_m3_per_h: float) -> tuple[int, ...]:
    """What a steady round trip needs and a few more, within fleet, choices and loads; always at least one count."""
    need = trucks_needed(situation, load_m3, interval_min, rate_m3_per_h)
    return tuple(sorted({permitted_trucks(situation, load_m3, need + spare) for spare in SPARE_TRUCKS}))


def permitted_trucks(situation: Situation, load_m3: float, wanted: int) -> int:
    """So many trucks, within fleet, choices and loads."""
    low, high = situation.sheet.choices.trucks_between or (1, situation.sheet.trucks.count_in_fleet)
    high = min(high, situation.sheet.trucks.count_in_fleet)
    return min(max(min(wanted, situation.loads_count(load_m3)), low), high)


def start_times(situation: Situation, rate_m3_per_h: float) -> tuple[float, ...]:
    """Quarter hours at which placing may begin; at least the earliest, even if the pour then ends out of hours."""
    day = situation.day
    low, high = situation.start_between_min
    first = math.ceil(low / GRID_MIN - 1e-9) * GRID_MIN
    last = min(high, first + LATEST_START_AFTER_OPENING_MIN, day.closes_min - situation.gross_m3 / rate_m3_per_h * 60)
    count = max(0, math.floor((last - first) / GRID_MIN + 1e-9))
    # The very first moment as well: what is lost in the morning is missing at night.
    found = {math.ceil(low / 5.0 - 1e-9) * 5.0, *(first + GRID_MIN * step for step in range(count + 1))}
    planned = situation.planned_start_min
    if planned is not None and low <= planned <= high:
        found.add(planned)
    return tuple(sorted(found))


def logistics(
    situation: Situation,
    orders: Sequence[OrderChoice],
    start_min: float,
    means: Sequence[Means],
    of_patterns: Sequence[Pattern] = ("constant",),
) -> tuple[Candidate, ...]:
    """Every sensible rate, load, interval and truck count with some means, for some orders, at one start."""
    found = []
    for with_what in means:
        for rate, load in itertools.product(placing_rates(situation, with_what), load_sizes(situation)):
            for interval, pattern in itertools.product(intervals(situation, load, rate), of_patterns):
                for trucks in truck_counts(situation, load, interval, rate):
                    found += [
                        situation.candidate(order, start_min, interval, trucks, load, rate, with_what, pattern)
                        for order in orders
                    ]
    return tuple(dict.fromkeys(found))


def nominal(
    situation: Situation, order: OrderChoice, means: Means | None = None, pattern: Pattern = "constant"
) -> Candidate | None:
    """The middle of the road for one order: fastest rate, largest loads in time, steady interval, a truck to spare."""
    rates = placing_rates(situation, means)
    if not rates:
        return None
    sizes, in_time = load_sizes(situation), placed_in_time_m3(situation)
    load = next((size for size in sizes if size <= in_time), sizes[-1])
    interval = intervals(situation, load, rates[0])[0]
    trucks = truck_counts(situation, load, interval, rates[0])
    starts = start_times(situation, rates[0])
    start = situation.planned_start_min if situation.planned_start_min in starts else starts[0]
    return situation.candidate(order, start, interval, trucks[min(1, len(trucks) - 1)], load, rates[0], means, pattern)


def neighbours(situation: Situation, candidate: Candidate) -> tuple[Candidate, ...]:
    """Small steps round a candidate: a quarter hour, half a minute or a minute, a truck."""
    low, high = situation.start_between_min
    least, most = situation.sheet.choices.interval_between_min or (0.5, 600.0)
    fewest, many = situation.sheet.choices.trucks_between or (1, situation.sheet.trucks.count_in_fleet)
    many = min(many, situation.sheet.trucks.count_in_fleet)
    found = [
        replace(candidate, start_min=candidate.start_min + step)
        for step in (-GRID_MIN, GRID_MIN)
        if low <= candidate.start_min + step <= high
    ]
    if situation.sheet.site_mixer is not None:
        return tuple(found)
    found += [
        replace(candidate, interval_min=candidate.interval_min + step)
        for step in (-1.0, -0.5, 0.5, 1.0)
        if least <= candidate.interval_min + step <= most
    ]
    found += [
        replace(candidate, trucks_count=candidate.trucks_count + step)
        for step in (-1, 1)
        if fewest <= candidate.trucks_count + step <= many
    ]
    return tuple(found)


def _widths(elements: Iterable[Element]) -> tuple[float, ...]:
    """Our own strip widths, leaving out those wider than the widest element."""
    widest = max(
        (
            max(element.length_m or 100.0, element.width_m or 100.0)
            for element in elements
            if isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock)
        ),
        default=0.0,
    )
    return tuple(width for width in STRIP_WIDTHS_M if width <= widest) or STRIP_WIDTHS_M[:1]


def depth_mm(element: Element) -> float:
    """Height of what is placed in layers or at once; 0 for shapes that are placed as they come."""
    match element:
        case Slab() | GroundSlab():
            return element.thickness_mm
        case DeckSlab():
            return element.overall_depth_mm
        case MassBlock():
            return element.depth_m * 1000
        case Wall():
            return element.height_m * 1000
        case _:
            return 0.0
