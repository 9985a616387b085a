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


Pattern = Literal["constant", "matched"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """With what a pour is done: all that bounds its placing rate beside the order."""

    mix_option: str = ""
    pumps_count: int = 1
    vibrators_count: int
    gang: str = ""
    """Id in `choices.gang`; empty for the gang of `crew`."""
    cooler_by_c: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A whole decision. What-ifs and remedies may set what the sheet does not open, and the last two."""

    start_min: float
    """Planned first concrete, minutes from local midnight."""
    interval_min: float
    """Between loads; with the matched pattern, while full loads are placed at the full rate."""
    trucks_count: int
    load_m3: float
    rate_m3_per_h: float
    vibrators_count: int
    order: OrderChoice
    mix_option: str = ""
    plants: tuple[str, ...] = ()
    pattern: Pattern = "constant"
    pumps_count: int = 1
    gang: str = ""
    cooler_by_c: float = 0.0
    """Concrete at the plant cooler (or, below 0, warmer) than the sheet says."""
    more_finishing_crews: int = 0
    """Than the gang has, at every hour."""
    longer_set_factor: float = 1.0
    """Setting slowed by a retarder that the sheet does not offer."""

    @property
    def means(self) -> Means:
        """The part of the decision that bounds the placing rate."""
        return Means(
            mix_option=self.mix_option,
            pumps_count=self.pumps_count,
            vibrators_count=self.vibrators_count,
            gang=self.gang,
            cooler_by_c=self.cooler_by_c,
        )
