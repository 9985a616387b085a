"""An invented slab day at 11:06, the minute at which its pump blocks: the board that the field app's tests look at."""

import datetime as dt
from typing import Any

from wetfront.forecast import HOSE
from wetfront.nouns.board import (
    BOARD_SCHEMA,
    Advice,
    Band,
    Board,
    CellView,
    CheckView,
    Comparison,
    EdgeView,
    Figure,
    FinishView,
    ForecastView,
    HoldView,
    Learned,
    LimitView,
    LoadView,
    Option,
    SawCutView,
    SurfaceNow,
)
from wetfront.nouns.plan import Moments

ZONE = dt.timezone(dt.timedelta(hours=1))
STRIPS = ("C1", "C2", "C3", "B1", "B2", "B3", "A1", "A2", "A3")
CELLS_PER_STRIP = 6


def at(text: str, day: int = 17) -> dt.datetime:
    hour, minute = text.split(":")
    return dt.datetime(2027, 6, day, int(hour), int(minute), tzinfo=ZONE)


NOW = at("11:06")


def about(text: str, spread_min: int = 8) -> Moments:
    usual = at(text)
    by = dt.timedelta(minutes=spread_min)
    return Moments(early=usual - by, usual=usual, late=usual + by)


PLACED = (
    ("4101", "C1", "07:05", "06:28", "07:20", "SL-1"),
    ("4102", "C1", "07:22", "06:45", "07:36", ""),
    ("4103", "C1", "07:33", "06:55", "07:52", ""),
    ("4104", "C2", "07:48", "07:10", "08:07", "SL-2"),
    ("4105", "C2", "08:08", "07:25", "08:23", ""),
    ("4106", "C2", "08:22", "07:38", "08:39", ""),
    ("4108", "C3", "08:28", "07:49", "08:56", "SL-3"),
    ("4109", "C3", "09:09", "08:29", "09:14", ""),
    ("4111", "C3", "09:41", "09:06", "09:46", ""),
    ("4112", "B1", "10:00", "09:23", "10:05", "SL-4"),
    ("4113", "B1", "10:12", "09:34", "10:21", ""),
    ("4110", "B1", "10:22", "08:52", "10:37", ""),
)


