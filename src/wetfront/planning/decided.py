"""The candidate behind a plan's decision, so that the running pour goes on with the same model that planned it."""

from dataclasses import replace
from functools import partial
from typing import cast

import numpy as np

from wetfront.nouns.element import Element
from wetfront.nouns.plan import Decision
from wetfront.nouns.sheet import Pour, PourSheet
from wetfront.placing.sequence import Corner
from wetfront.planning.arrange import arrangement
from wetfront.planning.candidate import Candidate, OrderChoice
from wetfront.planning.candidates import corners_far_from
from wetfront.planning.situation import Situation, outlines_of, pour_elements, pump_of

UNDECIDED_STRIP_M = 4.0
"""Own rule: strips that a pour without a plan is drawn in, where the sheet fixes none."""


def order_of(decision: Decision) -> OrderChoice:
    """The placing order that the search chose."""
    return OrderChoice(
        element_order=decision.element_order,
        start_corner=cast(Corner, decision.start_corner),
        strips_along="x" if decision.strips_along == "x" else "y",
        strip_width_m=decision.cutting_width_m,
        layer_mm=decision.layer_mm,
        layers="stepped" if decision.layer_order == "stepped" else "whole",
        step_length_m=decision.step_length_m,
    )


def undecided_order(sheet: PourSheet, pour: Pour) -> OrderChoice:
    """An order to draw and record a pour by that has no plan: what the sheet fixes, else its first choice.

    Own rule: of the four corners it starts at the one from which, at a steady rate, no concrete waits longer for its
    neighbour than it must, so that each element ends beside the next; of equal ones at the farthest from the pump.
    """
    choices = sheet.choices
    named = tuple(name for name in choices.element_order if name in pour.elements)
    order = OrderChoice(
        element_order=named if len(named) == len(pour.elements) else tuple(pour.elements),
        start_corner="low-x low-y",
        strips_along="x" if choices.strips_along == "x" else "y",
        strip_width_m=choices.strip_widths_m[0] if choices.strip_widths_m else UNDECIDED_STRIP_M,
        layer_mm=choices.layers_mm[0] if choices.layers_mm else sheet.specification.largest_layer_mm,
        layers=choices.layer_orders[0] if choices.layer_orders else "whole",
        step_length_m=choices.step_length_m,
    )
    elements = pour_elements(sheet, pour)
    corners = corners_far_from(pump_of(sheet, pour).position_m, outlines_of(elements))
    return min((replace(order, start_corner=corner) for corner in corners), key=partial(_longest_wait_m3, elements))


def _longest_wait_m3(elements: tuple[Element, ...], order: OrderChoice) -> float:
    """Most that is placed between a cell and one that touches it."""
    parts = arrangement(elements, order, 0.0, frozenset(), frozenset()).parts
    placed = np.cumsum(parts.cells.volume_m3)
    waits = placed[parts.joints.later] - placed[parts.joints.first]
    return round(float(waits.max(initial=0.0)), 6)


def candidate_of(situation: Situation, decision: Decision) -> Candidate:
    """The candidate of a decision: the same cells, order, rate, loads and crew."""
    return Candidate(
        start_min=situation.day.minutes(decision.start),
        interval_min=decision.interval_min,
        trucks_count=decision.trucks_count,
        load_m3=decision.load_m3,
        rate_m3_per_h=decision.placing_rate_m3_per_h,
        vibrators_count=decision.vibrators_count,
        order=order_of(decision),
        mix_option=decision.mix_option,
        plants=decision.plants,
        pattern="matched" if decision.interval_pattern == "matched" else "constant",
        pumps_count=decision.pumps_count,
        gang=decision.gang,
        cooler_by_c=decision.cooler_by_c,
    )
