"""Contracts of the calculations about setting."""

from typing import get_args

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Number, Numbers, Output
from wetfront.hydration import (
    DEFAULT_ACTIVATION_ENERGY_J_PER_MOL,
    setting_from_penetration,
    setting_time_at_temperature,
)
from wetfront.hydration import setting as clock
from wetfront.nouns.reason import Answer, Provenance, Source, Step

GIVEN = Source("given", Provenance.INPUT)
ACTIVATION_ENERGY = Number(
    key="activation_energy_j_per_mol",
    meaning="activation energy of the mix",
    unit="J/mol",
    low=20_000,
    high=70_000,
    default=DEFAULT_ACTIVATION_ENERGY_J_PER_MOL,
)
_OWN_CURVE = (
    "Retarded mixes, slag and fly ash react more strongly to temperature: with a curve of the producer use that."
)


def activation_energy_step(activation_energy_j_per_mol: float) -> Step:
    """The activation energy, from memory where it is the default."""
    usual = activation_energy_j_per_mol == DEFAULT_ACTIVATION_ENERGY_J_PER_MOL
    source = clock.ACTIVATION_ENERGY_SOURCE if usual else GIVEN
    return Step("activation energy", activation_energy_j_per_mol, "J/mol", source)


def _at_temperature(
    setting_time_h: float,
    reference_temperature_c: float,
    concrete_temperature_c: float,
    method: clock.SettingMethod,
    activation_energy_j_per_mol: float,
) -> Answer:
    found = setting_time_at_temperature(
        setting_time_h,
        reference_temperature_c,
        concrete_temperature_c,
        activation_energy_j_per_mol=activation_energy_j_per_mol,
        method=method,
    )
    arrhenius = Step("setting time by Arrhenius", found.arrhenius_h, "h", clock.ARRHENIUS_SOURCE)
    halving = Step("setting time by halving per 11 °C", found.halving_h, "h", clock.HALVING_SOURCE)
    source = clock.ARRHENIUS_SOURCE if method == "arrhenius" else clock.HALVING_SOURCE
    energy = [activation_energy_step(activation_energy_j_per_mol)] if method == "arrhenius" else []
    why = [*energy, Step("factor of the time", found.factor, "1", source)]
    why += [arrhenius, halving] if method == "arrhenius" else [halving]
    rules = (
        f"The two rules give {found.shorter_h:.2f} and {found.longer_h:.2f} h: use the shorter for joints, the longer "
        "for form pressure and for the hours of the finishing staff.",
    )
    result = {"setting_time_h": found.setting_time_h, "factor": found.factor}
    return answered(result, why, found.notices, (*rules, _OWN_CURVE))


def _from_penetration(times_h: tuple[float, ...], penetration_resistances_mpa: tuple[float, ...]) -> Answer:
    found = setting_from_penetration(times_h, penetration_resistances_mpa)
    why = (
        Step("slope of log10(MPa) over log10(h)", found.slope, "1", clock.FIT_SOURCE),
        Step("intercept at 1 h", found.intercept, "1", clock.FIT_SOURCE),
        Step("readings asked for", clock.LEAST_READINGS, "1", clock.LEAST_READINGS_SOURCE),
        Step("correlation of the logarithms", found.correlation, "1", clock.FIT_SOURCE),
        Step("initial set at 3.5 MPa", found.initial_set_h, "h", clock.SET_LIMITS_SOURCE),
        Step("final set at 27.6 MPa", found.final_set_h, "h", clock.SET_LIMITS_SOURCE),
        Step("limit of vibration at 0.5 MPa", found.limit_of_vibration_h, "h", clock.VIBRATION_LIMIT_SOURCE),
    )
    result = {
        "initial_set_h": found.initial_set_h,
        "final_set_h": found.final_set_h,
        "limit_of_vibration_h": found.limit_of_vibration_h,
        "correlation": found.correlation,
    }
    cautions = ("The test runs on sieved mortar at its own temperature: scale the times to the site's temperature.",)
    return answered(result, why, found.notices, cautions)


CALCULATIONS = (
    Calculation(
        name="setting-time-at-temperature",
        title="Setting time at another concrete temperature",
        method="t(T) = t0 exp{E/R [1/(T + 273.15) − 1/(T0 + 273.15)]}, or halved per 11 °C warmer. Holds from 5 to "
        "40 °C; below 5 °C with a warning.",
        source=Source("Arrhenius as in ASTM C1074; rule of thumb of halving per 20 °F", Provenance.PUBLISHED),
        inputs=(
            Number(key="setting_time_h", meaning="at the reference temperature", unit="h", above=0, high=1000),
            Number(key="reference_temperature_c", meaning="where that time holds", unit="°C", low=5, high=40),
            Number(key="concrete_temperature_c", meaning="of the concrete", unit="°C", low=0, high=40),
            Choice(key="method", meaning="rule", options=get_args(clock.SettingMethod), default="arrhenius"),
            ACTIVATION_ENERGY,
        ),
        outputs=(
            Output(key="setting_time_h", meaning="at the concrete temperature", unit="h"),
            Output(key="factor", meaning="multiplier of the time", unit="1"),
        ),
        answer=_at_temperature,
    ),
    Calculation(
        name="setting-from-penetration",
        title="Setting times from penetration resistance",
        method="A straight line by least squares through the logarithms of all readings; the times at which it "
        "reaches 0.5, 3.5 and 27.6 MPa.",
        source=Source("ASTM C403", Provenance.PUBLISHED),
        inputs=(
            Numbers(
                key="times_h",
                meaning="rising, from adding water",
                each=Number(key="times_h", meaning="time", unit="h", above=0, high=1000),
                least_count=clock.LEAST_READINGS,
                most_count=10_000,
            ),
            Numbers(
                key="penetration_resistances_mpa",
                meaning="one per time, the last at least 27.6",
                each=Number(key="penetration_resistances_mpa", meaning="resistance", unit="MPa", above=0, high=1000),
                least_count=clock.LEAST_READINGS,
                most_count=10_000,
            ),
        ),
        outputs=(
            Output(key="initial_set_h", meaning="at 3.5 MPa", unit="h"),
            Output(key="final_set_h", meaning="at 27.6 MPa", unit="h"),
            Output(key="limit_of_vibration_h", meaning="at 0.5 MPa, extrapolated if below the readings", unit="h"),
            Output(key="correlation", meaning="of the logarithms", unit="1"),
        ),
        answer=_from_penetration,
    ),
)
