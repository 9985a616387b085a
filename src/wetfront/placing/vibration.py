"""Immersion vibrators: reach and rate by head size, insertion pattern, how many."""

import math
from dataclasses import dataclass

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source

GROUPS_SOURCE = Source("table after ACI 309R, in a national concrete association's guide", Provenance.PUBLISHED)
LINEAR = Source("radius linear in the head's diameter within a group", Provenance.OWN_RULE)
SPACING_SOURCE = Source("ACI 309R: 1.5 × radius of action, half of it to the form", Provenance.PUBLISHED)
RATE_BASIS = Source("ACI 309R: the rates assume insertions at 1.5 × radius of action", Provenance.MEMORY)
PATTERN_SOURCE = Source("geometry: rows that leave no gap", Provenance.RECOMPUTED)
STANDBY_SOURCE = Source("one stand-by for each three or part of three", Provenance.COMMON_PRACTICE)

SPACING_OVER_RADIUS = 1.5
SQUARE_SPACING_OVER_RADIUS = math.sqrt(2)
"""In a square grid more than this leaves the middle of each square unreached (PATTERN_SOURCE)."""
STAGGERED_ROW_OVER_SPACING = math.sqrt(3) / 2


@dataclass(frozen=True, slots=True)
class VibratorGroup:
    """One row of the table (GROUPS_SOURCE): lower and upper end."""

    diameter_mm: tuple[float, float]
    frequency_hz: tuple[float, float]
    amplitude_mm: tuple[float, float]
    radius_mm: tuple[float, float]
    rate_m3_per_h: tuple[float, float]
    use: str


GROUPS: dict[int, VibratorGroup] = {
    1: VibratorGroup(
        (20, 40), (150, 250), (0.4, 0.8), (80, 150), (0.8, 4), "high slump, thin members, beside larger heads"
    ),
    2: VibratorGroup(
        (30, 60), (140, 210), (0.5, 1.0), (130, 250), (2.3, 8), "slump 100 to 150 mm, thin walls, columns, joints"
    ),
    3: VibratorGroup(
        (50, 90), (130, 200), (0.6, 1.3), (180, 360), (4.6, 15), "slump under 80 mm, ordinary walls, floors, beams"
    ),
    4: VibratorGroup(
        (80, 150), (120, 180), (0.8, 1.5), (300, 500), (11, 31), "slump 0 to 50 mm, open forms, heavy work"
    ),
    5: VibratorGroup((130, 180), (90, 140), (1.0, 2.0), (400, 600), (19, 38), "mass concrete"),
}


@dataclass(frozen=True, slots=True)
class VibratorReach:
    """What a head of a group and size reaches and compacts."""

    radius_of_action_mm: float
    spacing_mm: float
    lowest_rate_m3_per_h: float
    highest_rate_m3_per_h: float


def vibrator_reach(vibrator_group: int, head_diameter_mm: float) -> VibratorReach:
    """Radius linear in the diameter within the group (LINEAR). OutOfRange for a diameter outside the group."""
    if vibrator_group not in GROUPS:
        raise InvalidInput("vibrator_group", f"vibrator_group is {vibrator_group}; allowed is 1 to {len(GROUPS)}")
    group = GROUPS[vibrator_group]
    (thinnest, thickest), (least, most) = group.diameter_mm, group.radius_mm
    if not thinnest <= head_diameter_mm <= thickest:
        raise OutOfRange(
            "head_diameter_mm",
            head_diameter_mm,
            f"from {thinnest:g} to {thickest:g} mm",
            f"group {vibrator_group} of the table",
        )
    radius = least + (most - least) * (head_diameter_mm - thinnest) / (thickest - thinnest)
    return VibratorReach(radius, SPACING_OVER_RADIUS * radius, *group.rate_m3_per_h)


@dataclass(frozen=True, slots=True)
class InsertionPattern:
    """Where to put the head in one layer."""

    spacing_mm: float
    row_spacing_mm: float
    edge_distance_mm: float
    insertions_in_row_count: int
    rows_count: int

    @property
    def insertions_per_layer_count(self) -> int:
        """Rows × insertions."""
        return self.insertions_in_row_count * self.rows_count


def insertion_pattern(
    radius_of_action_mm: float, length_m: float, width_m: float, pattern: str = "staggered"
) -> InsertionPattern:
    """Insertions of one layer: staggered at 1.5 × radius (SPACING_SOURCE), or square at 1.414 × radius.

    InvalidInput for an unknown pattern.
    """
    if pattern == "staggered":
        spacing = SPACING_OVER_RADIUS * radius_of_action_mm
        row_spacing = STAGGERED_ROW_OVER_SPACING * spacing
    elif pattern == "square":
        spacing = row_spacing = SQUARE_SPACING_OVER_RADIUS * radius_of_action_mm
    else:
        raise InvalidInput("pattern", f"pattern is {pattern!r}; allowed is one of staggered, square")
    return InsertionPattern(
        spacing,
        row_spacing,
        spacing / 2,
        max(math.ceil(length_m * 1000 / spacing - 1e-9), 1),
        max(math.ceil(width_m * 1000 / row_spacing - 1e-9), 1),
    )


@dataclass(frozen=True, slots=True)
class VibratorCount:
    """Vibrators at work and in reserve."""

    vibrators_count: int
    standby_count: int


def vibrator_count(
    placing_rate_m3_per_h: float, rate_per_vibrator_m3_per_h: float, standby_share: int = 3
) -> VibratorCount:
    """Placing rate over the rate of one, rounded up; one stand-by for each `standby_share` or part of it."""
    at_work = max(math.ceil(placing_rate_m3_per_h / rate_per_vibrator_m3_per_h - 1e-9), 1)
    return VibratorCount(at_work, math.ceil(at_work / standby_share - 1e-9))
