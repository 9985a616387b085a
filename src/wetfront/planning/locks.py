"""Locked decisions that cannot hold together: told by their two keys before anything is simulated.

Only what cannot be at the shortest travel times and the fastest placing is told here; what is merely risky is left to
the simulation.
"""

from collections.abc import Iterator

from wetfront.nouns.site import Plant
from wetfront.planning.candidates import load_sizes
from wetfront.planning.situation import Situation

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
    found = (*_rates(situation), *_start_window(situation), *_spacing(situation), *_hours(situation))
    if situation.sheet.site_mixer is None:
        return found
    steady = f"choices.trucks_between = {situation.sheet.trucks.count_in_fleet} to "
    steady += str(situation.sheet.trucks.count_in_fleet)
    return tuple(text.replace(steady, "site_mixer.cycle_min") for text in found)


def _rates(situation: Situation) -> Iterator[str]:
    """Fixed placing rates, all over what the site can place. A form that permits no rise at all is told elsewhere."""
    rates = situation.sheet.choices.placing_rates_m3_per_h
    caps = [situation.highest_rate(option) for option in situation.mix_options]
    highest, who = max(caps, key=lambda cap: cap[0])
    if not rates or highest <= 0 or min(rates) <= highest + 1e-9:
        return
    key = next(key for begin, key in _KEYS_OF_CAPS.items() if who.startswith(begin))
    yield (
        f"choices.placing_rates_m3_per_h = {', '.join(f'{rate:g}' for rate in rates)} contradicts {key}: {who} allows "
        f"{highest:.3g} m³/h"
    )


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
    fastest = max(situation.highest_rate(option)[0] for option in situation.mix_options)
    if fastest <= 0:
        return 0.0
    return (min(_turn_min(situation, plant) for plant in situation.main_plants) + load_m3 / fastest * 60) / most


def _turn_min(situation: Situation, plant: Plant) -> float:
    trucks = situation.sheet.trucks
    on_site = trucks.position_and_check_min + trucks.washout_min
    return (
        plant.batching_min + plant.travel_loaded_min.low + on_site + min(plant.return_min, plant.travel_loaded_min.low)
    )
