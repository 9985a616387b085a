"""Air, time from batching to discharge, and temperature of a delivered load, by each rule book."""

from dataclasses import dataclass

from wetfront.acceptance.compare import within
from wetfront.acceptance.consistence import Lookup, ValueLimits
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.rules import Rule, rule

AIR_BASES = ("en-206", "astm-c94")
TEMPERATURE_BASES = ("aci", "en-206", "as-1379")
TIME_RULES: dict[str, tuple[str, str, str]] = {
    "astm-c94-2016-and-older": ("aci", "delivery-time-agitated", ""),
    "astm-c94-2021": ("", "", ""),
    "bs-8500": ("en", "delivery-time-agitated", "delivery-time-not-agitated"),
    "din-1045": ("en", "delivery-time-agitated-din", "delivery-time-not-agitated-din"),
    "is-4926": ("is", "delivery-time-agitated", ""),
    "as-1379": ("as", "delivery-time-agitated", ""),
}
"""Basis -> book, rule for an agitated load, rule for one that is not; empty: the basis gives none of its own."""
BINDS_TURNS = "astm-c94-2016-and-older"
_MILD_DOWN_TO_C, _HARD_BELOW_C = -1.0, -18.0
"""Air temperatures at which ACI 306R changes its row for mixing; both belong to the middle row."""


# Air


def air_limits(basis: str, specified_percent: float, lookup: Lookup = rule) -> ValueLimits:
    """Air content [%] that a load may have: the specified value is the least (EN 206) or the target (ASTM C94).

    InvalidInput names an unknown `basis`. Sources: the rules that are returned.
    """
    if basis not in AIR_BASES:
        raise InvalidInput("basis", f"basis is {basis!r}; allowed is one of {', '.join(AIR_BASES)}")
    of = "en" if basis == "en-206" else "aci"
    under, over = lookup(of, "air-under-specified"), lookup(of, "air-over-specified")
    assert under.high is not None and over.high is not None
    return ValueLimits(max(0.0, specified_percent - under.high), specified_percent + over.high, (under, over))


# Time


@dataclass(frozen=True, slots=True)
class DeliveryTime:
    """The time limit that was used, what is left of it, and whether the load is within it and within its turns."""

    limit_min: float
    remaining_min: float
    time_is_met: bool
    turns_are_met: bool
    rule: Rule | None
    """None: the limit agreed on the ticket was used."""
    turns_rule: Rule | None
    """The limit of the drum's turns, where it binds and the turns are known."""

    @property
    def within_limit(self) -> bool:
        """Both the time and the turns."""
        return self.time_is_met and self.turns_are_met


def delivery_time(
    basis: str,
    elapsed_min: float,
    *,
    agitated: bool = True,
    drum_turns_count: float | None = None,
    agreed_limit_min: float | None = None,
) -> DeliveryTime:
    """Time left [min] to end the discharge of a load, counted from first contact of cement and water.

    An agreed limit on the ticket replaces the default of every basis; `astm-c94-2021` has none and needs it. Drum
    turns bind in `astm-c94-2016-and-older` only, also beside an agreed time. Exactly at a limit is within it.
    InvalidInput names `basis`, `elapsed_min` below 0 (a clock is wrong) or `agreed_limit_min`.
    """
    if basis not in TIME_RULES:
        raise InvalidInput("basis", f"basis is {basis!r}; allowed is one of {', '.join(TIME_RULES)}")
    if elapsed_min < 0:
        raise OutOfRange("elapsed_min", elapsed_min, "from 0 min: batching cannot be later than now", "a clock")
    of, when_agitated, when_not = TIME_RULES[basis]
    used: Rule | None = None
    if agreed_limit_min is not None:
        limit = agreed_limit_min
    elif not of:
        raise InvalidInput(
            "agreed_limit_min", "agreed_limit_min is missing: C94-21 has no time of its own, the ticket must state one"
        )
    else:
        used = rule(of, when_agitated if agitated or not when_not else when_not)
        assert used.high is not None
        limit = used.high
    turns = rule("aci", "drum-turns") if basis == BINDS_TURNS and drum_turns_count is not None else None
    turns_met = turns is None or drum_turns_count is None or within(drum_turns_count, high=turns.high)
    return DeliveryTime(limit, limit - elapsed_min, within(elapsed_min, high=limit), turns_met, used, turns)


# Temperature


@dataclass(frozen=True, slots=True)
class PlacingTemperature:
    """Limits of the concrete temperature at placing [°C]; None where the basis gives none."""

    minimum_c: float | None
    maximum_c: float | None
    minimum_mixing_c: float | None
    maximum_drop_24_h_c: float | None
    rules: tuple[Rule, ...]
    deciding: tuple[Rule, ...]
    """Those of the rules that the concrete at placing is compared with."""

    def accepts(self, concrete_temperature_c: float) -> bool:
        """True where the temperature keeps both limits."""
        return within(concrete_temperature_c, self.minimum_c, self.maximum_c)


def placing_temperature(
    basis: str,
    *,
    cold_weather: bool = False,
    section_size_mm: float | None = None,
    air_temperature_c: float | None = None,
) -> PlacingTemperature:
    """Limits of the concrete temperature at placing by one rule.

    `aci`: the highest in general; in cold weather by the least dimension of the section the lowest placed and kept,
    the highest (11 °C over it), the lowest when mixing (with an air temperature), the largest fall in the 24 h after
    protection ends. `en-206` gives a lowest only, `as-1379` both. InvalidInput names `basis` or a missing
    `section_size_mm`. Sources: the rules that are returned.
    """
    if basis not in TEMPERATURE_BASES:
        raise InvalidInput("basis", f"basis is {basis!r}; allowed is one of {', '.join(TEMPERATURE_BASES)}")
    if basis == "en-206":
        least = rule("en", "concrete-temperature-least")
        return PlacingTemperature(least.low, None, None, None, (least,), (least,))
    if basis == "as-1379":
        least, most = rule("as", "concrete-temperature-least"), rule("as", "concrete-temperature-most")
        return PlacingTemperature(least.low, most.high, None, None, (least, most), (least, most))
    if not cold_weather:
        most = rule("aci", "concrete-temperature-most")
        return PlacingTemperature(None, most.high, None, None, (most,), (most,))
    if section_size_mm is None:
        raise InvalidInput("section_size_mm", "section_size_mm is missing: the limits in cold weather go by it")
    least, fall = (
        rule("aci", name).at(section_size_mm) for name in ("concrete-temperature-least", "temperature-fall-after-cover")
    )
    over = rule("aci", "placing-over-least")
    assert least.low is not None and over.high is not None
    mixing = None if air_temperature_c is None else rule("aci", _mixing_rule(air_temperature_c)).at(section_size_mm)
    used = (least, over, fall) if mixing is None else (least, over, mixing, fall)
    return PlacingTemperature(
        least.low, least.low + over.high, None if mixing is None else mixing.low, fall.high, used, (least, over)
    )


def _mixing_rule(air_temperature_c: float) -> str:
    if air_temperature_c > _MILD_DOWN_TO_C:
        return "mixing-temperature-least-mild"
    return "mixing-temperature-least-hard" if air_temperature_c < _HARD_BELOW_C else "mixing-temperature-least-frost"
