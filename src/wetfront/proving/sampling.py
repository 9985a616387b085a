"""How many strength samples a pour needs, by the sampling rules of the rule books."""

import math
from dataclasses import dataclass

from wetfront.rules import Rule, rule

_SLACK = 1e-9
"""A limit that is just met is met."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthSamples:
    """The smallest permitted number of samples, and the rules that were counted."""

    samples_count: int
    specimens_count: int | None = None
    """None where the rule leaves the size of the specimens open."""
    minimum_for_project_count: int | None = None
    may_be_waived: bool | None = None
    counted: tuple[tuple[Rule, int], ...]
    """Each rule with the number that it asks for; the largest holds, or their sum where rules add up."""


def samples_aci_318(volume_m3: float, area_m2: float, days_count: int) -> StrengthSamples:
    """Samples of one class by ACI 318: each day, each volume, each area of one face; the most of them.

    For more than one day this is only the least possible number: the rule counts each day by itself. `may_be_waived`
    below 38 m³, with the official's consent.
    Source: ACI 318M-08 5.6 (ACI 318M-19 26.12).
    """
    by_day, by_volume, by_area = (rule("aci", name) for name in ("samples-per-day", "sample-volume", "sample-area"))
    counted = (
        (by_day, days_count * int(by_day.number)),
        (by_volume, _parts(volume_m3, by_volume.number)),
        (by_area, _parts(area_m2, by_area.number)),
    )
    return StrengthSamples(
        samples_count=max(count for _, count in counted),
        minimum_for_project_count=int(rule("aci", "samples-for-project").number),
        may_be_waived=volume_m3 < rule("aci", "sampling-waiver-volume").number - _SLACK,
        counted=counted,
    )


def samples_is_456(volume_m3: float) -> StrengthSamples:
    """Samples of one grade by the table of IS 456: steps to 50 m³, then one more for each further 50 m³ or part.

    Between the printed steps the upper row is taken, our reading. At least one a shift besides.
    Source: IS 456:2000, 15.2.2.
    """
    steps, further, cubes = (
        rule("is", name) for name in ("samples-by-volume", "sample-volume-further", "specimens-per-sample")
    )
    last_m3 = max(cell.to for cell in steps.cells if cell.to is not None)
    step = steps.at(min(volume_m3 - _SLACK, last_m3))
    beyond = _parts(volume_m3 - last_m3, further.number)
    counted = ((step, int(step.number)), *(((further, beyond),) if beyond else ()))
    count = sum(number for _, number in counted)
    return StrengthSamples(samples_count=count, specimens_count=count * int(cubes.number), counted=counted)


def _parts(amount: float, of: float) -> int:
    """Whole parts of this size that the amount needs, a begun one counted; 0 where there is no amount."""
    return max(0, math.ceil(amount / of - _SLACK))
