"""Locked decisions that cannot hold together: told by their two keys before anything is simulated.

Only what cannot be at the shortest travel times and the fastest placing is told here; what is merely risky is left to
the simulation.
"""

from collections.abc import Iterator

from wetfront.nouns.site import Plant
from wetfront.planning.candidates import load_sizes
from wetfront.planning.means import fastest
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import CHANGE_PER_H

WARM_SPREADS = 3.0
"""Standard deviations above the mean that a load may come warmer at most, for telling what cannot be."""
_LEAST_MIN = 1.0
"""A contradiction is at least a minute wide: less may be rounding."""
_KEYS_OF_CAPS = {
    "pump": "pump.planned_output_m3_per_h",
    "carrying": "site_mixer.round_min",
    "placing gang": "crew.placing_capacity_m3_per_h",
    "vibrators": "vibrator.rate_m3_per_h",
    "rise": "formwork.permitted_pressure_kn_per_m2",
}


def contradictions(situation: Situation) -> tuple[str, ...]:
    """Each pair of keys of the sheet that cannot both hold, with their values; empty where a plan may be looked for."""
    found = (
        *_rates(situation),
        *_means(situation),
        *_start_window(situation),
        *_spacing(situation),
        *_hours(situation),
    )
    if situation.sheet.site_mixer is None:
        return found
    steady = f"choices.trucks_between = {situation.sheet.trucks.count_in_fleet} to "
    steady += str(situation.sheet.trucks.count_in_fleet)
    return tuple(text.replace(steady, "site_mixer.cycle_min") for text in found)


def _rates(situation: Situation) -> Iterator[str]:
    """Fixed placing rates, all over what the site can place. A form that permits no rise at all is told elsewhere."""
    rates = situation.sheet.choices.placing_rates_m3_per_h
    highest, who = fastest(situation)
    if not rates or highest <= 0 or min(rates) <= highest + 1e-9:
        return
    key = next(key for begin, key in _KEYS_OF_CAPS.items() if who.startswith(begin))
    opened = situation.sheet.choices
    if key.startswith("pump") and opened.pumps_between is not None:
        key = f"choices.pumps_between = {opened.pumps_between[0]} to {opened.pumps_between[1]}"
    if key.startswith("vibrator") and opened.vibrators_between is not None:
        key = f"choices.vibrators_between = {opened.vibrators_between[0]} to {opened.vibrators_between[1]}"
    if key.startswith("crew") and opened.gang:
        key = "choices.gang.hours.placing_capacity_m3_per_h"
    yield (
        f"choices.placing_rates_m3_per_h = {', '.join(f'{rate:g}' for rate in rates)} contradicts {key}: {who} allows "
        f"{highest:.3g} m³/h"
    )


def _means(situation: Situation) -> Iterator[str]:
    """Opened pumps, vibrators or cooler concrete that another key of the sheet rules out."""
    choices, sheet = situation.sheet.choices, situation.sheet
    places = sheet.trucks.discharge_places_count
    if choices.pumps_between is not None and choices.pumps_between[0] > places:
        low, high = choices.pumps_between
        yield (
            f"choices.pumps_between = {low} to {high} contradicts trucks.discharge_places_count = {places}: each pump "
            "needs a truck beside it"
        )
    own = situation.pour.vibrators_count
    if choices.vibrators_between is not None and own is not None:
        low, high = choices.vibrators_between
        if not low <= own <= high:
            yield (
                f"choices.vibrators_between = {low} to {high} contradicts pour.vibrators_count = {own}: open the one "
                "or fix the other"
            )
    asked = sheet.specification.concrete_temperature_at_placing_c
    if choices.cooler_by_c and asked is not None:
        warmest_c = max(_warmest_c(situation, option) for option in situation.mix_options)
        if warmest_c < asked.min:
            yield (
                f"choices.cooler_by_c = {', '.join(f'{degrees:g}' for degrees in choices.cooler_by_c)} contradicts "
                f"specification.concrete_temperature_at_placing_c.min = {asked.min:g}: such concrete comes at "
                f"{warmest_c:.1f} °C at most"
            )


def _warmest_c(situation: Situation, option: str) -> float:
    """Warmest concrete at the pump with the least cooling: a warm load, the slowest permitted trip, the warmest air."""
    plant_c = situation.plant_temperature_c(option, min(situation.sheet.choices.cooler_by_c))
    warm_c = plant_c + WARM_SPREADS * situation.mix.temperature_spread_c
    share = CHANGE_PER_H[situation.sheet.trucks.vehicle]
    share *= situation.sheet.trucks.longest_batching_to_end_of_discharge_min / 60
    air_c = float(situation.weather.air_c.max())
    return max(warm_c, (warm_c + share * air_c) / (1 + share))


