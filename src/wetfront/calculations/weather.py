"""Contracts of the calculations about wind and evaporation."""

from wetfront.calculations.contract import Calculation, Choice, Flag, Number, Output
from wetfront.nouns.reason import Answer, Provenance, Source, Step
from wetfront.weather import evaporation
from wetfront.weather.evaporation import Method, evaporation_rate, menzel, menzel_holds_better, uno
from wetfront.weather.wind import EXPONENT, POWER_LAW, SURFACE_HEIGHT_M, wind_at_height

_ACCURACY = Source("ACI SP-338 (2020), pp. 10-28, abstract: actual within ± 40 % of the estimate", Provenance.PUBLISHED)
_INPUT = Source("input", Provenance.INPUT)
_GUARD = 1e-9


def _evaporation(
    air_temperature_c: float,
    relative_humidity_percent: float,
    concrete_temperature_c: float,
    wind_speed_m_per_s: float,
    method: Method,
    low_bleed: bool,
) -> Answer:
    conditions = (air_temperature_c, relative_humidity_percent, concrete_temperature_c, wind_speed_m_per_s)
    rate = evaporation_rate(*conditions, method)
    other: Method = "menzel" if method == "uno" else "uno"
    other_rate = evaporation_rate(*conditions, other)
    threshold = evaporation.LOW_BLEED_THRESHOLD_KG_PER_M2_H if low_bleed else evaporation.THRESHOLD_KG_PER_M2_H
    required, other_required = rate >= threshold - _GUARD, other_rate >= threshold - _GUARD
    signed = uno(*conditions) if method == "uno" else menzel(*conditions)
    steps = (
        Step("wind in the equation", 3.6 * wind_speed_m_per_s, "km/h", _INPUT),
        Step(f"{method} equation, below zero means dew", signed, "kg/m²/h", _source_of(method)),
        Step("evaporation", rate, "kg/m²/h", _source_of(method)),
        Step(f"{other} equation beside it", other_rate, "kg/m²/h", _source_of(other)),
        Step("threshold for precautions", threshold, "kg/m²/h", evaporation.THRESHOLDS),
        Step("the larger of both equations reaches the threshold", required or other_required, "", evaporation.CHOICE),
        Step("actual rate may be as high as", rate * (1 + evaporation.ACCURACY), "kg/m²/h", _ACCURACY),
    )
    return Answer(
        {
            "evaporation_kg_per_m2_h": rate,
            "threshold_kg_per_m2_h": threshold,
            "precautions_required": required,
            "precautions_advised": required or other_required,
        },
        steps,
        _evaporation_cautions(method, conditions, rate, threshold, required, other_rate if other_required else None),
    )


def _source_of(method: Method) -> Source:
    return evaporation.UNO if method == "uno" else evaporation.MENZEL


def _evaporation_cautions(
    method: Method,
    conditions: tuple[float, float, float, float],
    rate: float,
    threshold: float,
    required: bool,
    other_rate_over_threshold: float | None,
) -> tuple[str, ...]:
    air, _, concrete, _ = conditions
    cautions = ["An alarm, not a measurement: the actual rate lies within about 40 % of the estimate."]
    if method == "uno" and menzel_holds_better(air, concrete):
        cautions.append(
            "The surface is over 40 °C or cooler than the air: the single equation is not to be relied on, use menzel."
        )
    if other_rate_over_threshold is not None and not required:
        cautions.append(
            f"The other equation gives {other_rate_over_threshold:.2f} kg/m²/h, over the threshold of {threshold:g}: "
            "where the two straddle it, go by the larger and take precautions."
        )
    elif not required and rate * (1 + evaporation.ACCURACY) >= threshold - _GUARD:
        cautions.append(f"Over 70 % of the threshold of {threshold:g}: have the precautions at hand.")
    if required:
        cautions.append(
            "In this order: wind break, shade, fog, evaporation retarder, later or earlier start, cooler concrete, "
            "cover at once."
        )
    if rate == 0:
        cautions.append("No evaporation: dew may fall on the surface.")
    return tuple(cautions)


def _wind(wind_speed_m_per_s: float, measured_height_m: float, wanted_height_m: float, exponent: float) -> Answer:
    factor = (wanted_height_m / measured_height_m) ** exponent
    wind = wind_at_height(wind_speed_m_per_s, measured_height_m, wanted_height_m, exponent)
    return Answer(
        {"wind_speed_m_per_s": wind},
        (
            Step("factor = (wanted height / measured height)^exponent", factor, "1", POWER_LAW),
            Step("wind at the wanted height", wind, "m/s", POWER_LAW),
        ),
        (
            "Over open ground. Behind a wind break, between buildings or on a high floor take a measured value.",
            "A logarithmic profile over short grass gives less at 0.5 m: this law is on the safe side for evaporation.",
        ),
    )


CALCULATIONS = (
    Calculation(
        name="evaporation-rate",
        title="Evaporation rate of surface water",
        method="Uno's single equation, or Menzel's behind the nomograph, from air, humidity, surface temperature and "
        "wind 0.5 m above the surface. Precautions from 1.0 kg/m²/h, from 0.5 for mixes that bleed little. Over 40 °C "
        "or on a surface cooler than the air use Menzel; where the two straddle the threshold go by the larger.",
        source=evaporation.UNO,
        inputs=(
            Number(key="air_temperature_c", meaning="dry-bulb temperature of the air", unit="°C", low=-10, high=50),
            Number(key="relative_humidity_percent", meaning="relative humidity", unit="%", low=0, high=100),
            Number(key="concrete_temperature_c", meaning="temperature of the surface", unit="°C", low=0, high=50),
            Number(
                key="wind_speed_m_per_s",
                meaning="wind 0.5 m above the surface (see wind-at-height)",
                unit="m/s",
                low=0,
                high=30,
            ),
            Choice(key="method", meaning="equation", options=("uno", "menzel"), default="uno"),
            Flag(key="low_bleed", meaning="true for mixes that bleed little", default=False),
        ),
        outputs=(
            Output(key="evaporation_kg_per_m2_h", meaning="by the chosen equation, never under 0", unit="kg/m²/h"),
            Output(key="threshold_kg_per_m2_h", meaning="1.0, or 0.5 with low_bleed", unit="kg/m²/h"),
            Output(key="precautions_required", meaning="true when the rate is the threshold or more"),
            Output(key="precautions_advised", meaning="true when either equation reaches the threshold"),
        ),
        answer=_evaporation,
    ),
    Calculation(
        name="wind-at-height",
        title="Wind speed at another height",
        method="Power law: u(z) = u(measured) × (z / measured height)^exponent.",
        source=POWER_LAW,
        inputs=(
            Number(key="wind_speed_m_per_s", meaning="wind measured or forecast", unit="m/s", low=0, high=60),
            Number(
                key="measured_height_m",
                meaning="height of the reading, 10 for a weather service",
                unit="m",
                low=0.01,
                high=1000,
            ),
            Number(
                key="wanted_height_m",
                meaning="height above the surface",
                unit="m",
                low=0.01,
                high=1000,
                default=SURFACE_HEIGHT_M,
            ),
            Number(key="exponent", meaning="of the power law", unit="1", low=0, high=0.5, default=EXPONENT),
        ),
        outputs=(Output(key="wind_speed_m_per_s", meaning="at the wanted height", unit="m/s"),),
        answer=_wind,
    ),
)
