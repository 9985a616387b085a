"""Seeded random pours: slabs in bays, rafts in layers, walls between forms, from 20 to 3,000 m³, all invented.

Each pour is written as the tree of a sheet and the text of a weather file, and goes through the intake's own checks:
what cannot be read from a file is not a pour. A pour depends on the seed and its number alone.
"""

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetfront.errors import Problem, SheetError
from wetfront.intake.cross_checks import cross_check
from wetfront.intake.kinds import Mistakes, path_text
from wetfront.intake.parts import checked_parts
from wetfront.intake.weather_csv import weather_series
from wetfront.nouns.sheet import PourSheet
from wetfront.planning.day import day_of, weather_of
from wetfront.planning.situation import Situation, situation_of

SEED = 4
COUNT = 100
LEAST_M3, MOST_M3 = 20.0, 3000.0
LONG_POUR_H = 5.5
"""A pour that takes longer gets permission for the night, as it would on a site."""
WEEKDAYS = ["mon", "tue", "wed", "thu", "fri"]
HOURS_OF_WEATHER = 96
FINISHES = {"slab": ["power-trowelled", "hand-floated"], "raft": ["hand-floated", "tamped"], "wall": ["none"]}
Tree = dict[str, Any]


@dataclass(frozen=True)
class GeneratedPour:
    """One pour: what was drawn, and what the planner gets."""

    number: int
    kind: str
    """Slab, raft or wall."""
    tree: Tree
    forecast_csv: str
    situation: Situation

    @property
    def net_m3(self) -> float:
        """By drawing."""
        return self.situation.net_m3


def generated_pour(number: int, seed: int = SEED, count: int = COUNT) -> GeneratedPour:
    """Pour `number` of `count`; sizes are spread evenly over the logarithm. Drawn again where no rate may place it."""
    place = int(np.random.default_rng(seed).permutation(count)[number])
    for attempt in range(100):
        rng = np.random.default_rng([seed, number, attempt])
        share = (place + rng.uniform()) / count
        kind, tree = _tree(rng, LEAST_M3 * (MOST_M3 / LEAST_M3) ** share)
        csv = _forecast(rng, tree["pour"][0]["date"])
        situation = situation_from(tree, csv)
        if situation.highest_rate()[0] > 0 and situation.start_between_min[1] > situation.start_between_min[0]:
            return GeneratedPour(number, kind, tree, csv, situation)
    raise AssertionError(f"pour {number}: a hundred draws and no form that permits a rise")


def situation_from(tree: Tree, forecast_csv: str) -> Situation:
    """The tree and the weather through intake, as far as a file on disk would come. SheetError tells the mistakes."""
    mistakes = Mistakes()
    parts = checked_parts(tree, mistakes)
    cross_check(parts, mistakes)
    if mistakes.noted:
        raise SheetError(
            [Problem("generated", path_text(each.path), each.found, each.allowed, None) for each in mistakes.noted]
        )
    sheet = PourSheet(**parts.values)
    pour = sheet.pour[0]
    day = day_of(sheet, pour.date)
    weather = weather_of(weather_series(forecast_csv, "generated.csv"), day, day.trowelling_until_min)
    assert weather is not None, "the generated series is too short"
    return situation_of(sheet, pour, day, weather)


def _tree(rng: np.random.Generator, volume_m3: float) -> tuple[str, Tree]:
    kind = _kind(rng, volume_m3)
    elements, area_m2 = {"slab": _slab, "raft": _raft, "wall": _wall}[kind](rng, volume_m3)
    hours = rng.uniform(2.0, 7.0) if volume_m3 < 400 else rng.uniform(6.0, 12.0)
    # Over a wall any pump could do more than the forms permit.
    pump_m3_per_h = float(np.clip(round(volume_m3 / hours), 30 if kind == "wall" else 22, 220))
    is_long = volume_m3 / pump_m3_per_h > LONG_POUR_H
    date = dt.date(2027, 1, 4) + dt.timedelta(days=7 * int(rng.integers(52)) + int(rng.integers(5)))
    pour: Tree = {"id": "pour", "title": f"generated {kind}", "date": date, "mix": "M", "pump": "pump"}
    pour["elements"] = [element["id"] for element in elements]
    if kind != "wall":
        pour["planned_rate_m3_per_h"] = float(round(pump_m3_per_h * rng.uniform(0.85, 1.0)))
    plant = _plant(rng, pump_m3_per_h, is_long)
    tree: Tree = {
        "schema": 1,
        "project": {"name": "generated", "time_zone": "UTC+01:00", "latitude_deg": 50.0, "invented": True},
        "hours": [_hours(rng, is_long)],
        "plant": [plant],
        "trucks": _trucks(rng, plant, pump_m3_per_h),
        "pump": [_pump(rng, pump_m3_per_h, elements)],
        "crew": _crew(rng, pump_m3_per_h, area_m2, kind),
        "prices": _prices(rng),
        "mix": {"M": _mix(rng, date)},
        "element": elements,
        "pour": [pour],
        "specification": _specification(rng, kind),
        "allowance": {"wastage_percent": _round(rng.uniform(1, 5), 0.5), "wastage_spread_percent": 0.8},
        **_limits_of_the_street(rng),
    }
    if kind == "wall":
        tree["formwork"] = _formwork(rng, elements)
    return kind, tree


