"""The comparisons by which a load is taken or refused: one place for the simulator, the desk and the calculations."""

from dataclasses import dataclass
from enum import StrEnum
from math import inf

SLACK = 1e-9
"""A limit that is just met is met: figures so close to it come from arithmetic, not from the concrete."""


def within(value: float, low: float | None = None, high: float | None = None) -> bool:
    """True where the value keeps both limits; one that is just met is met. None: no limit on that side."""
    return (low is None or value >= low - SLACK) and (high is None or value <= high + SLACK)


class Cause(StrEnum):
    """Why a load is refused by measurement."""

    AGE = "age"
    TEMPERATURE = "temperature"
    CONSISTENCE = "consistence"


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLimits:
    """The figures that every load is judged by, on site and in the simulator. Infinite: no limit."""

    longest_age_min: float = inf
    """Age at the moment that the limit counts to."""
    lowest_c: float = -inf
    highest_c: float = inf

    @property
    def widened(self) -> tuple[float, float, float]:
        """The same figures with the slack in them: a bare comparison with these decides as `within` does."""
        return (self.longest_age_min + SLACK, self.lowest_c - SLACK, self.highest_c + SLACK)

    def age_is_met(self, age_min: float) -> bool:
        """True where the load is not too old."""
        return within(age_min, high=self.longest_age_min)

    def temperature_is_met(self, temperature_c: float) -> bool:
        """True where the concrete is neither too cold nor too warm."""
        return within(temperature_c, self.lowest_c, self.highest_c)


def refused_for(limits: LoadLimits, age_min: float, temperature_c: float, *, consistence_met: bool) -> Cause | None:
    """The first cause for which a load is refused, None where it is taken: age, then temperature, then consistence."""
    if not limits.age_is_met(age_min):
        return Cause.AGE
    if not limits.temperature_is_met(temperature_c):
        return Cause.TEMPERATURE
    return None if consistence_met else Cause.CONSISTENCE
