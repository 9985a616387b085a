"""A sheet with a site mixer: plant, trucks and pump as the placing model knows them, written into the sheet's tree.

The stand-ins go through the same checks as what a person writes, so that the rest of the program knows no second kind
of supply. Their rules: `placing/site_mixer.py`.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from wetfront.errors import InvalidInput
from wetfront.intake.declared import table_of
from wetfront.intake.kinds import BAD, Mistakes
from wetfront.materials.site_batch import mixer_batches
from wetfront.nouns.site import WEEKDAYS, SiteMixer
from wetfront.placing.site_mixer import age_limit, mixer_supply

REPLACED = ("plant", "trucks", "pump")
NO_WAY_MIN = 0.01
"""The model has no way of no length; half a second is none."""
_EXAMPLE = SiteMixer(
    output_m3=0.2,
    cycle_min=6,
    people_count=2,
    carrier="barrow",
    carriers_count=2,
    carrier_m3=0.06,
    round_min=4,
    way_min=1,
)
"""Stands in where the site mixer itself is wrong, so that only its own mistakes are told."""


def with_site_mixer(tree: dict[str, Any], own: set[str], mistakes: Mistakes) -> dict[str, Any]:
    """The tree with stand-ins for plant, trucks and pump; as it is where it names no site mixer.

    `own`: keys of the sheet itself. Those of a site file give way to the site mixer, those of the sheet contradict it.
    """
    if "site_mixer" not in tree:
        return tree
    for key in (*REPLACED, "delivery_ban"):
        if key in own and key in tree:
            mistakes.add(
                (key,), f"{key} beside site_mixer", "one of the two: with a site mixer no plant, truck or pump comes"
            )
    checked = table_of(SiteMixer).check(tree["site_mixer"], ("site_mixer",), Mistakes())
    mixer: SiteMixer = _EXAMPLE if checked is BAD else checked
    _check(mixer, mistakes)
    batch_m3 = _batch_m3(mixer, tree, mistakes)
    supply = mixer_supply(mixer, batch_m3)
    number = len(str(mixer.mixers_count))
    names = [
        mixer.id if mixer.mixers_count == 1 else f"{mixer.id} {k + 1:0{number}}" for k in range(mixer.mixers_count)
    ]
    opens = _opens(tree)
    age = max(1.0, age_limit(mixer)[0] - mixer.way_min)
    found = {key: value for key, value in tree.items() if key != "delivery_ban"}
    found["plant"] = [_plant(name, supply.drum_min, opens) for name in names]
    found["trucks"] = {
        "capacity_m3": batch_m3,
        "count_promised": supply.batches_under_way,
        "count_in_fleet": supply.batches_under_way,
        "washout_min": 0.0,
        "position_and_check_min": 0.0,
        "waiting_places_on_site_count": 100,
        "discharge_places_count": min(4, supply.batches_under_way),
        "longest_batching_to_end_of_discharge_min": age,
        "vehicle": "open-body",
    }
    found["pump"] = [_carriers(mixer, supply.carrying_rate_m3_per_h)]
    found["prices"] = _prices(mixer, tree.get("prices"))
    steady = supply.batches_under_way
    found["choices"] = _with(tree.get("choices"), load_sizes_m3=[batch_m3], trucks_between=[steady, steady])
    found["allowance"] = _with(
        tree.get("allowance"), rounding_step_m3=batch_m3, smallest_load_m3=0.0, line_content_lost=False
    )
    found["pour"] = _pours(tree.get("pour"), mixer.id)
    return found


def _check(mixer: SiteMixer, mistakes: Mistakes) -> None:
    if mixer.emptying_min >= mixer.cycle_min - 2:
        allowed = f"at least 2 min less than cycle_min, {mixer.cycle_min:g}: a drum on site mixes for 2 min or longer"
        mistakes.add(("site_mixer", "emptying_min"), f"{mixer.emptying_min:g}", allowed)
    if mixer.way_min >= mixer.round_min:
        mistakes.add(("site_mixer", "way_min"), f"{mixer.way_min:g}", f"less than round_min, {mixer.round_min:g}")


def _batch_m3(mixer: SiteMixer, tree: Mapping[str, Any], mistakes: Mistakes) -> float:
    """Size of a batch: what whole bags make, by the richest mix that is poured."""
    if mixer.cement_bag_kg is None:
        return mixer.output_m3
    mixes, pours = tree.get("mix"), tree.get("pour")
    named = {pour.get("mix") for pour in pours if isinstance(pour, Mapping)} if isinstance(pours, list) else set()
    cements = {
        float(mix["cement_kg_per_m3"])
        for name, mix in (mixes.items() if isinstance(mixes, Mapping) else ())
        if name in named and isinstance(mix, Mapping) and isinstance(mix.get("cement_kg_per_m3"), int | float)
    }
    if len(cements) > 1:
        mistakes.add(
            ("site_mixer", "cement_bag_kg"), "mixes of different cement content", "one mix a sheet, in whole bags"
        )
    for cement in sorted(cements)[:1]:
        try:
            return mixer_batches(mixer.output_m3, mixer.output_m3, cement, mixer.cement_bag_kg).batch_volume_m3
        except (InvalidInput, ZeroDivisionError):
            most = f"at most {mixer.output_m3 * cement:.0f} kg, the cement of a full batch"
            mistakes.add(("site_mixer", "cement_bag_kg"), f"{mixer.cement_bag_kg:g}", most)
    return mixer.output_m3


def _opens(tree: Mapping[str, Any]) -> str:
    """When mixing may begin: the latest opening of the hours on the days of the pours."""
    hours, pours = tree.get("hours"), tree.get("pour")
    days = {
        WEEKDAYS[pour["date"].weekday()]
        for pour in (pours if isinstance(pours, list) else ())
        if isinstance(pour, Mapping) and isinstance(pour.get("date"), dt.date)
    }
    starts = [
        entry["start_local"]
        for entry in (hours if isinstance(hours, list) else ())
        if isinstance(entry, Mapping)
        and isinstance(entry.get("start_local"), str)
        and isinstance(entry.get("days"), list)
        if days & {day for day in entry["days"] if isinstance(day, str)}
    ]
    return max(starts, default="06:00")


def _plant(name: str, drum_min: float, opens: str) -> dict[str, Any]:
    return {
        "id": name,
        "role": "site mixer",
        "batching_min": drum_min,
        "travel_loaded_min": {"low": NO_WAY_MIN, "usual": NO_WAY_MIN, "high": NO_WAY_MIN},
        "return_min": NO_WAY_MIN,
        "output_m3_per_h": 1000.0,
        "opens_local": opens,
        "closes_local": "23:59",
    }


def _carriers(mixer: SiteMixer, rate_m3_per_h: float) -> dict[str, Any]:
    return {
        "id": mixer.id,
        "kind": mixer.carrier,
        "planned_output_m3_per_h": rate_m3_per_h,
        "line_and_hopper_content_m3": 0.0,
        "mean_pumping_min_between_stops": mixer.mean_running_min_between_stops,
        "stop_mean_min": mixer.stop_mean_min,
    }


def _prices(mixer: SiteMixer, prices: Any) -> Any:
    """The sheet's prices without plant, trucks and pump; the mixers stand where the pump stood."""
    if not isinstance(prices, Mapping):
        return prices
    found = {
        **prices,
        "part_load_cu_per_m3_short": 0.0,
        "waiting_cu_per_min": 0.0,
        "pump_cu_per_h": mixer.mixers_count * mixer.mixer_cu_per_h,
        "pump_least_h": 0.0,
        "truck_cu_per_truck": 0.0,
    }
    if mixer.materials_cu_per_m3 is not None:
        found["concrete_cu_per_m3"] = mixer.materials_cu_per_m3
    return found


def _with(table: Any, **values: Any) -> Any:
    """A table with some of its keys set; what is no table stays, to be told as a mistake."""
    if table is None:
        return values
    return {**table, **values} if isinstance(table, Mapping) else table


def _pours(pours: Any, mixer: str) -> Any:
    if not isinstance(pours, list):
        return pours
    return [{**pour, "pump": mixer} if isinstance(pour, Mapping) and "pump" not in pour else pour for pour in pours]
