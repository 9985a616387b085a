"""Small random pours for tests: any mixture of the model's extensions, on or off."""

from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from wetfront.placing.clock import clock_table
from wetfront.placing.model import (
    Acceptance,
    Cells,
    Concrete,
    FinishingWork,
    Joints,
    Lognormal,
    PlantSupply,
    PourModel,
    SiteWork,
    Supply,
    WeatherMembers,
)

EXTENSIONS = (
    "bans",
    "two plants",
    "opens late",
    "call-off steps",
    "measured balance",
    "breaks",
    "weather stops",
    "lead",
    "wastage",
    "rate is held",
    "age at expected end",
    "age from loading",
    "temperature limits",
    "consistence",
    "cooling on the way",
    "age counts",
    "load temperature counts",
    "edge limits",
    "moves",
    "several rates",
    "panels",
    "evaporation",
    "one place",
    "loads end at cells",
    "weather members",
    "called when due",
    "gang by hour",
    "crews by hour",
)

extensions = st.sets(st.sampled_from(EXTENSIONS), max_size=len(EXTENSIONS))
HORIZON_POINTS = 6 * 144
"""Six days of ten minutes."""


def swing(mean, amplitude):
    """A table over the days with its highest value at 15:00."""
    minutes = np.arange(HORIZON_POINTS + 1) * 10.0
    return mean + amplitude * np.sin(2 * np.pi * (minutes / 60 - 9) / 24)


def small_pour(seed: int, on: set[str]) -> PourModel:
    """A pour of 10 to 60 cells with random sizes and durations, and these extensions."""
    rng = np.random.default_rng(seed)
    nx, ny, layers = int(rng.integers(3, 7)), int(rng.integers(1, 4)), int(rng.integers(1, 4))
    cells, joints = _cells_and_joints(rng, nx, ny, layers, on)
    pour = PourModel(
        cells=cells,
        joints=joints,
        supply=Supply(
            plants=(_plant(rng, "near", int(rng.integers(1, 6))),),
            load_m3=float(rng.uniform(2.0, 8.0)),
            interval_min=float(rng.uniform(4.0, 18.0)),
            first_batching_min=float(rng.uniform(300.0, 500.0)),
        ),
        site=SiteWork(
            position_min=float(rng.uniform(0.5, 5.0)),
            wash_min=float(rng.uniform(1.0, 6.0)),
            speed=Lognormal(float(rng.uniform(0.8, 1.2)), 0.25),
            pumping_min_between_stops=float(rng.uniform(10.0, 60.0)),
            repair_min=Lognormal(10.0, 0.6),
            waiting_free_min=float(rng.uniform(0.0, 30.0)),
            rise_window_min=float(rng.uniform(5.0, 30.0)),
        ),
        acceptance=Acceptance(longest_age_min=float(rng.uniform(45.0, 90.0))),
        concrete=Concrete(
            clock_min=clock_table(swing(20.0, 6.0), 10.0, 4000.0),
            set_limit_min=float(rng.uniform(30.0, 120.0)),
            set_factor_sd=0.1,
        ),
        finishing=FinishingWork(
            strip_min=rng.uniform(5.0, 30.0, nx),
            strip_cv=0.3,
            ready_clock_min=float(rng.uniform(60.0, 150.0)),
            latest_clock_min=float(rng.uniform(150.0, 250.0)),
            crews_count=int(rng.integers(1, 3)),
        ),
        panel_names=("form a", "form b") if "panels" in on else (),
    )
    pour = _with_concrete(rng, _with_site(rng, _with_supply(rng, pour, on), on), on)
    return replace(pour, members=_members(rng, pour)) if "weather members" in on else pour


def _members(rng, pour: PourModel, count: int = 3) -> WeatherMembers:
    """So many weathers, warmer and colder than the pour's own; some days swing more than others."""
    air = np.array([swing(rng.uniform(4.0, 28.0), rng.uniform(0.0, 9.0)) for _ in range(count)])
    concrete, finishing = pour.concrete, pour.finishing
    rates = finishing.evaporation_kg_per_m2_h
    return WeatherMembers(
        clock_min=np.array([clock_table((row + 20.0) / 2, 10.0, 4000.0) for row in air]),
        air_temperature_c=air if len(concrete.air_temperature_c) else np.zeros((count, 0)),
        set_factor_sd=rng.uniform(0.0, 0.3, count),
        activation_temperature_k=rng.uniform(3500.0, 4500.0, count),
        ready_clock_min=finishing.ready_clock_min * rng.uniform(0.8, 1.2, count),
        latest_clock_min=finishing.latest_clock_min * rng.uniform(0.8, 1.2, count),
        evaporation_kg_per_m2_h=rates * rng.uniform(0.5, 2.0, (count, 1)) if len(rates) else np.zeros((0, 0)),
    )


def _plant(rng, name: str, trucks: int) -> PlantSupply:
    return PlantSupply(
        name=name,
        trucks_count=trucks,
        batching_min=Lognormal(float(rng.uniform(3.0, 8.0)), 0.2),
        haul_min=Lognormal(float(rng.uniform(10.0, 30.0)), 0.4),
        return_min=Lognormal(float(rng.uniform(10.0, 25.0)), 0.2),
    )


