"""The plan that a site makes without a search: the usual rule, kept among the candidates and measured against.

Interval = load ÷ planned rate, trucks = round trip ÷ interval rounded up plus one, one straight order, the earliest
permitted start, the mix as it is (common practice, no published source). The rule keeps what the sheet fixes and what
pump, gang, vibrators and forms allow, so that it is never a straw man: it is the plan of a careful engineer who has an
hour and no simulator.
"""

from wetfront.nouns.sheet import Specification
from wetfront.planning.candidate import Candidate, OrderChoice
from wetfront.planning.candidates import (
    corners_far_first,
    element_orders,
    intervals,
    load_sizes,
    placing_orders,
    placing_rates,
    start_times,
    truck_counts,
    trucks_needed,
)
from wetfront.planning.means import plain_means
from wetfront.planning.situation import Situation
from wetfront.takeoff.shapes import take_off

SPARE_TRUCK = 1
USUAL_STRIP_M = 4.0
"""What a gang takes in one go with hose and screed: common practice, no source."""
USUAL_EDGE_MIN = 90.0
"""How long an edge may usually wait where the specification says nothing: common practice, no source."""


def rule_of_thumb(situation: Situation) -> Candidate | None:
    """The rule's plan of one pour; None where no placing rate is permitted at all."""
    means = plain_means(situation)[0]
    rates = placing_rates(situation, means)
    if not rates:
        return None
    planned = situation.pour.planned_rate_m3_per_h or rates[0]
    rate = max((rate for rate in rates if rate <= planned + 1e-9), default=rates[-1])
    load = max(load_sizes(situation))
    headway = load / rate * 60
    interval = min(intervals(situation, load, rate), key=lambda minutes: (abs(minutes - headway), minutes))
    wanted = trucks_needed(situation, load, interval, rate) + SPARE_TRUCK
    trucks = min(truck_counts(situation, load, interval, rate), key=lambda count: (abs(count - wanted), count))
    order = straight_order(situation, rate)
    return situation.candidate(order, start_times(situation, rate)[0], interval, trucks, load, rate, means)


def straight_order(situation: Situation, rate_m3_per_h: float) -> OrderChoice:
    """Elements as listed, from the corner farthest from the pump, short strips of usual width, the thickest layer.

    Layers over the whole plan where the next one follows in time; where that would take too long, in steps.
    """
    names, corners = element_orders(situation), corners_far_first(situation)
    along = "y" if _is_wide(situation) else "x"
    layering = "whole" if _layer_is_soon(situation, rate_m3_per_h) else "stepped"

    def key(order: OrderChoice) -> tuple[int, int, float, bool, float, bool]:
        return (
            names.index(order.element_order),
            corners.index(order.start_corner),
            abs(order.strip_width_m - USUAL_STRIP_M),
            order.strips_along != along,
            -order.layer_mm,
            order.layers != layering,
        )

    return min(placing_orders(situation), key=key)


def _is_wide(situation: Situation) -> bool:
    """Whether the pour is at least as long along x as along y: strips then run along y, and their edges wait least."""
    points = [point for outlines in situation.outlines.values() for outline in outlines for point in outline]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return not points or max(xs) - min(xs) >= max(ys) - min(ys)


def _layer_is_soon(situation: Situation, rate_m3_per_h: float) -> bool:
    """Whether one whole layer of the largest element is placed before its first part may wait no longer."""
    asked: Specification = situation.sheet.specification
    area = max(row.each.plan_area_m2 for row in take_off(situation.elements).rows)
    minutes = area * asked.largest_layer_mm / 1000 / rate_m3_per_h * 60
    return minutes <= min((edge.longest_min for edge in asked.live_edge), default=USUAL_EDGE_MIN)
