"""Water added to a load on site: how much the ratio, the design and the slump leave, once and before discharge."""

from dataclasses import dataclass

from wetfront.rules import Rule, rule

NOTHING_L_PER_M3 = 1e-6
"""Less than this is no water (own convention)."""


@dataclass(frozen=True, slots=True)
class AllowedWater:
    """Water that may be added now, and what becomes of ratio and slump."""

    ratio_now: float
    litres_per_m3: float
    litres: float
    ratio_after: float
    expected_slump_mm: float
    permitted: bool
    turns_count: int
    left_by: dict[str, float]
    """What each cap leaves [l/m³], not below 0: ratio, design, slump."""
    because: str
    """The cap that governs, or why there is none."""


def water_rules() -> tuple[Rule, Rule, Rule]:
    """Water for 25 mm of slump, what may be out before it, turns of remixing: CIP 26 and ASTM C94."""
    return rule("aci", "water-for-25-mm-slump"), rule("aci", "discharged-before-water"), rule("aci", "remixing-turns")


def allowed_water(
    *,
    volume_m3: float,
    cementitious_kg_per_m3: float,
    free_water_kg_per_m3: float,
    maximum_ratio: float,
    slump_mm: float,
    maximum_slump_mm: float,
    already_added_l: float = 0.0,
    discharge_started: bool = False,
    design_water_kg_per_m3: float | None = None,
) -> AllowedWater:
    """Water [l] that may be added to a load of this volume, which is in the drum now.

    Once only, on arrival, before more than the first of it is discharged; not over the ratio, the design water, or
    what brings the slump to the wanted limit (5 l/m³ for 25 mm, a rule of thumb). Never below 0.
    Source: CIP 26 (jobsite addition of water); ASTM C94.

    >>> allowed_water(volume_m3=8, cementitious_kg_per_m3=350, free_water_kg_per_m3=160, maximum_ratio=0.5,
    ...               slump_mm=75, maximum_slump_mm=125).litres
    80.0
    """
    step, _, turns = water_rules()
    assert step.high is not None and turns.low is not None
    per_mm = step.high / 25.0
    now = free_water_kg_per_m3 + already_added_l / volume_m3
    left = {
        "ratio": max(0.0, maximum_ratio * cementitious_kg_per_m3 - now),
        "slump": max(0.0, per_mm * (maximum_slump_mm - slump_mm)),
    }
    if design_water_kg_per_m3 is not None:
        left["design"] = max(0.0, design_water_kg_per_m3 - now)
    cap = min(left, key=lambda name: left[name])
    because = {
        "ratio": "the water/cement ratio",
        "design": "the design water",
        "slump": "the slump wanted",
    }[cap]
    per_m3 = left[cap]
    if discharge_started:
        per_m3, because = 0.0, "discharge has begun"
    elif already_added_l > 0:
        per_m3, because = 0.0, "water was already added once"
    if per_m3 < NOTHING_L_PER_M3:
        per_m3 = 0.0
    return AllowedWater(
        ratio_now=now / cementitious_kg_per_m3,
        litres_per_m3=per_m3,
        litres=per_m3 * volume_m3,
        ratio_after=(now + per_m3) / cementitious_kg_per_m3,
        expected_slump_mm=slump_mm + per_m3 / per_mm,
        permitted=per_m3 > 0,
        turns_count=int(turns.low) if per_m3 > 0 else 0,
        left_by=left,
        because=because,
    )
