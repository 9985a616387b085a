"""The slab day of the demo as a journal: what gate, hose and office wrote down, from tickets and day log."""

import csv
import datetime as dt
from functools import cache
from pathlib import Path

from running_pours import slab_event
from wetfront.intake.sheet import read_sheet
from wetfront.journal import Event, fold
from wetfront.journal.kinds import (
    AddedOnSite,
    CalledOff,
    LoadArrived,
    LoadDecided,
    LoadLeft,
    LoadPlaced,
    LoadTested,
    PlacingEnded,
    PlacingRestarted,
    PlacingStopped,
    RemainingMeasured,
)
from wetfront.planning.book_limits import laid_over
from wetfront.planning.candidate import Candidate, OrderChoice
from wetfront.planning.day import day_of, weather_of
from wetfront.planning.situation import situation_of

FOLDER = Path(__file__).parent.parent / "examples" / "tarnwick"
ZONE = dt.timezone(dt.timedelta(hours=1))
DATE = dt.date(2027, 6, 17)
STOPPED, RESTARTED = "11:06", "11:46"


def at(text: str, seconds: int = 0) -> dt.datetime:
    return dt.datetime.combine(DATE, dt.time.fromisoformat(text), ZONE) + dt.timedelta(seconds=seconds)


def _event(number: list[int], when: dt.datetime, fact) -> Event:
    number[0] += 1
    return slab_event(number[0], when, fact)


@cache
def events() -> tuple[Event, ...]:
    """Every entry of the day."""
    number, found = [0], []

    def tell(when, fact):
        found.append(_event(number, when, fact))

    with (FOLDER / "delivery-tickets-slab.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        ticket = row["ticket_number"]
        moment = {key: at(row[f"{key}_local"]) if row[f"{key}_local"] else None for key in _MOMENTS}
        tell(
            moment["arrived"],
            LoadArrived(
                ticket_number=ticket,
                volume_m3=float(row["load_m3"]),
                plant=row["plant"],
                truck=row["truck"],
                mix=row["mix_code"],
                batched=moment["batched"],
                left_plant=moment["left_plant"],
            ),
        )
        if row["slump_mm"]:
            tell(moment["arrived"], LoadTested(ticket_number=ticket, test="slump", value=float(row["slump_mm"])))
        if row["concrete_temperature_c"]:
            value = float(row["concrete_temperature_c"])
            tell(moment["arrived"], LoadTested(ticket_number=ticket, test="temperature", value=value))
        if row["accepted"] == "no":
            tell(at("08:41"), LoadDecided(ticket_number=ticket, decision="refuse"))
        else:
            start, end = moment["discharge_start"], moment["discharge_end"]
            if row["water_added_l"]:
                amount = float(row["water_added_l"])
                tell(at("12:31"), AddedOnSite(ticket_number=ticket, substance="water", amount_l=amount))
            tell(start, LoadDecided(ticket_number=ticket, decision="accept"))
            tell(
                end,
                LoadPlaced(ticket_number=ticket, place=row["placed_in"], placed_from=start, placed_until=end),
            )
        tell(moment["left_site"], LoadLeft(ticket_number=ticket, returned_m3=8.0 if row["accepted"] == "no" else 0.0))
    tell(at(STOPPED), PlacingStopped(cause="blockage"))
    tell(at("11:12"), CalledOff(order="hold", note="three on the road"))
    tell(at(RESTARTED), PlacingRestarted())
    tell(at("11:47"), CalledOff(order="send", interval_min=15))
    tell(at("15:02"), RemainingMeasured(volume_m3=3.2 + 2 * 8.0, spread_m3=0.3))
    tell(at("15:59"), PlacingEnded(surveyed_m3=216.9))
    return tuple(found)


_MOMENTS = ("batched", "left_plant", "arrived", "discharge_start", "discharge_end", "left_site")


def state_at(when: str):
    """The state of the pour as it was known then."""
    now = at(when)
    return fold("slab", [event for event in events() if event.at <= now])


@cache
def situation():
    checked = read_sheet(FOLDER / "slab.toml")
    pour = checked.sheet.pour[0]
    sheet = laid_over(checked.sheet, pour).sheet
    day = day_of(sheet, pour.date)
    return situation_of(sheet, pour, day, weather_of(checked.weather, day, day.trowelling_until_min))


@cache
def candidate() -> Candidate:
    """The plan of the scenario: eight trucks, 32 m³/h, far end first, first concrete at 07:20."""
    return Candidate(
        start_min=440.0,
        interval_min=15.0,
        trucks_count=8,
        load_m3=8.0,
        rate_m3_per_h=32.0,
        vibrators_count=situation().vibrators_count,
        order=OrderChoice(
            element_order=("C", "B", "A"),
            start_corner="high-x high-y",
            strips_along="y",
            strip_width_m=4.0,
            layer_mm=250.0,
        ),
        plants=("plant-a",),
    )
