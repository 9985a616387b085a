"""Contracts of the calculations about trucks and pump."""

from typing import Any

from wetfront.calculations.contract import REQUIRED, Calculation, Number, Output
from wetfront.nouns.reason import Answer, Provenance, Source, Step
from wetfront.placing import supply

_CYLINDER = Source("cylinder", Provenance.COMMON_PRACTICE)
_NO_DROP = Source("a drop is not deducted", Provenance.OWN_RULE)


def _fleet(
    volume_m3: float,
    load_m3: float,
    placing_rate_m3_per_h: float,
    round_trip_min: float,
    trucks_available_count: int | None,
) -> Answer:
    fleet = supply.truck_fleet(volume_m3, load_m3, placing_rate_m3_per_h, round_trip_min, trucks_available_count)
    result: dict[str, Any] = {
        "headway_min": fleet.headway_min,
        "loads_count": fleet.loads_count,
        "trucks_count": fleet.trucks_count,
        "duration_h": fleet.duration_h,
    }
    steps = [
        Step("headway = load / placing rate", fleet.headway_min, "min", supply.FLEET_SOURCE),
        Step("loads = volume / load, rounded up", fleet.loads_count, "", supply.FLEET_SOURCE),
        Step(
            "trucks = round trip / headway, rounded up, at most the loads", fleet.trucks_count, "", supply.FLEET_SOURCE
        ),
    ]
    cautions = ["Steady state: a pour finishes up to one round trip earlier, because the first trucks come together."]
    if fleet.supply_rate_m3_per_h is not None:
        result |= {
            "supply_rate_m3_per_h": fleet.supply_rate_m3_per_h,
            "wait_between_loads_min": fleet.wait_between_loads_min,
        }
        steps += [
            Step(
                "supply = the lesser of placing rate and trucks × load / round trip",
                fleet.supply_rate_m3_per_h,
                "m³/h",
                supply.FLEET_SOURCE,
            ),
            Step(
                "wait between loads = load / supply − headway", fleet.wait_between_loads_min, "min", supply.FLEET_SOURCE
            ),
        ]
        if fleet.supply_rate_m3_per_h < placing_rate_m3_per_h:
            cautions.append(
                f"Too few trucks: the pump waits {fleet.wait_between_loads_min:.1f} min between loads; "
                f"{fleet.trucks_count} would keep it going."
            )
    steps.append(Step("duration = volume / supply", fleet.duration_h, "h", supply.FLEET_SOURCE))
    cautions.append("Take the round trip of the hour of day; work it out anew when three trips differ by over 10 %.")
    return Answer(result, tuple(steps), tuple(cautions))


def _pump_output(theoretical_output_m3_per_h: float, filling_percent: float, working_time_percent: float) -> Answer:
    found = supply.pump_output(theoretical_output_m3_per_h, filling_percent, working_time_percent)
    cautions = ["Never plan on the plate value."]
    if filling_percent > 85:
        cautions.append("Filling is 70 to 85 % in practice.")
    if working_time_percent > 80:
        cautions.append("A pump works 50 to 80 % of the time in practice: truck changes, moves, blockages.")
    return Answer(
        {
            "pumping_rate_m3_per_h": found.pumping_rate_m3_per_h,
            "average_output_m3_per_h": found.average_output_m3_per_h,
        },
        (
            Step("while pumping = theoretical × filling", found.pumping_rate_m3_per_h, "m³/h", supply.OUTPUT_SOURCE),
            Step("average = × share of working time", found.average_output_m3_per_h, "m³/h", supply.OUTPUT_SOURCE),
        ),
        tuple(cautions),
    )


def _pipeline(pipe_diameter_mm: float, pipe_length_m: float) -> Answer:
    found = supply.pipeline_content(pipe_diameter_mm, pipe_length_m)
    return Answer(
        {"content_m3": found.content_m3, "content_l_per_m": found.content_l_per_m},
        (
            Step("content of one metre = π/4 × d²", found.content_l_per_m, "l/m", _CYLINDER),
            Step("content of the line", found.content_m3, "m³", _CYLINDER),
        ),
        (
            "At the end this content is pumped out into the work or lost: one of the two, the order counts it once.",
            "Inside diameter at least 3 to 4 times the largest aggregate.",
        ),
    )


def _pressure(
    horizontal_length_m: float,
    vertical_rise_m: float,
    bends_90_count: int,
    bends_45_count: int,
    couplings_count: int,
    end_hoses_count: int,
    allowance_percent: float,
    placing_rate_m3_per_h: float | None,
) -> Answer:
    found = supply.pump_pressure(
        horizontal_length_m,
        vertical_rise_m,
        bends_90_count,
        bends_45_count,
        couplings_count,
        end_hoses_count,
        allowance_percent,
        placing_rate_m3_per_h,
    )
    result = {"pressure_bar": found.pressure_bar}
    steps = [
        Step("to start the pump", found.start_bar, "bar", supply.LINE_SOURCE),
        Step("along, 1 bar per 20 m", found.horizontal_bar, "bar", supply.LINE_SOURCE),
        Step("up, 1 bar per 4 m", found.rise_bar, "bar", _NO_DROP if vertical_rise_m < 0 else supply.LINE_SOURCE),
        Step("bends, 1 bar at 90°, 0.5 at 30° or 45°", found.bends_bar, "bar", supply.LINE_SOURCE),
        Step("couplings, 0.1 bar each", found.couplings_bar, "bar", supply.LINE_SOURCE),
        Step("end hoses, 2 bar each", found.end_hoses_bar, "bar", supply.LINE_SOURCE),
        Step(f"pressure with {allowance_percent:g} % allowance", found.pressure_bar, "bar", supply.LINE_SOURCE),
    ]
    cautions = [
        "For a 125 mm line, easy mixes and moderate output: compare with the pump's concrete pressure at that output."
    ]
    if found.power_kw is not None:
        result["power_kw"] = found.power_kw
        steps.append(Step("power = pressure × output / 25", found.power_kw, "kW", supply.POWER_SOURCE))
    if found.pressure_bar > supply.PIPE_PRESSURE_BAR:
        cautions.append(
            f"Over {supply.PIPE_PRESSURE_BAR:g} bar: ordinary pipes and couplings are not made for it (common "
            "practice); ask the pump's owner for the class of the line."
        )
    if vertical_rise_m < 0:
        cautions.append("Pumping downward: the drop is not deducted; the column may run away and the line block.")
    return Answer(result, tuple(steps), tuple(cautions))


