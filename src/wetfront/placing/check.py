"""A model that contradicts itself is refused, by the key that is wrong, before anything is simulated."""

from collections.abc import Sequence
from itertools import pairwise
from math import isfinite

import numpy as np

from wetfront.errors import InvalidInput
from wetfront.placing.chance import Chance
from wetfront.placing.draws import Draws
from wetfront.placing.model import Lognormal, PlantSupply, PourModel, Supply
from wetfront.placing.seeded import SeededDraws


def check_model(model: PourModel, draws: Draws | Chance) -> None:
    """Raise `InvalidInput` for the first thing found wrong."""
    check_shared_parts(model)
    check_members(model)
    check_plants(model.supply.plants)
    check_call_off(model.supply)
    check_draws(model, draws)


def check_shared_parts(model: PourModel) -> None:
    """All but the supply, which is what candidates of a search differ in."""
    _check_cells(model)
    _check_joints(model)
    _check_site(model)
    _check_concrete(model)
    _require(0 <= model.day_share <= 1, "day_share", f"is {model.day_share:g}; must lie from 0 to 1")
    inside = bool(((model.watched >= 0) & (model.watched < len(model.cells.volume_m3))).all())
    _require(inside, "watched", "is no cell")
    if model.seen is not None:
        model.seen.check(model.cells.volume_m3)


def check_draws(model: PourModel, draws: Draws | SeededDraws | Chance) -> None:
    """Draws with enough columns for strips and for the loads that have been seen."""
    strips = len(model.finishing.strip_min)
    _require(draws.strips_count >= strips, "draws", f"has no column for each of {strips} strips")
    seen = 0 if model.seen is None else model.seen.loads_count
    _require(draws.loads_count >= seen, "draws", f"has no column for each of {seen} loads that were seen")


def _require(holds: bool, key: str, message: str) -> None:
    if not holds:
        raise InvalidInput(key, f"{key}: {message}")


def _positive(law: Lognormal, key: str) -> None:
    _require(isfinite(law.mean) and law.mean > 0, key, f"mean is {law.mean:g}; must be over 0")
    _require(isfinite(law.cv) and law.cv >= 0, key, f"coefficient of variation is {law.cv:g}; must not be negative")


def _check_cells(model: PourModel) -> None:
    cells = model.cells
    count = len(cells.volume_m3)
    _require(count > 0, "cells", "there are none")
    for name in ("volume_m3", "rate_m3_per_h", "strip", "move_min", "panel", "rise_m", "lattice_cell"):
        column = getattr(cells, name)
        _require(column.shape == (count,), name, f"must have one value for each of {count} cells")
        _require(bool(np.isfinite(column).all()), name, "must be finite")
    _require(bool((cells.volume_m3 > 0).all()), "volume_m3", "must be over 0")
    _require(bool((cells.rate_m3_per_h > 0).all()), "rate_m3_per_h", "must be over 0")
    _require(bool((cells.move_min >= 0).all()), "move_min", "must not be negative")
    for name, used, allowed in (
        ("strip", cells.strip, len(model.finishing.strip_min)),
        ("panel", cells.panel, len(model.panel_names)),
    ):
        _require(bool((used >= -1).all() and (used < allowed).all()), name, f"must lie from -1 to {allowed - 1}")
        missing = np.flatnonzero(np.bincount(used[used >= 0], minlength=allowed) == 0).tolist()
        _require(not missing, name, f"{missing[:1]} has no cell")


def _check_joints(model: PourModel) -> None:
    joints, count = model.joints, len(model.cells.volume_m3)
    shapes = {column.shape for column in (joints.first, joints.later, joints.area_m2, joints.edge)}
    _require(len(shapes) == 1, "joints", "columns must be equally long")
    if len(joints.first):
        _require(
            bool((joints.first >= 0).all() and (joints.first < joints.later).all()), "joints", "first before later"
        )
        _require(bool((joints.later < count).all()), "joints", f"positions must be below {count}")
        _require(bool((joints.edge >= 0).all()), "edge", "must not be negative")
        _require(bool((joints.edge < len(joints.edge_names)).all()), "edge", "has no name")


def check_plants(plants: Sequence[PlantSupply]) -> None:
    """At least one, with trucks and laws that hold."""
    _require(len(plants) > 0, "plants", "there are none")
    for plant in plants:
        _require(plant.trucks_count > 0, "trucks_count", f"{plant.name} has none")
        _positive(plant.batching_min, "batching_min")
        _positive(plant.haul_min, "haul_min")
        _positive(plant.return_min, "return_min")


def check_call_off(supply: Supply) -> None:
    """Loads, their times and bans; the plants are checked."""
    known = all(0 <= number < len(supply.plants) for number in supply.plant_of_load)
    _require(len(supply.plant_of_load) > 0 and known, "plant_of_load", "names a plant that is not there")
    _require(isfinite(supply.load_m3) and supply.load_m3 > 0, "load_m3", "must be over 0")
    _require(isfinite(supply.interval_min) and supply.interval_min >= 0, "interval_min", "must not be negative")
    _require(isfinite(supply.first_batching_min), "first_batching_min", "must be finite")
    step = supply.call_off_step_m3
    _require(step is None or step > 0, "call_off_step_m3", "must be over 0")
    _require(0 <= supply.smallest_load_m3 <= supply.load_m3, "smallest_load_m3", "must lie from 0 to the load")
    _check_apart("bans", list(supply.bans))
    due = list(supply.due_min)
    _require(all(isfinite(time) for time in due) and due == sorted(due), "due_min", "must be finite and rising")