def cells() -> tuple[CellView, ...]:
    found = []
    for strip, name in enumerate(STRIPS):
        for step in range(CELLS_PER_STRIP):
            index = strip * CELLS_PER_STRIP + step
            x, y = 32.0 - 4 * strip, 20.0 - 4 * step
            load = PLACED[index // 2] if index // 2 < len(PLACED) else None
            placed = load is not None or index == 24
            start = at(load[4]) if load else at("10:53")
            open_edge = placed and name in ("B1", "B2")
            found.append(
                CellView(
                    index=index,
                    element=name[0],
                    place=name,
                    outline_m=((x, y), (x + 4, y), (x + 4, y + 4), (x, y + 4)),
                    layer=0,
                    volume_m3=4.0,
                    state="placed" if placed else "open",
                    ticket_number=load[0] if load else ("4114" if placed else ""),
                    placed_at=start if placed else None,
                    edge_open=open_edge,
                    join_by_specification=start + dt.timedelta(minutes=75) if open_edge else None,
                    join_by_setting=_later(start, 118) if open_edge else None,
                )
            )
    return tuple(found)


def _later(start: dt.datetime, minutes: int) -> Moments:
    usual = start + dt.timedelta(minutes=minutes)
    by = dt.timedelta(minutes=12)
    return Moments(early=usual - by, usual=usual, late=usual + by)


def loads() -> tuple[LoadView, ...]:
    found: list[LoadView] = []

    def add(state: str, **more: Any) -> None:
        given: dict[str, Any] = {
            "number": len(found) + 1,
            "ticket_number": "",
            "volume_m3": 8.0,
            "arrives": None,
            "expected_by": "",
            "arrived": None,
            "batched": None,
            "too_old_at": None,
            "verdict": "",
            "rules_say": "",
            "decision": "",
            "contested": False,
            "place": "",
            "sample": "",
            "cells": (),
            "water_left_l": None,
        }
        if more.get("batched"):
            given["too_old_at"] = more["batched"] + dt.timedelta(minutes=120)
        found.append(LoadView(**(given | {"state": state} | more)))

    for place, (ticket, strip, arrived, batched, _, sample) in enumerate(PLACED):
        add(
            "left",
            ticket_number=ticket,
            place=strip,
            arrived=at(arrived),
            batched=at(batched),
            sample=sample,
            decision="accept by site-engineer",
            cells=(2 * place, 2 * place + 1),
        )
        if ticket == "4106":
            add(
                "refused",
                ticket_number="4107",
                arrived=at("08:26"),
                batched=at("07:45"),
                decision="refuse by site-engineer",
                verdict="refuse: slump 195, check test 190; limit 80 to 170 mm (project specification)",
                rules_say="refuse",
            )
    add(
        "discharging",
        ticket_number="4114",
        place="B2",
        arrived=at("10:32"),
        batched=at("09:54"),
        verdict="accept: age 72 of 120 min (project specification)",
        rules_say="accept",
        cells=(24, 25),
        water_left_l=0.0,
        decision="accept by site-engineer",
    )
    add(
        "waiting",
        ticket_number="4115",
        place="B2",
        arrived=at("10:48"),
        batched=at("10:08"),
        verdict="accept: age 58 of 120 min (project specification); slump not tested",
        rules_say="accept",
        sample="sample due",
        cells=(26, 27),
        water_left_l=80.0,
    )
    add(
        "waiting",
        ticket_number="4116",
        place="B2",
        arrived=at("11:03"),
        batched=at("10:27"),
        verdict="check test: slump 70; limit 80 to 170 mm (project specification)",
        rules_say="check-test",
        cells=(28, 29),
        water_left_l=40.0,
    )
    for number, (batched, arrives) in enumerate((("10:41", "11:16"), ("10:57", "11:35"))):
        add(
            "on the road",
            arrives=about(arrives),
            expected_by="forecast",
            batched=at(batched),
            place="B3",
            cells=(30 + 2 * number, 31 + 2 * number),
        )
    for number in range(11):
        minutes = 15 * number
        when = at("11:50") + dt.timedelta(minutes=minutes)
        moments = Moments(
            early=when - dt.timedelta(minutes=6), usual=when, late=when + dt.timedelta(minutes=10 + number)
        )
        first = 34 + 2 * number
        add(
            "planned",
            arrives=moments,
            expected_by="forecast",
            place=STRIPS[min(first, 53) // CELLS_PER_STRIP],
            volume_m3=3.5 if number == 10 else 8.0,
            cells=(first, first + 1) if first < 53 else (53,),
        )
    return tuple(found)


def checks() -> tuple[CheckView, ...]:
    rows = (
        ("F1", "formwork", "edge form line and level", "within 10", "6", "mm", "pass", "site-engineer", "14:10", ""),
        (
            "R1",
            "reinforcement",
            "top cover bay C",
            "30 nominal; minus 10 plus 12",
            "24",
            "mm",
            "pass",
            "site-engineer",
            "11:30",
            "lowest of 24 readings",
        ),
        (
            "R2",
            "reinforcement",
            "top cover bay B at riser",
            "30 nominal; minus 10 plus 12",
            "17",
            "mm",
            "fail",
            "site-engineer",
            "11:50",
            "chairs missing",
        ),
        (
            "C2",
            "cast-in items",
            "holding-down bolts plant plinth",
            "within 5",
            "",
            "mm",
            "open",
            "",
            "",
            "template not on site yet",
        ),
        (
            "W1",
            "weather",
            "evaporation forecast",
            "action at 0.5; stop at 1.0",
            "0.9",
            "kg_per_m2_h",
            "action",
            "site-engineer",
            "17:00",
            "mist and film on hand",
        ),
        (
            "E2",
            "equipment",
            "standby pump call-out confirmed",
            "at most 75",
            "75",
            "min",
            "pass",
            "site-manager",
            "15:30",
            "does not reach all of the far edge",
        ),
    )
    return tuple(
        CheckView(
            item=item,
            group=group,
            title=title,
            acceptance=acceptance,
            measured=measured,
            unit=unit,
            result=result,
            by=by,
            at=at(when, 16) if when else None,
            note=note,
            photos=(),
            hold_point="H1" if item.startswith("R") else "",
        )
        for item, group, title, acceptance, measured, unit, result, by, when, note in rows
    )


def holds(open_ones: tuple[str, ...] = ("H4",)) -> tuple[HoldView, ...]:
    rows = (
        ("H1", "Reinforcement, cast-in items and cover inspected", "site-engineer", True),
        ("H2", "Permit to load the falsework of bay C", "temporary-works-coordinator", True),
        ("H3", "Permission to place concrete", "designer-representative", True),
        ("H4", "Permit to strike the soffit of bay C", "temporary-works-coordinator", False),
    )
    return tuple(
        HoldView(
            id=name,
            title=title,
            released_by_role=role,
            state="open" if name in open_ones else "released",
            by="" if name in open_ones else role,
            at=None if name in open_ones else at("06:55"),
            why="",
            before_placing=before,
        )
        for name, title, role, before in rows
    )


def edges() -> tuple[EdgeView, ...]:
    return (
        EdgeView(
            name="B1 to B2",
            cells=(19, 20, 21, 22, 23),
            waits_since=at("10:05"),
            join_by_specification=at("11:20"),
            join_by_setting=about("12:03", 12),
            joined_at=about("11:52", 14),
            closed=False,
            waited_min=None,
            chance_over_specification=0.93,
            chance_of_cold_joint=0.08,
            by_forecast=True,
            text="Over the specification unless placing goes on by 11:20: "
            "a departure to be shown to the designer, not by itself a cold joint.",
        ),
        EdgeView(
            name="B2 to B3",
            cells=(24,),
            waits_since=at("10:53"),
            join_by_specification=at("12:08"),
            join_by_setting=about("12:51", 12),
            joined_at=about("12:31", 15),
            closed=False,
            waited_min=None,
            chance_over_specification=0.61,
            chance_of_cold_joint=0.02,
            by_forecast=True,
            text="",
        ),
        *(
            EdgeView(
                name=name,
                cells=(),
                waits_since=at("07:20"),
                join_by_specification=None,
                join_by_setting=about("09:20"),
                joined_at=about("08:30"),
                closed=True,
                waited_min=waited,
                chance_over_specification=0.0,
                chance_of_cold_joint=0.0,
                by_forecast=True,
                text="Within the specification.",
            )
            for name, waited in (("C1 to C2", 52.0), ("C2 to C3", 72.0), ("C3 to B1", 70.0))
        ),
    )


def board(**changes: Any) -> Board:
    """The board at 11:06; keys given replace its own."""
    given: dict[str, Any] = {
        "schema": BOARD_SCHEMA,
        "pour": "slab",
        "title": "Ground floor slab, bays A, B, C",
        "project": "Invented health centre",
        "time_zone": "UTC+01:00",
        "language": "en",
        "invented": True,
        "phase": "pour",
        "made_at": NOW,
        "records_count": 0,
        "last_told": at("11:06"),
        "weather_issued": at("12:00", 14),
        "plan_verdict": "go with measures",
        "plan_revision": "2, 16 June 17:20",
        "may_place": True,
        "blocked_by": (),
        "advice": Advice(
            caution="",
            text="Join edge B1 to B2 before 11:20",
            spoken="Edge B1, fourteen minutes left.",
            by=at("11:20"),
            reason="Its concrete has waited 61 min; the specification allows 75 at 20 to 25 °C. "
            "By setting it can be joined until about 12:03.",
            else_text="If the pump stands longer than 14 min: keep the edge alive with a vibrator and cover it, "
            "and tell the designer.",
        ),
        "stopped_since": None,
        "checks": checks(),
        "holds": holds(),
        "loads": loads(),
        "cells": cells(),
        "edges": edges(),
        "forms": (),
        "finishing": tuple(
            FinishView(
                place=place,
                bleed_ends=about(opens),
                opens=about(opens, 20),
                closes=about(closes, 25),
                saw_cuts=(
                    SawCutView(
                        joint="x24",
                        method="conventional",
                        opens=about("20:10", 40),
                        closes=at("06:20", 18),
                        cut_at=None,
                        text="x24 at x = 24 m, 65 mm: a trial cut decides",
                    ),
                )
                if place == "C3"
                else (),
                by_forecast=True,
                text="",
            )
            for place, opens, closes in (("C1", "12:40", "14:50"), ("C2", "13:20", "15:30"), ("C3", "14:05", "16:20"))
        ),
        "finishing_rests_on": ("bleeding is over at about half of the initial set (own rule, on the cautious side)",),
        "surface": SurfaceNow(
            evaporation_kg_per_m2_h=0.56,
            action_kg_per_m2_h=0.5,
            stop_kg_per_m2_h=1.0,
            text="Over the value for action: mist and film on C and B.",
        ),
        "forecast": ForecastView(
            members_count=400,
            end_of_placing=Moments(early=at("15:28"), usual=at("15:55"), late=at("16:40")),
            end_of_finishing=Moments(early=at("20:05"), usual=at("20:50"), late=at("21:45")),
            remaining_m3=Band(low=113.4, usual=115.1, high=117.2),
            balance_load_m3=Band(low=2.5, usual=3.5, high=5.0),
            call_next_by=at("11:14"),
            next_arrival=about("11:16"),
            on_road_count=2,
            waiting_count=2,
            chance_of_cold_joint=0.09,
            chance_over_specification=0.94,
            chance_out_of_hours=0.21,
            learned=(
                Learned(
                    name="time to discharge a load",
                    unit="min",
                    planned=Band(low=11, usual=13, high=16),
                    now=Band(low=13, usual=14, high=15),
                    seen_count=12,
                ),
            ),
            text="",
        ),
        "look_at": ("4110: 119 min from batching to the end of discharge, limit 120",),
        "cautions": ("Local codes and the licensed engineer rule. Figures are forecasts.",),
        "lattice": "slab-54",
        "limits": (
            LimitView(quantity="slump", low=80, high=170, unit="mm", whose="project specification"),
            LimitView(quantity="temperature", low=5, high=30, unit="°C", whose="project specification"),
            LimitView(quantity="age", low=None, high=120, unit="min", whose="EN 206, from memory: check the standard"),
        ),
        "may_wait_min": 75.0,
        "figures": (
            Figure(
                phase="plan",
                title="Order",
                text="220 m³: 27 loads of 8.0 and a last one of 4.0",
                at=None,
                reason="Net 215.1, sub-base 1.7, spill and samples 2.2, pump 1.0.",
            ),
            Figure(
                phase="plan",
                title="First concrete",
                text="",
                at=at("07:20"),
                reason="Latest start that ends inside the hours with nine in ten days: 07:50.",
            ),
            Figure(
                phase="plan", title="Trucks", text="8", at=None, reason="Seven would let the pump stand 31 min more."
            ),
            Figure(
                phase="cure",
                title="Cure until",
                text="",
                at=at("09:00", 21),
                reason="Curing class 3 at the forecast temperatures.",
            ),
        ),
    }
    return Board(**(given | changes))


def comparison(question: str = "pump down 40 min") -> Comparison:
    def option(title: str, needs: str, end: str, cold: float, spec: float, cost: float, text: str) -> Option:
        return Option(
            title=title,
            needs=needs,
            end_of_placing=about(end, 25),
            chance_of_cold_joint=cold,
            chance_over_specification=spec,
            chance_out_of_hours=0.2,
            oldest_load_min=Band(low=108, usual=117, high=126),
            trucks_waiting=Band(low=4, usual=5, high=6),
            cost_cu=Band(low=cost * 0.9, usual=cost, high=cost * 1.2),
            text=text,
        )

    return Comparison(
        question=question,
        caution=HOSE,
        options=(
            option(
                "Wait and cover the edge",
                "vibrator at B2, sheets",
                "15:55",
                0.09,
                0.94,
                523,
                "Three trucks wait on site.",
            ),
            option("Joint at x = 12 m", "stop end, dowels, the designer's word", "16:30", 0.01, 0.94, 1890, ""),
            option(
                "Call the standby pump",
                "75 min call-out",
                "16:50",
                0.31,
                1.0,
                1373,
                "It does not reach all of the far edge.",
            ),
        ),
        recommended=0,
        reason="Waiting keeps the chance of a cold joint at 9 % and costs least; "
        "the joint costs 1,367 more for 8 % less.",
    )
