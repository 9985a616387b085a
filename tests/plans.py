"""Hand-made plans for the tests of what is printed. Every figure here is invented; none comes from a calculation."""

import datetime as dt
import itertools
from dataclasses import replace
from typing import Any

from wetfront.nouns.plan import (
    PLAN_SCHEMA,
    CalledLoad,
    Change,
    CostLine,
    DayTried,
    Decision,
    Drawing,
    EdgeMargin,
    Frontier,
    FrontierPoint,
    HourlySeries,
    LimitPrice,
    Moments,
    Plan,
    PressureCheck,
    Quantity,
    Reach,
    ReadinessItem,
    Risk,
    SearchRecord,
    StripTimes,
    Verdict,
    WeatherSpread,
)
from wetfront.nouns.reason import Provenance, Source, Step

ZONE = dt.timezone(dt.timedelta(hours=1))
DAY = dt.date(2027, 6, 17)
STRIPS = ("C1", "C2", "C3", "B1", "B2", "B3", "A1", "A2", "A3")

DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 280" role="img">
<title>Plan of the slab</title><desc>Nine strips from the far end</desc>
<rect x="20" y="20" width="360" height="240" fill="none" stroke="black" stroke-width="2"/>
<text x="40" y="60" font-size="14">1 C1 07:20</text></svg>"""


def at(minutes_after_midnight: float, day: dt.date = DAY) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(0), ZONE) + dt.timedelta(minutes=minutes_after_midnight)


def moments(minutes: float, spread: float = 12.0) -> Moments:
    return Moments(early=at(minutes - spread), usual=at(minutes), late=at(minutes + 1.5 * spread))


def quantity(**other: Any) -> Quantity:
    given = {
        "net_m3": 215.1,
        "wastage_m3": 2.151,
        "wastage_spread_m3": 1.08,
        "extra_m3": 1.728,
        "priming_m3": 0.0,
        "line_content_m3": 1.0,
        "gross_m3": 219.979,
        "order_m3": 220.0,
        "load_m3": 8.0,
        "loads_count": 28,
        "full_loads_count": 27,
        "balance_load_m3": 4.0,
        "balance_call": "measure what is left after load 26 (about 14:25) and call the balance load by 14:40",
        "chance_of_running_short": 0.034,
        "formed_area_m2": 31.25,
        "top_area_m2": 860.4,
    }
    return Quantity(**(given | other))


def decision(**other: Any) -> Decision:
    given = {
        "start": at(440),
        "first_batch": at(399),
        "interval_min": 15.0,
        "trucks_count": 8,
        "load_m3": 8.0,
        "placing_rate_m3_per_h": 32.0,
        "pump": "pump-main",
        "plants": ("plant-a",),
        "mix": "S1",
        "mix_option": "",
        "element_order": ("bay C", "bay B", "bay A"),
        "strips_along": "y",
        "strip_width_m": 4.0,
        "layer_mm": 250.0,
        "layer_order": "whole",
        "vibrators_count": 3,
        "joint": "",
    }
    return Decision(**(given | other))


def risk(key: str, title: str, probability: float, limit: float, detail: str, remedy: str) -> Risk:
    return Risk(
        key=key,
        title=title,
        probability=probability,
        standard_error=0.004,
        limit=limit,
        detail=detail,
        remedy=remedy,
    )


def risks() -> tuple[Risk, ...]:
    return (
        risk(
            "cold_joint",
            "Cold joint by setting",
            0.012,
            0.05,
            "least margin 74 min at edge B1 to B2",
            "retarder on call; agreed joint at x = 24 m",
        ),
        risk(
            "specified_edge_exceeded",
            "Edge waits longer than the specification's minutes",
            0.164,
            0.20,
            "edge B2 to B3 waits 71 min (5 to 95 %: 63 to 84) of 75",
            "strips 3 m wide",
        ),
        risk("pressure_over_permitted", "Pressure over the form's limit", 0.0, 0.01, "no tall form", ""),
        risk("placing_out_of_hours", "Placing after hours", 0.004, 0.05, "late end 16:05 of 19:00", ""),
        risk(
            "finishing_out_of_hours",
            "Finishing after hours",
            0.083,
            0.10,
            "late end 20:48 of 21:00",
            "start 20 min earlier; a second finishing crew",
        ),
        risk("rain_on_fresh_surface", "Rain on the fresh surface", 0.05, 0.30, "5 % chance per hour", "sheets on hand"),
        risk("load_over_age", "A load over its age limit", 0.021, 0.10, "oldest load 96 min of 120", ""),
        risk("trucks_over_places", "More trucks waiting than places", 0.12, 0.20, "at most 3 waiting of 3 places", ""),
    )


def strips() -> tuple[StripTimes, ...]:
    made = []
    for number, name in enumerate(STRIPS, 1):
        start = 440 + 45 * (number - 1)
        made.append(
            StripTimes(
                order=number,
                name=name,
                element=f"bay {name[0]}",
                volume_m3=24.0,
                start=moments(start, 3 * number),
                end=moments(start + 45, 3 * number + 2),
                join_before_set=at(start + 190) if number < 9 else None,
                join_before_specified=at(start + 120) if number < 9 else None,
                edge_name=f"{name} to {STRIPS[number]}" if number < 9 else "",
                ready_to_finish=moments(start + 320, 20),
                finished=moments(start + 400, 25),
            )
        )
    return tuple(made)


def edges() -> tuple[EdgeMargin, ...]:
    return tuple(
        EdgeMargin(
            name=f"{first} to {second}",
            wait_min=(50.0 + 2 * index, 58.0 + 2 * index, 70.0 + 2 * index),
            specified_min=75.0,
            set_margin_min=(74.0 - index, 110.0, 131.0),
            specified_margin_min=(5.0 - 2 * index, 17.0 - 2 * index, 25.0 - 2 * index),
            chance_set_exceeded=0.002 * index,
            chance_specified_exceeded=0.02 * index,
        )
        for index, (first, second) in enumerate(itertools.pairwise(STRIPS))
    )


def loads(count: int = 28) -> tuple[CalledLoad, ...]:
    made = []
    for number in range(1, count + 1):
        batch = 399 + 15 * (number - 1)
        made.append(
            CalledLoad(
                number=number,
                plant="plant-a",
                batch=at(batch),
                on_site=at(batch + 36),
                discharge=at(batch + 41),
                volume_m3=8.0 if number < count else 4.0,
                goes_to=f"strip {STRIPS[(number - 1) * 9 // count]}",
                sample=number % 4 == 1,
                note="slump test" if number <= 3 else "balance, by measured call" if number == count else "",
            )
        )
    return tuple(made)


DIN = Source("DIN 18218:2010-01, 4", Provenance.PUBLISHED)
ACI = Source("ACI 347R-14, 2.2.2", Provenance.MEMORY)


def pressure() -> tuple[PressureCheck, ...]:
    return (
        PressureCheck(
            method="CIRIA Report 108",
            pressure_kn_per_m2=46.2,
            permitted_kn_per_m2=60.0,
            highest_rise_m_per_h=3.1,
            highest_rate_m3_per_h=10.9,
            governs="rise and temperature",
            source=Source("CIRIA Report 108 (1985)", Provenance.PUBLISHED),
            note="",
        ),
        PressureCheck(
            method="ACI 347R",
            pressure_kn_per_m2=63.5,
            permitted_kn_per_m2=60.0,
            highest_rise_m_per_h=1.9,
            highest_rate_m3_per_h=6.7,
            governs="rise",
            source=ACI,
            note="over the form's limit at the planned rise",
        ),
        PressureCheck(
            method="Full liquid head",
            pressure_kn_per_m2=105.0,
            permitted_kn_per_m2=60.0,
            highest_rise_m_per_h=None,
            highest_rate_m3_per_h=None,
            governs="height",
            source=Source("density × height", Provenance.DEFINITION),
            note="",
        ),
    )


def reach() -> tuple[Reach, ...]:
    return (
        Reach(
            pump="pump-main",
            reach_m=37.5,
            farthest_m=34.99,
            farthest_point_m=(0.0, 24.0),
            reaches_all=True,
            text="reaches all; farthest corner 34.99 m of 37.5 m",
        ),
        Reach(
            pump="pump-standby",
            reach_m=31.5,
            farthest_m=34.99,
            farthest_point_m=(0.0, 24.0),
            reaches_all=False,
            text="reaches the far edge (y = 24 m) only from x = 8.4 to 27.6 m",
        ),
    )


def readiness(count: int = 15) -> tuple[ReadinessItem, ...]:
    groups = ("formwork", "falsework", "reinforcement", "joints", "equipment")
    return tuple(
        ReadinessItem(
            id=f"{groups[index * 5 // count][0].upper()}{index}",
            group=groups[index * 5 // count],
            check=f"Cover of the top steel in area {index}, measured against the latest drawing revision",
            acceptance="30 mm nominal; minus 10, plus 12 mm",
            source="EN 13670:2009, 10.6 (from memory)" if index % 3 == 0 else "common practice, no source",
            hold_point=index % 5 == 0,
            released_by="temporary-works-coordinator" if index % 5 == 0 else "",
            state=("open", "pass, 16 Jun 14:10 (24 mm)", "fail, 16 Jun 15:00", "pass")[index % 4],
        )
        for index in range(count)
    )


def charts() -> tuple[HourlySeries, ...]:
    times = tuple(at(60 * hour) for hour in range(6, 22))
    hours = [index for index, _ in enumerate(times)]

    def ramp(factor: float) -> tuple[float | None, ...]:
        return tuple(min(220.0, max(0.0, factor * 26.0 * (hour - 1))) for hour in hours)

    return (
        HourlySeries(
            title="Placed volume",
            unit="m³",
            times=times,
            lines=(("slow (5 %)", ramp(0.9)), ("usual", ramp(1.0)), ("quick (95 %)", ramp(1.06))),
            limits=(("order", 220.0),),
            sentence="Half the volume is in place by 11:10; all of it by 15:50.",
        ),
        HourlySeries(
            title="Joint margin",
            unit="min",
            times=times,
            lines=(
                ("setting", tuple(120.0 - 3 * hour for hour in hours)),
                ("specification", tuple(None if hour < 2 else 20.0 - hour for hour in hours)),
            ),
            limits=(("joint lost", 0.0),),
            sentence="The least margin is 4 min at 18:00.",
        ),
        HourlySeries(
            title="Evaporation",
            unit="kg/m²h",
            times=times,
            lines=(("evaporation", tuple(0.2 + 0.05 * hour for hour in hours)),),
            limits=(("action", 0.5), ("stop", 1.0)),
            sentence="Over the action value from 13:00.",
        ),
        HourlySeries(
            title="Rise",
            unit="m/h",
            times=times,
            lines=(("rise", tuple(1.5 if 2 < hour < 9 else None for hour in hours)),),
            limits=(("permitted", 2.2),),
            sentence="1.5 m/h against 2.2 m/h.",
        ),
        HourlySeries(
            title="Pressure",
            unit="kN/m²",
            times=times,
            lines=(
                ("CIRIA", tuple(46.0 if 2 < hour < 9 else 0.0 for hour in hours)),
                ("ACI", tuple(55.0 if 2 < hour < 9 else 0.0 for hour in hours)),
                ("DIN", tuple(51.0 if 2 < hour < 9 else 0.0 for hour in hours)),
            ),
            limits=(("form's limit", 60.0),),
            sentence="55 kN/m² at most against 60.",
        ),
    )


def changes() -> tuple[Change, ...]:
    return (
        Change(
            title="one truck fewer (7)",
            cost_change_cu=312.4,
            cost_error_cu=21.5,
            worst_share_change=1.05,
            end_change_min=24.0,
            worst_risk="specified_edge_exceeded",
            risk_changes=(("specified_edge_exceeded", 0.21), ("finishing_out_of_hours", 0.05)),
            keeps_limits=False,
            comment="the pump waits for concrete",
        ),
        Change(
            title="one truck more (9)",
            cost_change_cu=88.0,
            cost_error_cu=9.5,
            worst_share_change=1.55,
            end_change_min=-1.0,
            worst_risk="trucks_over_places",
            risk_changes=(("trucks_over_places", 0.31),),
            keeps_limits=False,
            comment="trucks wait on the road",
        ),
        Change(
            title="start half an hour later",
            cost_change_cu=0.0,
            cost_error_cu=0.0,
            worst_share_change=1.2,
            end_change_min=30.0,
            worst_risk="finishing_out_of_hours",
            risk_changes=(("finishing_out_of_hours", 0.12),),
            keeps_limits=False,
            comment="",
        ),
        Change(
            title="concrete 1 °C cooler",
            cost_change_cu=-12.0,
            cost_error_cu=0.4,
            worst_share_change=-0.05,
            end_change_min=12.0,
            worst_risk="finishing_out_of_hours",
            risk_changes=(("cold_joint", -0.006),),
            keeps_limits=True,
            comment="edges wait longer, trowels too",
        ),
    )


def limit_prices() -> tuple[LimitPrice, ...]:
    return (
        LimitPrice(
            key="finishing_out_of_hours",
            title="finishing after hours",
            limit=0.1,
            relaxed_limit=0.15,
            relaxed_saves_cu=64.0,
            relaxed_error_cu=11.0,
            relaxed_plan="start 07:35",
            tightened_limit=0.1 / 1.5,
            tightened_costs_cu=None,
            tightened_error_cu=0.0,
            tightened_plan="",
            text="finishing after hours, at most 10 %: at 15 % 64 cu cheaper (± 11 cu) by start 07:35; at 6.7 % no "
            "plan that was tried keeps every limit",
        ),
    )


def frontier_point(cost: float, share: float, label: str) -> FrontierPoint:
    return FrontierPoint(
        cost_cu=cost,
        cost_error_cu=0.0 if label == "this plan" else 12.0,
        worst_share=share,
        worst_share_error=0.07,
        worst_risk="finishing_out_of_hours",
        any_failure=0.3 * share,
        label=label,
    )


def frontier(*points: FrontierPoint) -> Frontier:
    chosen = frontier_point(29562.5, 0.83, "this plan")
    return Frontier(
        points=points
        or (frontier_point(30410.0, 0.41, "9 trucks"), chosen, frontier_point(29498.5, 1.32, "start 07:35")),
        chosen=chosen,
        candidates_count=88,
        replications_count=2000,
        sentence="this plan 29 563 cu, worst risk at 83 % of its limit; the safest +848 cu at 41 % by 9 trucks",
    )


def why() -> tuple[Step, ...]:
    return (
        Step("net volume", 215.1, "m³", Source("geometry", Provenance.DEFINITION)),
        Step("wastage", 1.0, "%", Source("pour sheet", Provenance.INPUT)),
        Step("evaporation at 13:00", 0.81, "kg/m²h", Source("Uno, ACI Materials Journal 95-M34", Provenance.PUBLISHED)),
        Step("pressure", 63.5, "kN/m²", ACI),
        Step("setting time at 24.1 °C", 4.4, "h", Source("equivalent age, EN 13670 A", Provenance.RECOMPUTED)),
        Step("cautious end of the band", "5 %", "", Source("own rule", Provenance.OWN_RULE)),
    )


def weather() -> WeatherSpread:
    return WeatherSpread(
        members_count=400,
        lead_h=66.0,
        temperature_spread_c=2.0,
        dew_point_spread_c=2.0,
        wind_spread_percent=34.0,
        sentence="400 weathers drawn about the forecast: 2.8 days after it was made, air ±2.0 °C, wind ±34 %.",
    )


def days(count: int = 3) -> tuple[DayTried, ...]:
    """The pour's own day in the middle, chosen; one before that breaks a limit, the last one beyond the forecast."""
    made = []
    for number in range(count):
        date = DAY + dt.timedelta(days=number - 1)
        planned = number < count - 1
        made.append(
            DayTried(
                date=date,
                is_chosen=date == DAY,
                is_pencilled=date == DAY,
                keeps_limits=planned and number > 0,
                start=at(440, date) if planned else None,
                cost_cu=36_000.0 + 10 * number if planned else None,
                replications_count=400 if date == DAY else 200 if planned else 0,
                is_searched=date == DAY,
                text="finishing ends out of hours 22 % (limit 10 %)" if planned else "no forecast for that day yet",
            )
        )
    return tuple(made)