def _round(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def _kind(rng: np.random.Generator, volume_m3: float) -> str:
    if volume_m3 < 150:
        return str(rng.choice(["slab", "raft", "wall"], p=[0.45, 0.2, 0.35]))
    return str(rng.choice(["slab", "raft"], p=[0.55, 0.45])) if volume_m3 < 900 else "raft"


def _plan(rng: np.random.Generator, area_m2: float) -> tuple[float, float]:
    """Length and width of a rectangle, up to three times as long as wide."""
    width = math.sqrt(area_m2 / rng.uniform(1.0, 3.0))
    return _round(area_m2 / width, 0.1), _round(width, 0.1)


def _slab(rng: np.random.Generator, volume_m3: float) -> tuple[list[Tree], float]:
    thickness_mm = _round(rng.uniform(180, 420), 10)
    area_m2 = volume_m3 / thickness_mm * 1000
    bays = 1 if area_m2 < 150 else int(rng.integers(1, 4))
    length, width = _plan(rng, area_m2)
    support = {"shape": "slab", "support": "falsework"} if rng.uniform() < 0.5 else {"shape": "ground-slab"}
    bay = _round(length / bays, 0.1)
    elements = [
        {
            "id": f"bay {number + 1}",
            **support,
            "at_m": [_round(number * bay, 0.1), 0.0],
            "length_m": bay,
            "width_m": width,
            "thickness_mm": thickness_mm,
        }
        for number in range(bays)
    ]
    return elements, bays * bay * width


def _raft(rng: np.random.Generator, volume_m3: float) -> tuple[list[Tree], float]:
    depth = _round(rng.uniform(0.6, 1.2) if volume_m3 < 150 else rng.uniform(0.8, 2.4), 0.1)
    length, width = _plan(rng, volume_m3 / depth)
    raft = {"id": "raft", "shape": "mass-block", "at_m": [0.0, 0.0], "length_m": length, "width_m": width}
    return [{**raft, "depth_m": depth}], length * width


def _wall(rng: np.random.Generator, volume_m3: float) -> tuple[list[Tree], float]:
    thickness = _round(rng.uniform(0.25, 0.5), 0.05)
    height = _round(rng.uniform(2.4, 4.8), 0.1)
    length = max(3.0, _round(volume_m3 / thickness / height, 0.1))
    wall = {"id": "wall", "shape": "wall", "at_m": [0.0, 0.0], "length_m": length, "height_m": height}
    return [{**wall, "thickness_mm": 1000 * thickness}], length * thickness


def _hours(rng: np.random.Generator, is_long: bool) -> Tree:
    if is_long:
        times = (dt.time(5, 0), dt.time(2, 0), dt.time(4, 30))
    else:
        start = int(rng.choice([6, 7, 7, 8]))
        times = (
            dt.time(start, 0),
            dt.time(int(rng.choice([18, 19, 20])), 0),
            dt.time(int(rng.choice([21, 22, 23])), 0),
        )
    return {"days": WEEKDAYS, "start_local": times[0], "end_local": times[1], "trowelling_until_local": times[2]}


def _limits_of_the_street(rng: np.random.Generator) -> Tree:
    """Delivery bans and noise limits: half of the sites have the one, a third the other."""
    tree: Tree = {}
    if rng.uniform() < 0.5:
        bans = [(dt.time(8, 0), dt.time(8, 30)), (dt.time(15, 15), dt.time(15, 45)), (dt.time(12, 0), dt.time(12, 45))]
        chosen = sorted(rng.choice(3, size=int(rng.integers(1, 3)), replace=False).tolist())
        tree["delivery_ban"] = [
            {"reason": "street", "days": WEEKDAYS, "start_local": bans[each][0], "end_local": bans[each][1]}
            for each in chosen
        ]
    if rng.uniform() < 0.33:
        tree["noise_limit"] = [{"start_local": dt.time(5, 0), "end_local": dt.time(7, 30), "limit_db": 62.0}]
        tree["noise_source"] = [{"activity": "placing", "level_db": 66.0}]
    return tree


def _plant(rng: np.random.Generator, rate_m3_per_h: float, is_long: bool) -> Tree:
    usual = _round(rng.uniform(8, 38), 1)
    return {
        "id": "plant",
        "batching_min": _round(rng.uniform(1.0, 2.0) if rate_m3_per_h > 80 else rng.uniform(3.5, 6.5), 0.5),
        "travel_loaded_min": {
            "low": _round(usual * rng.uniform(0.75, 0.95), 1),
            "usual": usual,
            "high": _round(usual * rng.uniform(1.15, 1.7), 1),
        },
        "return_min": _round(usual * rng.uniform(0.8, 1.0), 1),
        "output_m3_per_h": _round(max(50.0, rate_m3_per_h * rng.uniform(1.25, 1.8)), 5),
        "opens_local": dt.time(4, 0) if is_long else dt.time(5, 30),
        "closes_local": dt.time(23, 59) if is_long else dt.time(20, 0),
    }


def _trucks(rng: np.random.Generator, plant: Tree, rate_m3_per_h: float) -> Tree:
    capacity, usual_min = float(rng.choice([6.0, 7.5, 8.0, 9.0])), plant["travel_loaded_min"]["usual"]
    trip = plant["batching_min"] + usual_min + plant["return_min"] + 11
    need = math.ceil(trip / (capacity / rate_m3_per_h * 60)) + 1
    promised = max(2, need + int(rng.integers(-1, 3)))
    return {
        "capacity_m3": capacity,
        "count_promised": promised,
        "count_in_fleet": promised + int(rng.integers(0, 5)),
        "washout_min": _round(rng.uniform(4, 8), 1),
        "position_and_check_min": _round(rng.uniform(3, 6), 1),
        "waiting_places_on_site_count": int(rng.integers(2, 5)) + round(rate_m3_per_h / 25),
        "discharge_places_count": 4 if rate_m3_per_h > 80 else 2,
        "longest_batching_to_end_of_discharge_min": float(rng.choice([90, 105, 120] if usual_min < 20 else [120, 150])),
    }


def _pump(rng: np.random.Generator, rate_m3_per_h: float, elements: list[Tree]) -> Tree:
    """Over 80 m³/h two or three pumps work side by side; the sheet has them as one with their rate together."""
    width = max(element.get("width_m", 1.0) for element in elements)
    places = [[-5.0, -5.0], [-5.0, width / 2], [10.0, -6.0]]
    return {
        "id": "pump",
        "kind": "boom",
        "position_m": places[int(rng.integers(3))],
        "planned_output_m3_per_h": rate_m3_per_h,
        "move_min": _round(rng.uniform(0, 4), 1),
        "mean_pumping_min_between_stops": _round(rng.uniform(300, 900), 50),
        "stop_mean_min": 10.0 if rate_m3_per_h > 80 else _round(rng.uniform(10, 30), 5),
    }


def _crew(rng: np.random.Generator, rate_m3_per_h: float, area_m2: float, kind: str) -> Tree:
    heads = max(8, round(rate_m3_per_h / 3))
    passes = 2 if kind == "slab" else 1
    crews = max(1, math.ceil(area_m2 * passes / 120 / rng.uniform(3, 6)))
    crew: Tree = {
        "people": {"placing-gang": heads, "finisher": 2 * crews},
        "placing_capacity_m3_per_h": float(round(rate_m3_per_h * rng.uniform(0.9, 1.3))),
        "finishing_crews_count": crews,
        "finishing_rate_m2_per_h": 120.0,
        "finishing_passes_count": passes,
    }
    if rng.uniform() < 0.5:
        crew["breaks"] = [{"start_local": dt.time(int(rng.integers(10, 13)), 30), "duration_min": 20.0}]
    return crew


def _prices(rng: np.random.Generator) -> Tree:
    return {
        "concrete_cu_per_m3": _round(rng.uniform(100, 160), 1),
        "part_load_cu_per_m3_short": 35.0,
        "waiting_free_min_per_load": _round(rng.uniform(20, 40), 5),
        "waiting_cu_per_min": _round(rng.uniform(1, 3), 0.1),
        "pump_cu_per_h": _round(rng.uniform(120, 220), 5),
        "pump_least_h": float(rng.integers(3, 7)),
        "crew_cu_per_h": _round(rng.uniform(350, 900), 10),
        "returned_concrete_cu_per_m3": 60.0,
        "truck_cu_per_truck": _round(rng.uniform(100, 250), 10),
        "cold_joint_cu_per_m2": _round(rng.uniform(80, 200), 10),
    }


def _mean_air_c(date: dt.date) -> float:
    return 10.0 + 9.0 * math.sin(2 * math.pi * (date.timetuple().tm_yday - 110) / 365)


def _mix(rng: np.random.Generator, date: dt.date) -> Tree:
    # In winter the producer sends a faster cement, in summer a slower one.
    initial = _round(rng.uniform(4.0, 7.0) * (1 + (_mean_air_c(date) - 10) / 40), 0.1)
    mix: Tree = {
        "strength_class": "C30/37",
        "consistence_class": "S4",
        "slump_mm": 180.0,
        "cement_group": str(rng.choice(["portland", "blend"])),
        "cement_kg_per_m3": 350.0,
        "water_kg_per_m3": 172.0,
        "initial_set_at_20c_h": initial,
        "final_set_at_20c_h": _round(initial * rng.uniform(1.35, 1.6), 0.1),
        "temperature_at_plant_c": _round(13 + 0.45 * _mean_air_c(date) + rng.normal(0, 1.5), 0.5),
    }
    options: list[Tree] = []
    if rng.uniform() < 0.5:
        retarded = {"id": "retarded", "set_time_factor": 1.35, "delays_setting": True}
        options.append({**retarded, "extra_cu_per_m3": _round(rng.uniform(2, 5), 0.5)})
    if rng.uniform() < 0.25:
        options.append({"id": "chilled", "cooler_by_c": 3.0, "extra_cu_per_m3": _round(rng.uniform(3, 6), 0.5)})
    return {**mix, "option": options} if options else mix


def _specification(rng: np.random.Generator, kind: str) -> Tree:
    longest = sorted((_round(rng.uniform(75, 150), 5) for _ in range(3)), reverse=True)
    asked: Tree = {
        "live_edge": [
            {"up_to_c": up_to, "longest_min": most} for up_to, most in zip((20, 25, 40), longest, strict=True)
        ],
        "concrete_temperature_at_placing_c": {"min": 5.0, "max": 30.0},
        "largest_layer_mm": float(rng.choice([450, 500])),
        "finish": str(rng.choice(FINISHES[kind])),
    }
    if rng.uniform() < 0.25:
        del asked["live_edge"]
    return asked


def _formwork(rng: np.random.Generator, elements: list[Tree]) -> Tree:
    return {
        "permitted_pressure_kn_per_m2": _round(rng.uniform(40, 80), 5),
        "basis": "permissible",
        "form_height_m": elements[0]["height_m"],
    }


def _forecast(rng: np.random.Generator, date: dt.date) -> str:
    """Four days from the midnight before the pour: a daily wave, wind, in three of ten cases a wet spell."""
    mean, swing = _mean_air_c(date) + rng.normal(0, 2.5), rng.uniform(2, 6)
    hour = np.arange(HOURS_OF_WEATHER)
    air = mean + swing * np.sin(2 * np.pi * (hour - 9) / 24)
    humidity = np.clip(70 - 3 * (air - mean) + rng.normal(0, 6), 25, 98)
    wind = np.clip(rng.uniform(1, 5) + 1.5 * np.sin(2 * np.pi * (hour - 8) / 24), 0.3, None)
    rain, chance = np.zeros(HOURS_OF_WEATHER), np.full(HOURS_OF_WEATHER, float(rng.integers(0, 6)))
    if rng.uniform() < 0.3:
        begin, long = int(rng.integers(5, 24)), int(rng.integers(2, 5))
        rain[begin : begin + long] = rng.uniform(0.1, 1.5)
        chance[begin : begin + long] = rng.integers(15, 70)
    lines = [
        "time_local,air_temperature_c,relative_humidity_percent,wind_speed_m_per_s,wind_gust_m_per_s,rain_mm,"
        "rain_probability_percent"
    ]
    midnight = dt.datetime.combine(date, dt.time(0), dt.timezone(dt.timedelta(hours=1)))
    lines += [
        f"{(midnight + dt.timedelta(hours=at)).isoformat()},{air[at]:.1f},{humidity[at]:.0f},{wind[at]:.1f},"
        f"{1.5 * wind[at]:.1f},{rain[at]:.1f},{chance[at]:.0f}"
        for at in range(HOURS_OF_WEATHER)
    ]
    return "\n".join(lines) + "\n"
