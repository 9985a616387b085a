"""Contracts of the calculations about immersion vibrators."""

from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.nouns.reason import Answer, Step
from wetfront.placing import vibration
from wetfront.placing.vibration import GROUPS, insertion_pattern, vibrator_count, vibrator_reach

_HANDLING = (
    "Head through the layer and 150 mm into the one below, upright, in quickly and out slowly (common practice); where "
    "the layer below no longer takes the head by its own weight, a joint has begun."
)


def _group(vibrator_group: int, head_diameter_mm: float) -> Answer:
    found = vibrator_reach(vibrator_group, head_diameter_mm)
    return Answer(
        {
            "radius_of_action_mm": found.radius_of_action_mm,
            "spacing_mm": found.spacing_mm,
            "lowest_rate_m3_per_h": found.lowest_rate_m3_per_h,
            "highest_rate_m3_per_h": found.highest_rate_m3_per_h,
        },
        (
            Step(f"use of group {vibrator_group}", GROUPS[vibrator_group].use, "", vibration.GROUPS_SOURCE),
            Step("radius of action, linear in the diameter", found.radius_of_action_mm, "mm", vibration.LINEAR),
            Step("spacing = 1.5 × radius", found.spacing_mm, "mm", vibration.SPACING_SOURCE),
            Step("lowest rate of one vibrator", found.lowest_rate_m3_per_h, "m³/h", vibration.GROUPS_SOURCE),
            Step("highest rate of one vibrator", found.highest_rate_m3_per_h, "m³/h", vibration.RATE_BASIS),
        ),
        (
            "Take a rate near the low end for stiff concrete or congested reinforcement.",
            "Other printings of the table give the groups other diameters: the maker's radius goes first.",
        ),
    )


def _spacing(radius_of_action_mm: float, length_m: float, width_m: float, pattern: str) -> Answer:
    found = insertion_pattern(radius_of_action_mm, length_m, width_m, pattern)
    square = pattern == "square"
    source = vibration.PATTERN_SOURCE if square else vibration.SPACING_SOURCE
    return Answer(
        {
            "spacing_mm": found.spacing_mm,
            "row_spacing_mm": found.row_spacing_mm,
            "edge_distance_mm": found.edge_distance_mm,
            "insertions_per_layer_count": found.insertions_per_layer_count,
        },
        (
            Step(f"spacing = {'1.414' if square else '1.5'} × radius", found.spacing_mm, "mm", source),
            Step("between rows", found.row_spacing_mm, "mm", vibration.PATTERN_SOURCE),
            Step("to the form at most half the spacing", found.edge_distance_mm, "mm", vibration.SPACING_SOURCE),
            Step("insertions in a row = length / spacing", found.insertions_in_row_count, "", source),
            Step("rows = width / row spacing", found.rows_count, "", vibration.PATTERN_SOURCE),
        ),
        (_HANDLING,),
    )


def _count(placing_rate_m3_per_h: float, rate_per_vibrator_m3_per_h: float, standby_share: int) -> Answer:
    found = vibrator_count(placing_rate_m3_per_h, rate_per_vibrator_m3_per_h, standby_share)
    return Answer(
        {"vibrators_count": found.vibrators_count, "standby_count": found.standby_count},
        (
            Step("placing rate / rate of one, rounded up", found.vibrators_count, "", vibration.STANDBY_SOURCE),
            Step(f"one stand-by for each {standby_share} or part", found.standby_count, "", vibration.STANDBY_SOURCE),
        ),
        (
            "Take a rate near the low end for stiff concrete or congested reinforcement.",
            "Stand-by on the deck, run before the pour, with its own power supply.",
        ),
    )


CALCULATIONS = (
    Calculation(
        name="vibrator-group",
        title="Immersion vibrator: radius of action and placing rate by head diameter",
        method="Table of five groups; within a group the radius is taken linear in the head's diameter.",
        source=vibration.GROUPS_SOURCE,
        inputs=(
            Number(key="vibrator_group", meaning="group of the table", unit="", low=1, high=5, whole=True),
            Number(
                key="head_diameter_mm",
                meaning="; ".join(
                    f"group {n}: {g.diameter_mm[0]:g} to {g.diameter_mm[1]:g}" for n, g in GROUPS.items()
                ),
                unit="mm",
                low=20,
                high=180,
            ),
        ),
        outputs=(
            Output(key="radius_of_action_mm", meaning="linear within the group", unit="mm"),
            Output(key="spacing_mm", meaning="1.5 × radius", unit="mm"),
            Output(key="lowest_rate_m3_per_h", meaning="per vibrator", unit="m³/h"),
            Output(key="highest_rate_m3_per_h", meaning="per vibrator", unit="m³/h"),
        ),
        answer=_group,
    ),
    Calculation(
        name="vibrator-spacing",
        title="Insertion pattern of an immersion vibrator",
        method="Staggered: 1.5 × radius in a row, rows at 0.866 of that. Square: 1.414 × radius both ways, because "
        "more leaves the middle of a square unreached. To the form at most half the spacing. Counts rounded up.",
        source=vibration.SPACING_SOURCE,
        inputs=(
            Number(key="radius_of_action_mm", meaning="of the head", unit="mm", low=50, high=700),
            Number(key="length_m", meaning="of the layer", unit="m", above=0, high=10_000),
            Number(key="width_m", meaning="of the layer", unit="m", above=0, high=10_000),
            Choice(key="pattern", meaning="grid", options=("staggered", "square"), default="staggered"),
        ),
        outputs=(
            Output(key="spacing_mm", meaning="between insertions in a row", unit="mm"),
            Output(key="row_spacing_mm", meaning="between rows", unit="mm"),
            Output(key="edge_distance_mm", meaning="half the spacing", unit="mm"),
            Output(key="insertions_per_layer_count", meaning="rows × insertions, each rounded up"),
        ),
        answer=_spacing,
    ),
    Calculation(
        name="vibrator-count",
        title="Number of vibrators for a placing rate",
        method="Placing rate over the rate of one vibrator, rounded up; one stand-by for each three or part of three.",
        source=vibration.STANDBY_SOURCE,
        inputs=(
            Number(key="placing_rate_m3_per_h", meaning="placing rate", unit="m³/h", above=0, high=10_000),
            Number(
                key="rate_per_vibrator_m3_per_h",
                meaning="rate of one vibrator in this work",
                unit="m³/h",
                low=0.001,
                high=1000,
            ),
            Number(
                key="standby_share",
                meaning="one stand-by for so many",
                unit="",
                low=1,
                high=1000,
                whole=True,
                default=3,
            ),
        ),
        outputs=(
            Output(key="vibrators_count", meaning="at work"),
            Output(key="standby_count", meaning="rounded up"),
        ),
        answer=_count,
    ),
)