def slab_plan(**other: Any) -> Plan:
    """A pour that goes with measures: every field filled."""
    given: dict[str, Any] = {
        "schema": PLAN_SCHEMA,
        "program": "wetfront 0.1.0",
        "project": "Tarnwick Community Health Centre",
        "place": "Tarnwick (fictional)",
        "invented": True,
        "currency": "cu",
        "time_zone": "UTC+01:00",
        "pour": "slab",
        "title": "Ground floor slab, bays A, B, C",
        "date": DAY,
        "verdict": Verdict.GO_WITH_MEASURES,
        "reasons": (
            "All eight risks stay under their limits.",
            "Evaporation reaches 0.81 kg/m²h at 13:00: over the action value 0.5, under the stop value 1.0.",
        ),
        "measures": (
            "Mist and film on hand from 09:00 for 860 m².",
            "Agreed emergency joint at x = 24 m: timber, dowels and sheets on the deck.",
        ),
        "specification_changed": ("Highest concrete temperature: at most 28 °C by the project, stricter than 30 °C",),
        "days": (),
        "nearest_change": (),
        "weather": weather(),
        "quantity": quantity(),
        "site_mixing": None,
        "decision": decision(),
        "end_of_placing": Moments(early=at(935), usual=at(950), late=at(965)),
        "end_of_finishing": Moments(early=at(1200), usual=at(1225), late=at(1248)),
        "risks": risks(),
        "cost": (CostLine(title="concrete", amount_cu=28160.0), CostLine(title="pump", amount_cu=1402.5)),
        "binding": ("Finishing hours until 21:00: half an hour later breaks the limit.", "Promised trucks: 8."),
        "runner_up": "Start 07:00, 14 min: 64 cu dearer, because trucks would queue at the gate from 08:30.",
        "opened": (),
        "changes": changes(),
        "limit_prices": limit_prices(),
        "frontier": frontier(),
        "strips": strips(),
        "edges": edges(),
        "loads": loads(),
        "pressure": pressure(),
        "reach": reach(),
        "readiness": readiness(),
        "charts": charts(),
        "drawings": (
            Drawing(title="Order of the strips", svg=DRAWING, sentence="C, then B, then A, far end first, strips 4 m."),
        ),
        "cautions": (
            "A plan, not a permit: the designer, the local codes and the licensed operator decide.",
            "After any stop everyone stands back from the hose until it flows.",
            "Pressure by ACI 347R rests on values from memory: check the standard.",
        ),
        "not_checked": ("gust at which the boom is stowed", "largest fall of the concrete"),
        "why": why(),
        "search": SearchRecord(
            candidates_count=312,
            replications_count=2000,
            total_replications_count=48_200,
            chance_best=0.91,
            possible_loss_cu=14.2,
            core="plain Python",
            seed=1,
        ),
        "inputs": (("slab.toml", "ab" * 32), ("weather-forecast.csv", "cd" * 32)),
    }
    return Plan(**(given | other))