def _whole(key: str, meaning: str, default: Any = REQUIRED) -> Number:
    return Number(key=key, meaning=meaning, unit="", low=0, high=10_000, whole=True, default=default)


_RATE_MEANING = "placing rate"

CALCULATIONS = (
    Calculation(
        name="truck-fleet",
        title="Trucks for a placing rate",
        method="Headway = load / placing rate; loads = volume / load; trucks = round trip / headway, both rounded up, "
        "never more trucks than loads. With a given number of trucks, fewer than the loads: supply = the lesser of "
        "the placing rate and trucks × load / round trip.",
        source=supply.FLEET_SOURCE,
        inputs=(
            Number(key="volume_m3", meaning="volume to place", unit="m³", above=0, high=10_000_000),
            Number(key="load_m3", meaning="what a truck brings", unit="m³", low=0.001, high=1000),
            Number(key="placing_rate_m3_per_h", meaning=_RATE_MEANING, unit="m³/h", low=0.001, high=10_000),
            Number(
                key="round_trip_min",
                meaning="load, drive, wait, unload, wash, return; not under the unloading time",
                unit="min",
                above=0,
                high=10_000,
            ),
            Number(
                key="trucks_available_count",
                meaning="trucks there are",
                unit="",
                low=1,
                high=100_000,
                whole=True,
                default=None,
            ),
        ),
        outputs=(
            Output(key="headway_min", meaning="time between arrivals = unloading time", unit="min"),
            Output(key="loads_count", meaning="rounded up"),
            Output(key="trucks_count", meaning="never more than loads_count"),
            Output(key="duration_h", meaning="volume / rate (steady state)", unit="h"),
            Output(key="supply_rate_m3_per_h", meaning="only with trucks_available_count", unit="m³/h"),
            Output(key="wait_between_loads_min", meaning="only with trucks_available_count", unit="min"),
        ),
        answer=_fleet,
    ),
    Calculation(
        name="pump-output",
        title="Pump output on site",
        method="Theoretical output × filling of the cylinders (70 to 85 %) × share of working time (50 to 80 %).",
        source=supply.OUTPUT_SOURCE,
        inputs=(
            Number(key="theoretical_output_m3_per_h", meaning="plate value", unit="m³/h", above=0, high=10_000),
            Number(key="filling_percent", meaning="filling of the cylinders", unit="%", above=0, high=100),
            Number(
                key="working_time_percent", meaning="share of time pumping", unit="%", above=0, high=100, default=100.0
            ),
        ),
        outputs=(
            Output(key="pumping_rate_m3_per_h", meaning="while pumping", unit="m³/h"),
            Output(key="average_output_m3_per_h", meaning="over the pour", unit="m³/h"),
        ),
        answer=_pump_output,
    ),
    Calculation(
        name="pipeline-content",
        title="Concrete in the pipeline",
        method="Cylinder over the inside diameter.",
        source=_CYLINDER,
        inputs=(
            Number(key="pipe_diameter_mm", meaning="inside", unit="mm", low=50, high=250),
            Number(key="pipe_length_m", meaning="whole line", unit="m", low=0, high=100_000),
        ),
        outputs=(
            Output(key="content_m3", meaning="whole line", unit="m³"),
            Output(key="content_l_per_m", meaning="litres per metre", unit="l/m"),
        ),
        answer=_pipeline,
    ),
    Calculation(
        name="pump-pressure",
        title="Estimate of pump pressure",
        method="20 bar to start, 1 bar per 20 m along, 1 per 4 m up, 1 per right-angle bend, 0.5 per lesser bend, 0.1 "
        "per coupling, 2 per end hose, plus the allowance; a drop is not deducted. Power = bar × m³/h / 25.",
        source=supply.LINE_SOURCE,
        inputs=(
            Number(key="horizontal_length_m", meaning="length along", unit="m", low=0, high=100_000),
            Number(key="vertical_rise_m", meaning="a drop is not deducted", unit="m", low=-200, high=500),
            _whole("bends_90_count", "right-angle bends", 0),
            _whole("bends_45_count", "bends of 30 or 45°", 0),
            _whole("couplings_count", "couplings", 0),
            _whole("end_hoses_count", "end hoses", 1),
            Number(key="allowance_percent", meaning="allowance", unit="%", low=0, high=200, default=10.0),
            Number(key="placing_rate_m3_per_h", meaning=_RATE_MEANING, unit="m³/h", above=0, high=10_000, default=None),
        ),
        outputs=(
            Output(key="pressure_bar", meaning="with allowance", unit="bar"),
            Output(key="power_kw", meaning="only with placing_rate_m3_per_h", unit="kW"),
        ),
        answer=_pressure,
    ),
)
