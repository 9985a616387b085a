"""Chloride content of a concrete against its chloride class."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.errors import InvalidInput
from wetfront.rules import Rule, rule

_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class ChlorideContent:
    """Content in percent of the cement mass, and the class limit that it is compared with."""

    chloride_percent_of_cement: float
    limit: Rule
    accepted: bool


def chloride_content(
    masses_kg_per_m3: Sequence[float],
    chloride_percents: Sequence[float],
    cement_kg_per_m3: float,
    chloride_class: str,
) -> ChlorideContent:
    """Sum of mass × chloride of every constituent, in percent of the cement mass; a limit just met is met.

    InvalidInput: lists of different length, masses that the cement cannot be among, or an unknown class.
    Source: EN 206, 5.2.8, Table 15.
    """
    if len(chloride_percents) != len(masses_kg_per_m3):
        raise InvalidInput(
            "chloride_percents",
            f"chloride_percents has {len(chloride_percents)} entries, masses_kg_per_m3 has {len(masses_kg_per_m3)}",
        )
    if math.fsum(masses_kg_per_m3) < cement_kg_per_m3 - _SLACK:
        raise InvalidInput(
            "masses_kg_per_m3",
            f"masses_kg_per_m3 add up to less than the cement, {cement_kg_per_m3:g} kg/m³: the cement is among them",
        )
    chloride = math.fsum(mass * share for mass, share in zip(masses_kg_per_m3, chloride_percents, strict=True))
    limit = rule("en", "chloride-content").at(chloride_class)
    content = chloride / cement_kg_per_m3
    return ChlorideContent(chloride_percent_of_cement=content, limit=limit, accepted=content <= limit.number + _SLACK)