def _start_window(situation: Situation) -> Iterator[str]:
    """A window for the first concrete in which no concrete can come or be placed."""
    window, day = situation.sheet.choices.start_between_local, situation.day
    if window is None:
        return
    first, last = day.in_hours(window[0]), day.in_hours(window[1])
    named = f"choices.start_between_local = {day.clock(first)} to {day.clock(last)}"
    place = situation.sheet.trucks.position_and_check_min
    opens = day.opens_min + place
    plant = situation.main_plants[0]
    lead = day.wall(plant.opens_local) + situation.lead_min
    loud = situation.quiet_until(max(opens, lead))
    for earliest, key, why in (
        (opens, "hours.start_local", f"trucks come in from {day.clock(day.opens_min)} and take {place:g} min to place"),
        (lead, "plant.opens_local", f"{plant.id} loads from {day.clock(day.wall(plant.opens_local))}"),
        (loud, "noise_limit", "placing is too loud before"),
    ):
        if last < earliest - _LEAST_MIN:
            yield f"{named} contradicts {key}: no concrete before {day.clock(earliest)}, since {why}"
            return
    for reason, start, end in day.ban_reasons:
        if start <= first - place and last - place < end - _LEAST_MIN:
            yield (
                f"{named} contradicts delivery_ban: no truck arrives from {day.clock(start)} to {day.clock(end)} "
                f"({reason}), so no first concrete before {day.clock(end + place)}"
            )
            return


def _spacing(situation: Situation) -> Iterator[str]:
    """A longest interval that is shorter than the trucks can keep up."""
    interval = situation.sheet.choices.interval_between_min
    if interval is None:
        return
    best = min(_truck_spacing_min(situation, load) for load in load_sizes(situation))
    if best > interval[1] + _LEAST_MIN:
        key, most = _most_trucks(situation)
        yield (
            f"choices.interval_between_min = {interval[0]:g} to {interval[1]:g} contradicts {key} = {most}: at the "
            f"shortest travel time {most} truck{'' if most == 1 else 's'} bring a load every {best:.0f} min at best"
        )


def _hours(situation: Situation) -> Iterator[str]:
    """Locked spacing or trucks with which the last load would come after the hours, where that is not accepted."""
    choices, day = situation.sheet.choices, situation.day
    if situation.sheet.risk_limits.placing_out_of_hours >= 1.0:
        return
    left = day.closes_min - situation.start_between_min[0]
    needed: dict[str, list[tuple[float, float]]] = {}
    for load in load_sizes(situation):
        count = situation.loads_count(load)
        if choices.interval_between_min is not None:
            least, most = choices.interval_between_min
            named = f"choices.interval_between_min = {least:g} to {most:g}"
            needed.setdefault(named, []).append(((count - 1) * least, load))
        if choices.trucks_between is not None:
            fewest, many = choices.trucks_between
            rounds = (count - 1) // many
            turn = _truck_spacing_min(situation, load) * many
            needed.setdefault(f"choices.trucks_between = {fewest} to {many}", []).append((rounds * turn, load))
    for named, times in needed.items():
        shortest, load = min(times)
        if shortest > left + _LEAST_MIN:
            yield (
                f"{named} contradicts hours.end_local: {situation.loads_count(load)} loads of {load:g} m³ take "
                f"{shortest / 60:.1f} h from the first to the last, and {left / 60:.1f} h are left until "
                f"{day.clock(day.closes_min)}"
            )


def _most_trucks(situation: Situation) -> tuple[str, int]:
    """The key that bounds the trucks, and the bound."""
    chosen, fleet = situation.sheet.choices.trucks_between, situation.sheet.trucks.count_in_fleet
    return ("trucks.count_in_fleet", fleet) if chosen is None else ("choices.trucks_between", min(chosen[1], fleet))


def _truck_spacing_min(situation: Situation, load_m3: float) -> float:
    """Shortest spacing of loads that the most trucks can keep up; 0 where none of them has to come again."""
    most = _most_trucks(situation)[1]
    if situation.loads_count(load_m3) <= most:
        return 0.0
    highest, _ = fastest(situation)
    if highest <= 0:
        return 0.0
    return (min(_turn_min(situation, plant) for plant in situation.main_plants) + load_m3 / highest * 60) / most


def _turn_min(situation: Situation, plant: Plant) -> float:
    trucks = situation.sheet.trucks
    on_site = trucks.position_and_check_min + trucks.washout_min
    return (
        plant.batching_min + plant.travel_loaded_min.low + on_site + min(plant.return_min, plant.travel_loaded_min.low)
    )
