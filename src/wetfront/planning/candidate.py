"""One way to do a pour: what the search may decide, and what a what-if may change."""

from dataclasses import dataclass
from typing import Literal

from wetfront.placing.sequence import Corner


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChoice:
    """In which order the cells are placed: the few choices that a person makes."""

    element_order: tuple[str, ...]
    start_corner: Corner
    strips_along: Literal["x", "y"] = "y"
    """Direction of the strips' length."""
    strip_width_m: float = 4.0
    layer_mm: float = 500.0
    layers: Literal["whole", "stepped"] = "whole"
    step_length_m: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A whole decision. The last fields stay at their defaults in the search; what-ifs and remedies set them."""

    start_min: float
    """Planned first concrete, minutes from local midnight."""
    interval_min: float
    trucks_count: int
    load_m3: float
    rate_m3_per_h: float
    vibrators_count: int
    order: OrderChoice
    mix_option: str = ""
    plants: tuple[str, ...] = ()
    joint: str = ""
    """Agreed joint at which the pour is split; the part before it is what is placed."""
    pumps_count: int = 1
    finishing_crews_count: int = 1
    cooler_by_c: float = 0.0
    """Concrete at the plant cooler (or, below 0, warmer) than the sheet says."""
    longer_set_factor: float = 1.0
    """Setting slowed by a retarder that the sheet does not offer."""
