"""The candidate behind a plan's decision, so that the running pour goes on with the same model that planned it."""

from typing import cast

from wetfront.nouns.plan import Decision
from wetfront.nouns.sheet import Pour, PourSheet
from wetfront.placing.sequence import Corner
from wetfront.planning.candidate import Candidate, OrderChoice
from wetfront.planning.situation import Situation

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
    """An order to draw and record a pour by that has no plan: what the sheet fixes, else its first choice."""
    choices = sheet.choices
    named = tuple(name for name in choices.element_order if name in pour.elements)
    return OrderChoice(
        element_order=named if len(named) == len(pour.elements) else tuple(pour.elements),
        start_corner="low-x low-y",
        strips_along="x" if choices.strips_along == "x" else "y",
        strip_width_m=choices.strip_widths_m[0] if choices.strip_widths_m else UNDECIDED_STRIP_M,
        layer_mm=choices.layers_mm[0] if choices.layers_mm else sheet.specification.largest_layer_mm,
        layers=choices.layer_orders[0] if choices.layer_orders else "whole",
        step_length_m=choices.step_length_m,
    )


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
