"""Situations for the planning tests: the example sheets, cut down so that a search takes seconds."""

import datetime as dt
import shutil
from pathlib import Path
from typing import Any

from sheets import TARNWICK, tree_of, written
from wetfront.desk.situations import weather_on
from wetfront.intake import read_sheet
from wetfront.nouns.sheet import CheckedSheet
from wetfront.planning.day import day_of
from wetfront.planning.situation import Situation, situation_of

FORECAST = "weather-forecast.csv"
QUICK = ((8, 8), (24, 3), (60, 2))
SEED = 11


def checked(folder: Path, tree: dict[str, Any], forecast: bool = True) -> CheckedSheet:
    """The tree as a checked sheet, with the example's forecast beside it."""
    if forecast:
        shutil.copy(TARNWICK / FORECAST, folder / FORECAST)
        tree = {**tree, "weather": {"forecast": FORECAST, "wind_height_m": 10}}
    return read_sheet(written(folder, tree))


def situation(sheet: CheckedSheet, number: int = 0, seed: int = SEED) -> Situation:
    """One pour of a checked sheet on its own day, in the weathers that the seed draws."""
    pour = sheet.sheet.pour[number]
    day = day_of(sheet.sheet, pour.date)
    weather = weather_on(sheet, day, seed)
    assert weather is not None
    return situation_of(sheet.sheet, pour, day, weather)


def small_slab(**choices: Any) -> dict[str, Any]:
    """Bay C of the example slab alone, with few choices left open."""
    tree = tree_of("slab")
    tree["element"] = [element for element in tree["element"] if element["id"] == "C"]
    tree["pour"][0]["elements"] = ["C"]
    tree["allowance"]["extra_m3"] = 0.0
    tree["choices"] = {
        "element_order": ["C"],
        "strips_along": "y",
        "strip_widths_m": [4.0],
        "start_between_local": [dt.time(9, 10), dt.time(9, 30)],
        "trucks_between": [5, 7],
        "interval_between_min": [15.0, 17.0],
        "placing_rates_m3_per_h": [32.0],
        **choices,
    }
    return tree


def wall_panel(number: int = 0, **choices: Any) -> dict[str, Any]:
    """One panel of the example wall, with few choices left open."""
    tree = tree_of("wall")
    tree["pour"] = [tree["pour"][number]]
    tree["choices"] = {
        "start_between_local": [dt.time(9, 10), dt.time(9, 30)],
        "trucks_between": [3, 3],
        "load_sizes_m3": [4.8],
        "layer_orders": ["whole"],
        **choices,
    }
    return tree
