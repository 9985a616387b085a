"""Trucks and pump: how many, how much, how hard."""

import math
from dataclasses import dataclass

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source

FLEET_SOURCE = Source("round trip / unloading time, a ready-mix producer's dispatch method", Provenance.PUBLISHED)
OUTPUT_SOURCE = Source("theoretical output × filling × share of working time", Provenance.COMMON_PRACTICE)
LINE_SOURCE = Source("handbook rule for a 125 mm line and usual consistence", Provenance.MEMORY)
POWER_SOURCE = Source("rule for line pumps: power [kW] = pressure [bar] × output [m³/h] / 25", Provenance.PUBLISHED)
PIPE_LIMIT_SOURCE = Source("pipe class of ordinary lines, 85 bar", Provenance.COMMON_PRACTICE)

MOST_COUNT = 1_000_000
PIPE_PRESSURE_BAR = 85.0


@dataclass(frozen=True, slots=True)
class TruckFleet:
    """Trucks for a placing rate in the steady state."""

    headway_min: float
    """Time between arrivals, equal to the unloading time."""
    loads_count: int
    trucks_count: int
    """Needed for the placing rate, never more than there are loads."""
    duration_h: float
    """With the trucks available where told, with those needed else."""
    supply_rate_m3_per_h: float | None
    wait_between_loads_min: float | None


def truck_fleet(
    volume_m3: float,
    load_m3: float,
    placing_rate_m3_per_h: float,
    round_trip_min: float,
    trucks_available_count: int | None = None,
) -> TruckFleet:
    """Trucks needed, and what a given number of them supplies. Source: FLEET_SOURCE.

    The round trip includes loading, driving, waiting, unloading, washing and the way back. OutOfRange where it is
    shorter than the unloading alone; InvalidInput where there would be a million loads or trucks.
    """
    headway_min = load_m3 / placing_rate_m3_per_h * 60
    if round_trip_min < headway_min * (1 - 1e-9):
        raise OutOfRange(
            "round_trip_min", round_trip_min, f"from {headway_min:.4g} min (unloading one load)", "the fleet rule"
        )
    for key, count in (("load_m3", volume_m3 / load_m3), ("round_trip_min", round_trip_min / headway_min)):
        if not count <= MOST_COUNT:
            raise InvalidInput(key, f"{key}: the fleet would take {count:.3g} loads or trucks; at most {MOST_COUNT}")
    loads = max(math.ceil(volume_m3 / load_m3 - 1e-9), 1)
    needed = min(max(math.ceil(round_trip_min / headway_min - 1e-9), 1), loads)
    if trucks_available_count is None:
        return TruckFleet(headway_min, loads, needed, volume_m3 / placing_rate_m3_per_h, None, None)
    supply = placing_rate_m3_per_h
    if trucks_available_count < loads:
        supply = min(supply, trucks_available_count * load_m3 * 60 / round_trip_min)
    wait_min = max(load_m3 / supply * 60 - headway_min, 0.0)
    return TruckFleet(headway_min, loads, needed, volume_m3 / supply, supply, wait_min)


@dataclass(frozen=True, slots=True)
class PumpOutput:
    """What a pump gives on site."""

    pumping_rate_m3_per_h: float
    """While it pumps."""
    average_output_m3_per_h: float
    """Over the pour."""


def pump_output(
    theoretical_output_m3_per_h: float, filling_percent: float, working_time_percent: float = 100.0
) -> PumpOutput:
    """Plate value × filling (70 to 85 %) × share of working time (50 to 80 %). Source: OUTPUT_SOURCE."""
    pumping = theoretical_output_m3_per_h * filling_percent / 100
    return PumpOutput(pumping, pumping * working_time_percent / 100)


@dataclass(frozen=True, slots=True)
class PipelineContent:
    """Concrete in a line."""

    content_m3: float
    content_l_per_m: float


def pipeline_content(pipe_diameter_mm: float, pipe_length_m: float) -> PipelineContent:
    """Cylinder over the inside diameter.

    >>> round(pipeline_content(125, 1).content_l_per_m, 2)
    12.27
    """
    area_m2 = math.pi / 4 * (pipe_diameter_mm / 1000) ** 2
    return PipelineContent(area_m2 * pipe_length_m, area_m2 * 1000)


@dataclass(frozen=True, slots=True)
class PumpPressure:
    """Pressure by its parts [bar], before and with the allowance."""

    start_bar: float
    horizontal_bar: float
    rise_bar: float
    bends_bar: float
    couplings_bar: float
    end_hoses_bar: float
    pressure_bar: float
    power_kw: float | None


def pump_pressure(
    horizontal_length_m: float,
    vertical_rise_m: float,
    bends_90_count: int = 0,
    bends_45_count: int = 0,
    couplings_count: int = 0,
    end_hoses_count: int = 1,
    allowance_percent: float = 10.0,
    placing_rate_m3_per_h: float | None = None,
) -> PumpPressure:
    """Pressure at the pump for a 125 mm line; a drop is not deducted (own rule). Sources: LINE_SOURCE, POWER_SOURCE.

    20 bar to start, 1 bar per 20 m along and per 4 m up, 1 a right-angle bend, 0.5 a lesser bend, 0.1 a coupling,
    2 an end hose, plus the allowance.
    """
    parts = (
        20.0,
        horizontal_length_m / 20,
        max(vertical_rise_m, 0.0) / 4,
        bends_90_count + 0.5 * bends_45_count,
        0.1 * couplings_count,
        2.0 * end_hoses_count,
    )
    pressure = math.fsum(parts) * (1 + allowance_percent / 100)
    power = None if placing_rate_m3_per_h is None else pressure * placing_rate_m3_per_h / 25
    return PumpPressure(*parts, pressure, power)
