"""Contracts of the calculations about finishing a slab."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.calculations.setting import ACTIVATION_ENERGY, activation_energy_step
from wetfront.finishing import SAW_METHODS, finishing_machines, finishing_window, saw_cut_window
from wetfront.finishing import saw_cut as saw
from wetfront.finishing import window as rule
from wetfront.hydration import setting as clock
from wetfront.nouns.reason import Answer, Step


def _window(
    initial_set_h: float,
    final_set_h: float,
    reference_temperature_c: float,
    surface_temperature_c: float,
    activation_energy_j_per_mol: float,
) -> Answer:
    found = finishing_window(
        initial_set_h,
        final_set_h,
        reference_temperature_c,
        surface_temperature_c,
        activation_energy_j_per_mol=activation_energy_j_per_mol,
    )
    why = (
        activation_energy_step(activation_energy_j_per_mol),
        Step("factor of the setting times at the surface temperature", found.factor, "1", clock.ARRHENIUS_SOURCE),
        Step("opens at the initial set", found.window_opens_h, "h", rule.WINDOW_SOURCE),
        Step("closes at the final set", found.window_closes_h, "h", rule.WINDOW_SOURCE),
        Step("length of the window", found.window_h, "h", rule.WINDOW_SOURCE),
        Step("final set by the longer setting rule", found.latest_close_h, "h", clock.HALVING_SOURCE),
    )
    result = {
        "window_opens_h": found.window_opens_h,
        "window_closes_h": found.window_closes_h,
        "window_h": found.window_h,
    }
    cautions = (
        "A planning figure, counted from adding water, for the first and the last placed area each at its own surface "
        "temperature. On site the foot test rules: bleed water gone, footprint to 6 mm.",
        f"For the hours of the finishing staff use the longer setting rule: final set at {found.latest_close_h:.1f} h.",
    )
    return answered(result, why, found.notices, cautions)


def _machines(area_m2: float, passes_count: int, rate_per_machine_m2_per_h: float, window_h: float) -> Answer:
    found = finishing_machines(area_m2, passes_count, rate_per_machine_m2_per_h, window_h)
    why = (
        Step("machine hours = area × passes / rate", found.machine_hours_h, "h", rule.MACHINES_SOURCE),
        Step("machines = hours / window, rounded up", found.machines_count, "1", rule.MACHINES_SOURCE),
    )
    result = {"machine_hours_h": found.machine_hours_h, "machines_count": found.machines_count}
    cautions = (
        "Placing must not run faster than the finishing crew can follow. Breaks, refuelling and a broken machine are "
        "not in it: have one in reserve.",
    )
    return answered(result, why, (), cautions)


def _saw_cut(concrete_temperature_c: float, method: saw.SawMethod, surface_peak_time_h: float | None) -> Answer:
    found = saw_cut_window(concrete_temperature_c, method, surface_peak_time_h=surface_peak_time_h)
    cold, hot = saw.FROM_H[method]
    why = (
        Step("start in the cold, 10 °C and below", cold, "h after finishing", saw.START_SOURCE),
        Step("start in the heat, 30 °C and above", hot, "h after finishing", saw.START_SOURCE),
        Step("start at the concrete's temperature", found.earliest_h, "h after finishing", saw.INTERPOLATION_SOURCE),
        Step("must have been begun", found.latest_h, "h after finishing", saw.LATEST_SOURCE),
    )
    cautions = (
        "A trial cut decides: edges that break out say that it is too early. A cold night or a change of wind closes "
        "the window sooner.",
        "Saw cutting: water or extraction against silica dust, and a mask by the local rule.",
    )
    return answered({"earliest_h": found.earliest_h, "latest_h": found.latest_h}, why, found.notices, cautions)


CALCULATIONS = (
    Calculation(
        name="finishing-window",
        title="Window for power floating and trowelling",
        method="Opens at the initial set, closes at the final set, both scaled to the surface temperature (Arrhenius).",
        source=rule.WINDOW_SOURCE,
        inputs=(
            Number(
                key="initial_set_h",
                meaning="from adding water, at the reference temperature",
                unit="h",
                above=0,
                high=1000,
            ),
            Number(key="final_set_h", meaning="later than the initial set", unit="h", above=0, high=1000),
            Number(key="reference_temperature_c", meaning="where the times hold", unit="°C", low=5, high=40),
            Number(
                key="surface_temperature_c",
                meaning="of the concrete's surface",
                unit="°C",
                low=rule.RANGE_C[0],
                high=rule.RANGE_C[1],
            ),
            ACTIVATION_ENERGY,
        ),
        outputs=(
            Output(key="window_opens_h", meaning="after adding water", unit="h"),
            Output(key="window_closes_h", meaning="final set", unit="h"),
            Output(key="window_h", meaning="length", unit="h"),
        ),
        answer=_window,
    ),
    Calculation(
        name="finishing-machines",
        title="Finishing machines for a window",
        method="Area × passes over rate × window, rounded up.",
        source=rule.MACHINES_SOURCE,
        inputs=(
            Number(key="area_m2", meaning="to be finished", unit="m²", above=0, high=1_000_000),
            Number(key="passes_count", meaning="passes over the area", unit="1", low=1, high=100, whole=True),
            Number(
                key="rate_per_machine_m2_per_h",
                meaning="area one machine takes once over in an hour",
                unit="m²/h",
                low=0.01,
                high=100_000,
            ),
            Number(key="window_h", meaning="time for finishing", unit="h", low=0.01, high=1000),
        ),
        outputs=(
            Output(key="machine_hours_h", meaning="area × passes / rate", unit="h"),
            Output(key="machines_count", meaning="rounded up"),
        ),
        answer=_machines,
    ),
    Calculation(
        name="saw-cut-window",
        title="When saw cuts can start and must have started",
        method="Between the published hours for hot and cold, by the concrete's temperature; latest by own rule.",
        source=saw.START_SOURCE,
        inputs=(
            Number(
                key="concrete_temperature_c",
                meaning="mean since placing",
                unit="°C",
                low=saw.RANGE_C[0],
                high=saw.RANGE_C[1],
            ),
            Choice(key="method", meaning="the saw", options=SAW_METHODS),
            Number(
                key="surface_peak_time_h",
                meaning="when the slab's temperature peaks, after finishing",
                unit="h",
                low=0,
                high=1000,
                default=None,
            ),
        ),
        outputs=(
            Output(key="earliest_h", meaning="after finishing", unit="h"),
            Output(key="latest_h", meaning="after finishing; never before the earliest", unit="h"),
        ),
        answer=_saw_cut,
    ),
)