def _check_apart(key: str, intervals: list[tuple[float, float]]) -> None:
    for begin, end in intervals:
        _require(begin < end, key, f"from {begin:g} to {end:g} is no time")
    for (_, end), (begin, _) in pairwise(intervals):
        _require(end <= begin, key, "must be rising and apart")


def _check_site(model: PourModel) -> None:
    site, acceptance = model.site, model.acceptance
    _require(site.discharge_places_count > 0, "discharge_places_count", "must be over 0")
    _positive(site.speed, "speed")
    _positive(site.repair_min, "repair_min")
    _require(site.pumping_min_between_stops > 0, "pumping_min_between_stops", "must be over 0")
    for name in ("position_min", "wash_min", "priming_m3", "line_content_m3", "wastage", "wastage_sd"):
        value = getattr(site, name)
        _require(isfinite(value) and value >= 0, name, f"is {value:g}; must not be negative")
    _require(site.rise_window_min > 0, "rise_window_min", "must be over 0")
    planned = [begin for begin, _ in site.breaks]
    _require(planned == sorted(planned), "breaks", "must be rising")
    _require(all(duration > 0 for _, duration in site.breaks), "breaks", "must last over 0 min")
    _check_apart("weather_stops", list(site.weather_stops))
    begins = [begin for begin, _ in site.gang_hours]
    _require(begins == sorted(set(begins)), "gang_hours", "must be rising")
    _require(all(rate > 0 for _, rate in site.gang_hours), "gang_hours", "rates must be over 0")
    _require(acceptance.longest_age_min > 0, "longest_age_min", "must be over 0")
    _require(acceptance.lowest_c < acceptance.highest_c, "lowest_c", "must be below highest_c")
    # With every load refused the pour would never end.
    probability = acceptance.consistence_refusal_probability
    _require(0 <= probability < 1, "consistence_refusal_probability", f"is {probability:g}; must lie from 0 to below 1")


def _check_concrete(model: PourModel) -> None:
    concrete, finishing = model.concrete, model.finishing
    _require(concrete.clock_step_min > 0, "clock_step_min", "must be over 0")
    rising = len(concrete.clock_min) > 1 and bool((np.diff(concrete.clock_min) > 0).all())
    _require(rising and bool(np.isfinite(concrete.clock_min).all()), "clock_min", "must rise from point to point")
    _require(concrete.set_limit_min > 0, "set_limit_min", "must be over 0")
    for name in ("set_factor_sd", "plant_temperature_sd_c", "change_per_h"):
        _require(getattr(concrete, name) >= 0, name, "must not be negative")
    has_air = len(concrete.air_temperature_c) > 1 or concrete.change_per_h == 0
    _require(has_air, "air_temperature_c", "is needed for a change of temperature on the way")
    by_own = concrete.counts_age or concrete.counts_load_temperature
    _require(not by_own or concrete.activation_temperature_k > 0, "activation_temperature_k", "is needed")
    steps = [up_to for up_to, _ in concrete.edge_limits]
    _require(steps == sorted(steps), "edge_limits", "must rise by temperature")
    _require(finishing.crews_count > 0, "crews_count", "must be over 0")
    begins = [begin for begin, _ in finishing.crew_hours]
    _require(begins == sorted(set(begins)), "crew_hours", "must be rising")
    _require(all(count > 0 for _, count in finishing.crew_hours), "crew_hours", "at least one crew is there")
    no_air = len(finishing.evaporation_kg_per_m2_h) == 0
    _require(no_air or len(finishing.strip_area_m2) == len(finishing.strip_min), "strip_area_m2", "one a strip")
    _require(bool((finishing.strip_min > 0).all()), "strip_min", "must be over 0")


def check_members(model: PourModel) -> None:
    """Rows for at least one member, if there are any, each sound as the model's own figures are."""
    members = model.members
    if members is None:
        return
    count = members.count
    _require(count > 0, "members", "there are none")
    for name, columns in (
        ("clock_min", len(model.concrete.clock_min)),
        ("air_temperature_c", len(model.concrete.air_temperature_c)),
        ("evaporation_kg_per_m2_h", len(model.finishing.evaporation_kg_per_m2_h)),
    ):
        shape = getattr(members, name).shape
        _require(
            shape == (count, columns) or columns == 0, name, f"members have {shape}, not {count} rows of {columns}"
        )
    rising = bool((np.diff(members.clock_min, axis=1) > 0).all())
    _require(rising and bool(np.isfinite(members.clock_min).all()), "clock_min", "must rise from point to point")
    for name in ("set_factor_sd", "activation_temperature_k", "ready_clock_min", "latest_clock_min"):
        column = getattr(members, name)
        _require(column.shape == (count,), name, f"must have one value for each of {count} members")
        _require(not bool(np.isnan(column).any()), name, "must be a number in every member")
    _require(bool((members.set_factor_sd >= 0).all()), "set_factor_sd", "must not be negative")
    by_own = model.concrete.counts_age or model.concrete.counts_load_temperature
    known = not by_own or bool((members.activation_temperature_k > 0).all())
    _require(known, "activation_temperature_k", "is needed")