def no_go_plan() -> Plan:
    """A pour that breaks a limit whatever is chosen."""
    broken = tuple(
        replace(each, probability=0.42, detail="late end 22:10 of 21:00")
        if each.key == "finishing_out_of_hours"
        else each
        for each in risks()
    )
    return slab_plan(
        verdict=Verdict.NO_GO,
        reasons=("Finishing after hours: 42 % against at most 10 %, whatever is chosen.",),
        nearest_change=("A joint at x = 24 m (agreed): bay C alone ends by 17:20.", "Another day: Friday 18 June."),
        risks=broken,
    )


def no_forecast_plan() -> Plan:
    """A day that the weather series does not reach: head, quantity and reasons only."""
    return slab_plan(
        pour="panel-2",
        title="Retaining wall, panel 2",
        date=dt.date(2027, 6, 25),
        verdict=Verdict.NO_FORECAST,
        reasons=("The forecast ends on 22 June 2027 23:00; the pour is on 25 June.",),
        measures=(),
        decision=None,
        end_of_placing=None,
        end_of_finishing=None,
        risks=(),
        cost=(),
        binding=(),
        runner_up="",
        opened=(),
        changes=(),
        limit_prices=(),
        frontier=None,
        strips=(),
        edges=(),
        loads=(),
        pressure=(),
        reach=(),
        charts=(),
        weather=None,
        drawings=(),
        search=None,
    )


def crowded_plan() -> Plan:
    """Far more of everything than six pages hold."""
    many = [replace(strips()[index % 9], order=index + 1, name=f"P{index + 1}") for index in range(150)]
    return slab_plan(
        title="A very long title of a pour that goes on and on, with elements from one end of the site to the other",
        reasons=tuple(f"Reason {index}: {'words ' * 20}" for index in range(12)),
        measures=tuple(f"Measure {index}: {'words ' * 15}" for index in range(12)),
        strips=tuple(many),
        days=days(31),
        loads=loads(160),
        readiness=readiness(120),
        why=why() * 30,
        cautions=tuple(f"Caution {index}: {'beware ' * 15}" for index in range(25)),
        inputs=tuple((f"file-{index}.csv", f"{index:064x}") for index in range(30)),
        changes=changes() * 4,
        pressure=pressure() * 4,
    )