def _cells_and_joints(rng, nx, ny, layers, on) -> tuple[Cells, Joints]:
    x, y, layer = (grid.ravel() for grid in np.indices((nx, ny, layers)))
    order = np.lexsort((y, x, layer, x + int(rng.integers(0, 3)) * layer))
    x, y, layer = x[order], y[order], layer[order]
    count = len(x)
    position = np.empty((nx, ny, layers), dtype=np.int64)
    position[x, y, layer] = np.arange(count)
    pairs = [
        (position[1:], position[:-1]),
        (position[:, 1:], position[:, :-1]),
        (position[:, :, 1:], position[:, :, :-1]),
    ]
    one = np.concatenate([a.ravel() for a, _ in pairs])
    other = np.concatenate([b.ravel() for _, b in pairs])
    panel = np.where(x < 2, 0, 1) if "panels" in on else np.full(count, -1)
    several = "several rates" in on
    aligned = "loads end at cells" in on
    cells = Cells(
        volume_m3=np.full(count, 0.4) if aligned else rng.uniform(0.2, 2.0, count),
        rate_m3_per_h=np.where(x < nx // 2, 30.0, 18.0) if several else np.full(count, 30.0),
        strip=np.where(layer == layers - 1, x, -1),
        move_min=np.where(rng.uniform(size=count) < 0.15, 3.3, 0.0) if "moves" in on else np.zeros(count),
        panel=panel,
        rise_m=rng.uniform(0.05, 0.3, count),
        lattice_cell=np.arange(count),
    )
    joints = Joints(
        first=np.minimum(one, other),
        later=np.maximum(one, other),
        area_m2=rng.uniform(0.1, 1.0, len(one)),
        edge=np.repeat(np.arange(3), [a.size for a, _ in pairs]),
        edge_names=("along", "across", "layer on layer"),
    )
    return cells, joints


def _with_supply(rng, pour: PourModel, on) -> PourModel:
    supply = pour.supply
    begin = supply.first_batching_min
    if "bans" in on:
        bans = ((0.0, begin + 31.7), (begin + 60.3, begin + 88.1), (begin + 130.9, begin + 141.3))
        supply = replace(supply, bans=bans)
    if "two plants" in on:
        plants = (*supply.plants, _plant(rng, "far", int(rng.integers(1, 4))))
        supply = replace(supply, plants=plants, plant_of_load=(0, 0, 1))
    if "opens late" in on:
        last = replace(supply.plants[-1], opens_min=begin + 40.7, closes_min=begin + 100.0)
        supply = replace(supply, plants=(*supply.plants[:-1], last))
    if "call-off steps" in on:
        supply = replace(supply, call_off_step_m3=0.5, smallest_load_m3=1.0)
    if "measured balance" in on:
        supply = replace(supply, balance_after_measuring=True)
    if "loads end at cells" in on:
        supply = replace(supply, load_m3=2.0)
    if "called when due" in on:
        due = begin + np.cumsum(rng.choice([0.0, 3.7, 11.9, 26.3], 7))
        supply = replace(supply, due_min=tuple(due.tolist()))
    return replace(pour, supply=supply)


def _with_site(rng, pour: PourModel, on) -> PourModel:
    site, acceptance, begin = pour.site, pour.acceptance, pour.supply.first_batching_min
    if "breaks" in on:
        site = replace(site, breaks=((begin + 55.1, 15.0), (begin + 98.3, 20.0), (begin + 110.0, 5.0)))
    if "weather stops" in on:
        site = replace(site, weather_stops=((begin + 47.9, begin + 66.6), (begin + 95.2, begin + 119.4)))
    if "lead" in on:
        site = replace(site, priming_m3=0.37, line_content_m3=0.91)
    if "wastage" in on:
        site = replace(site, wastage=0.04, wastage_sd=0.03)
    if "rate is held" in on:
        site = replace(site, rate_is_held=True)
    if "gang by hour" in on:
        hours = ((begin + 35.0, 14.0), (begin + 75.5, np.inf), (begin + 105.0, 24.0))
        site = replace(site, gang_hours=hours[int(rng.integers(0, 2)) :])
    if "one place" in on:
        site = replace(site, discharge_places_count=1)
    if "age at expected end" in on:
        acceptance = replace(acceptance, age_judged_at="expected-end", longest_age_min=acceptance.longest_age_min + 20)
    if "age from loading" in on:
        acceptance = replace(acceptance, age_counted_from="loading")
    if "temperature limits" in on:
        acceptance = replace(acceptance, lowest_c=15.0, highest_c=26.0)
    if "consistence" in on:
        acceptance = replace(acceptance, consistence_refusal_probability=0.25)
    return replace(pour, site=site, acceptance=acceptance)


def _with_concrete(rng, pour: PourModel, on) -> PourModel:
    concrete = replace(pour.concrete, plant_temperature_c=21.0)
    if "temperature limits" in on:
        concrete = replace(concrete, plant_temperature_sd_c=2.5)
    if "cooling on the way" in on:
        concrete = replace(concrete, change_per_h=0.25, air_temperature_c=swing(12.0, 8.0), plant_temperature_sd_c=1.0)
    if on & {"age counts", "load temperature counts"}:
        concrete = replace(
            concrete,
            activation_temperature_k=4000.0,
            counts_age="age counts" in on,
            counts_load_temperature="load temperature counts" in on,
        )
    if "edge limits" in on:
        concrete = replace(concrete, edge_limits=((19.0, 40.0), (21.0, 30.0), (30.0, 20.0)))
    pour = replace(pour, concrete=concrete)
    if "evaporation" in on:
        finishing = replace(
            pour.finishing,
            strip_area_m2=np.full(len(pour.finishing.strip_min), 4.0),
            evaporation_kg_per_m2_h=swing(0.5, 0.3) + rng.uniform(0.0, 0.2, HORIZON_POINTS + 1),
            evaporation_action_kg_per_m2_h=0.9,
        )
        pour = replace(pour, finishing=finishing)
    if "crews by hour" in on:
        begin, counts = pour.supply.first_batching_min, rng.integers(1, 5, 3).tolist()
        hours = tuple(zip((begin + 150.0, begin + 190.5, begin + 233.0), counts, strict=True))
        pour = replace(pour, finishing=replace(pour.finishing, crew_hours=hours))
    return pour
