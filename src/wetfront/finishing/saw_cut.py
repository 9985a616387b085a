"""When contraction joints can be sawn into a slab, and when they must have been."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Notice, Provenance, Source

SawMethod = Literal["conventional", "early-entry"]
SAW_METHODS: tuple[SawMethod, ...] = ("conventional", "early-entry")
START_SOURCE = Source(
    "ACI 302.1R and ACI 224.4R: 4 h (hot) to 12 h (cold) after finishing with the conventional saw, 1 h to 4 h with "
    "the early-entry saw",
    Provenance.PUBLISHED,
)
INTERPOLATION_SOURCE = Source("a straight line from 10 to 30 °C, the same beyond", Provenance.OWN_RULE)
LATEST_SOURCE = Source(
    "18 h after finishing with the conventional saw (published 6 to 18 h), 12 h with the early-entry saw, or when the "
    "slab begins to cool",
    Provenance.OWN_RULE,
)
COLD_C, HOT_C = 10.0, 30.0
FROM_H: Mapping[SawMethod, tuple[float, float]] = {"conventional": (12.0, 4.0), "early-entry": (4.0, 1.0)}
"""Hours after finishing in the cold and in the heat: START_SOURCE."""
UNTIL_H: Mapping[SawMethod, float] = {"conventional": 18.0, "early-entry": 12.0}
"""LATEST_SOURCE."""
RANGE_C = (5.0, 40.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCutWindow:
    """Hours after the end of finishing."""

    earliest_h: float
    """Before it the edges of the cut break out: a trial cut decides."""
    latest_h: float
    """After it the slab may crack where no cut is."""
    notices: tuple[Notice, ...]


def saw_cut_window(
    concrete_temperature_c: float, method: SawMethod, *, surface_peak_time_h: float | None = None
) -> SawCutWindow:
    """Window for sawing contraction joints [h after finishing].

    `concrete_temperature_c`: mean since placing, 5 to 40 °C; OutOfRange otherwise. `surface_peak_time_h`: when the
    slab's temperature peaks, counted from finishing, where it is known; it must not be negative (InvalidInput).
    Sources: START_SOURCE, INTERPOLATION_SOURCE, LATEST_SOURCE.
    >>> saw_cut_window(20, "conventional").earliest_h
    8.0
    """
    low, high = RANGE_C
    if not low <= concrete_temperature_c <= high:
        allowed = f"from {low:g} to {high:g} °C"
        raise OutOfRange("concrete_temperature_c", concrete_temperature_c, allowed, "the window for saw cuts")
    if method not in FROM_H:
        raise InvalidInput("method", f"method is {method!r}; allowed is one of {', '.join(SAW_METHODS)}")
    if surface_peak_time_h is not None and not surface_peak_time_h >= 0:
        raise InvalidInput("surface_peak_time_h", f"surface_peak_time_h is {surface_peak_time_h:g}; allowed from 0 h")
    cold, hot = FROM_H[method]
    share = min(max((concrete_temperature_c - COLD_C) / (HOT_C - COLD_C), 0.0), 1.0)
    earliest = cold + share * (hot - cold)
    limit = UNTIL_H[method] if surface_peak_time_h is None else min(UNTIL_H[method], surface_peak_time_h)
    notices: tuple[Notice, ...] = ()
    if limit < earliest:
        text = (
            f"No window: the slab begins to cool {limit:g} h after finishing, before it can be cut at {earliest:g} h. "
            "Ask for an early-entry saw, or for joints formed in the fresh concrete."
        )
        notices = (Notice("no-window", text),)
    return SawCutWindow(earliest_h=earliest, latest_h=max(earliest, limit), notices=notices)
