"""What weather, noise, reach and check list say about a decision: reasons against it, and measures that it needs."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetfront.materials.admixture_classes import proposal_words
from wetfront.nouns.plan import Reach, ReadinessItem
from wetfront.placing.model import Replications
from wetfront.planning.candidate import Candidate
from wetfront.planning.day import Day
from wetfront.planning.hourly import evaporation_by_hour, grid
from wetfront.planning.rain import harmful_from_mm_per_h, rain_risk
from wetfront.planning.reach import LineDistance
from wetfront.planning.readiness import unsettled
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import fresh_temperature_c
from wetfront.planning.weather_shares import LIKELY, POSSIBLE, evaporation_by_weather, share_of, share_words
from wetfront.planning.words import percent, trucks_words

ON_THE_WAY_MIN = 60.0
"""How long before the first concrete a ban still concerns the pour's trucks (own rule)."""
REFUSED_SHOWN = 0.05
"""Share of replications with a load refused for its temperature from which the plan says so (own rule)."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """Reasons against, in order of weight; measures; sentences that inform."""

    against: tuple[str, ...]
    measures: tuple[str, ...]
    good: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OpenHours:
    """From the first concrete to the end of finishing, 95 % end."""

    from_min: float
    placed_min: float
    to_min: float


def open_hours(candidate: Candidate, outcome: Replications) -> OpenHours:
    """Hours in which a surface is open."""
    return OpenHours(
        candidate.start_min,
        float(np.quantile(outcome.end_of_pour_min, 0.95)),
        float(np.quantile(outcome.finishing_end_min, 0.95)),
    )


def conditions(
    situation: Situation,
    candidate: Candidate,
    outcome: Replications,
    reach: Sequence[Reach],
    lines: Sequence[LineDistance],
    readiness: Sequence[ReadinessItem],
) -> Conditions:
    """All of them together."""
    hours = open_hours(candidate, outcome)
    parts = [
        _form(situation, candidate, outcome),
        _clocks(situation, hours),
        _evaporation(situation, candidate, hours),
        _rain(situation, hours),
        _wind(situation, hours),
        _temperature(situation, candidate, outcome),
        _noise(situation, candidate, outcome),
        _reach(reach, lines),
        _ready(readiness),
        _resources(situation, candidate, hours.placed_min),
    ]
    return Conditions(
        tuple(text for part in parts for text in part.against),
        tuple(text for part in parts for text in part.measures),
        tuple(text for part in parts for text in part.good),
    )


def weather_against(situation: Situation, candidate: Candidate, outcome: Replications) -> tuple[str, ...]:
    """What evaporation, rain and wind say against a decision: what differs from day to day beside the risks."""
    hours = open_hours(candidate, outcome)
    parts = (_evaporation(situation, candidate, hours), _rain(situation, hours), _wind(situation, hours))
    return tuple(text for part in parts for text in part.against)


def _clocks(situation: Situation, hours: OpenHours) -> Conditions:
    told = clock_change(situation.day, hours.from_min - situation.lead_min, hours.to_min)
    return Conditions((), (told,) if told else (), ())


def clock_change(day: Day, from_min: float, to_min: float) -> str:
    """What to agree on where the clocks change between these minutes; empty where they do not."""
    before, after = (day.moment(minutes).utcoffset() or dt.timedelta() for minutes in (from_min, to_min))
    if before == after:
        return ""
    if after > before:
        return "the clocks go forward during the pour: an hour is left out of the times below; tell plant and crew"
    return (
        "the clocks go back during the pour: times of one hour stand twice below; go by load numbers, and say first or "
        "second on the telephone"
    )


def _evaporation(situation: Situation, candidate: Candidate, hours: OpenHours) -> Conditions:
    if not any(row.top_area_m2 > 0 for row in situation.volumes.quantities.rows):
        return Conditions((), (), ())
    specification = situation.sheet.specification
    times = grid(hours.from_min, hours.to_min, 60.0)
    rates = evaporation_by_hour(situation.weather, fresh_temperature_c(situation, candidate), times)
    known = [(rate, time) for rate, time in zip(rates, times, strict=True) if rate is not None]
    if not known:
        return Conditions((), (), ())
    worst, at = max(known)
    action, stop = specification.evaporation_action_kg_per_m2_h, specification.evaporation_stop_kg_per_m2_h
    clock = situation.day.clock
    by_weather = evaporation_by_weather(situation, candidate, times)
    stopped, acted = (_share(None if by_weather is None else by_weather >= limit) for limit in (stop, action))
    if worst >= stop or stopped >= LIKELY:
        over = [time for rate, time in known if rate >= stop]
        reached = f" from {clock(over[0])} to {clock(over[-1] + 60)}" if over else ""
        text = (
            f"evaporation {worst:.1f} kg/m²h at {clock(at)} by the forecast, over the stop value of {stop:g}{reached}"
            f"{_told(situation, stopped, ' ')}"
        )
        return Conditions((text,), (), ())
    over = [time for rate, time in known if rate >= action]
    if over or acted >= POSSIBLE:
        reached = (
            f"from {clock(over[0])} to {clock(over[-1] + 60)}"
            if over
            else f"where evaporation comes to the action value{_told(situation, acted, ', ')}"
        )
        text = (
            f"against drying {reached} (worst {worst:.1f} kg/m²h at {clock(at)}, action {action:g}, stop {stop:g}"
            f"{_told(situation, stopped, '; over stop ')}): mist or evaporation film on every open surface, wind break "
            "where one can stand, curing at once behind the trowel"
        )
        return Conditions((), (text,), ())
    return Conditions((), (), (f"evaporation at most {worst:.1f} kg/m²h (action {action:g}) at {clock(at)}",))


def _share(happens: NDArray[np.bool_] | None) -> float:
    """Share of the drawn weathers in which it happens in any hour; 0 where none are drawn."""
    return 0.0 if happens is None else share_of(happens)


def _told(situation: Situation, share: float, before: str) -> str:
    """The share in words after `before`; empty where no weathers are drawn."""
    drawn = situation.weather.drawn
    return "" if drawn is None else f"{before}{share_words(share, drawn)}"


def _rain(situation: Situation, hours: OpenHours) -> Conditions:
    specification, weather = situation.sheet.specification, situation.weather
    stop = specification.rain_stop_mm_per_h
    risk = rain_risk(weather, hours.from_min, hours.to_min, stop)
    if risk is None:
        return Conditions((), (), ())
    clock = situation.day.clock
    rain = None if weather.drawn is None else weather.drawn.members.hours(hours.from_min, hours.to_min).rain_mm
    stopped = _share(None if rain is None else rain >= stop)
    harmful = risk.harmful if rain is None else share_of(rain >= harmful_from_mm_per_h(stop))
    against: tuple[str, ...] = ()
    if risk.stop_mm_per_h >= stop or stopped >= LIKELY:
        against = (
            f"forecast rain of {risk.stop_mm_per_h:.1f} mm in an hour while a surface is open (placing stops at "
            f"{stop:g} mm/h{_told(situation, stopped, '; that much ')})",
        )
    area = situation.volumes.quantities.top_area_m2
    if risk.highest_any >= 0.2 and area > 0:
        text = (
            f"sheets on hand for {area:.0f} m² of open surface: any rain {percent(risk.highest_any)} at "
            f"{clock(risk.highest_at_min)}, harmful rain {percent(harmful)}"
        )
        return Conditions(against, (text,), ())
    return Conditions(against, (), (f"any rain at most {percent(risk.highest_any)} in an hour",))


def _wind(situation: Situation, hours: OpenHours) -> Conditions:
    stop, weather = situation.sheet.specification.wind_stop_m_per_s, situation.weather
    if stop is None or situation.pump.kind != "boom":
        return Conditions((), (), ())
    placing = (weather.minutes >= hours.from_min - 60) & (weather.minutes <= hours.placed_min)
    gusts = weather.gust_m_per_s[placing]
    if not len(gusts):
        return Conditions((), (), ())
    strongest = float(gusts.max())
    stopped = _share(None if weather.drawn is None else weather.drawn.members.gust_m_per_s[:, placing] >= stop)
    text = (
        f"gusts up to {strongest:.0f} m/s while placing (boom stowed at {stop:g} m/s{_told(situation, stopped, ', ')})"
    )
    if strongest >= stop or stopped >= LIKELY:
        return Conditions((text,), (), ())
    if stopped >= POSSIBLE:
        return Conditions((), (f"{text}: say beforehand how the front is kept alive while the boom is stowed",), ())
    return Conditions((), (), (text,))


def _temperature(situation: Situation, candidate: Candidate, outcome: Replications) -> Conditions:
    limits = situation.sheet.specification.concrete_temperature_at_placing_c
    if limits is None:
        return Conditions((), (), ())
    usual = fresh_temperature_c(situation, candidate)
    refused = float((outcome.refused_temperature_count > 0).mean())
    text = f"concrete about {usual:.0f} °C when placed (permitted {limits.min:g} to {limits.max:g} °C)"
    if refused >= REFUSED_SHOWN:
        measure = (
            f"{text}: {percent(refused)} chance that a load is refused for its temperature; ask the plant to hold it"
        )
        return Conditions((), (measure,), ())
    return Conditions((), (), (text,))


def _form(situation: Situation, candidate: Candidate, outcome: Replications) -> Conditions:
    """What the form's designer has to confirm: methods that do not cover this concrete, and colder concrete."""
    measures = []
    for limit in situation.form_limits(candidate.mix_option, candidate.cooler_by_c):
        if limit.full_head_kn_per_m2 <= limit.permitted_kn_per_m2:
            continue
        measures += [
            f"{limit.element}: {method.name} does not cover this concrete, and by full head "
            f"{limit.full_head_kn_per_m2:.0f} kN/m² the form ({limit.permitted_kn_per_m2:g}) would not do; the rate "
            f"stands on {limit.governs}: the form's designer has to confirm that method for this pour"
            for method in limit.methods
            if not method.covers
        ]
    formwork = situation.sheet.formwork
    assumed = None if formwork is None else formwork.designer_assumed_concrete_temperature_c
    if situation.forms and assumed is not None:
        coldest = float(np.quantile(outcome.lowest_placing_c, 0.05))
        if coldest < assumed:
            measures.append(
                f"concrete may come at {coldest:.1f} °C (5 %), colder than the {assumed:g} °C for which the form was "
                "designed: thermometer at every load, and slower or stopped below it"
            )
    return Conditions((), tuple(measures), ())


def _noise(situation: Situation, candidate: Candidate, outcome: Replications) -> Conditions:
    """Activities against the limit of each time that they touch."""
    day = situation.day
    ends = {
        "placing": (candidate.start_min, float(np.quantile(outcome.end_of_pour_min, 0.95))),
        "trowelling": (candidate.start_min + 120.0, float(np.quantile(outcome.finishing_end_min, 0.95))),
    }
    finish = situation.sheet.specification.finish
    if finish != "power-trowelled":
        del ends["trowelling"]
    measures, good = [], []
    for activity, (start, end) in ends.items():
        level = situation.level_db(activity)
        if level is None:
            continue
        broken = _broken(day, start, end, level)
        if broken:
            begin, limit = broken[0]
            hand = situation.level_db("hand-finishing")
            quieter = activity == "trowelling" and hand is not None and hand <= limit
            instead = (
                f"finish by hand from then on ({hand:g} dB)" if quieter else "ask for leave in time or be done by then"
            )
            measures.append(
                f"{activity} makes {level:g} dB at the neighbour, over the limit of {limit:g} dB from "
                f"{day.clock(begin)}: {instead}"
            )
        else:
            tightest = min((day.noise_limit_db(time) or level for time in np.arange(start, end, 15.0)), default=level)
            good.append(f"{activity} {level:g} dB at the neighbour, within {tightest:g} dB until {day.clock(end)}")
    return Conditions((), tuple(measures), tuple(good))


def _broken(day: Day, start: float, end: float, level: float) -> list[tuple[float, float]]:
    found = [
        (max(start, begin), limit)
        for begin, until, limit in day.noise
        if begin < end and until > start and limit < level
    ]
    return sorted(found)


def _reach(reach: Sequence[Reach], lines: Sequence[LineDistance]) -> Conditions:
    against = [] if not reach or reach[0].reaches_all else [reach[0].text]
    measures = [
        f"standby only in part: {boom.text}; say beforehand what is done where it does not reach"
        for boom in reach[1:]
        if not boom.reaches_all
    ]
    good = [reach[0].text] if reach and reach[0].reaches_all else []
    for line in lines:
        text = (
            f"stretched boom of {line.pump} comes to {line.least_distance_m:.1f} m of the {line.voltage_kv:g} kV line "
            f"in plan (agreed {line.agreed_m:g} m)"
        )
        if line.kept:
            good.append(text)
        else:
            measures.append(f"{text}: limit the boom's slew or get the line switched off; spotter")
    return Conditions(tuple(against), tuple(measures), tuple(good))


def _ready(readiness: Sequence[ReadinessItem]) -> Conditions:
    still = unsettled(readiness)
    return Conditions((), tuple(f"settle before the first truck: {item}" for item in still), ())


def _resources(situation: Situation, candidate: Candidate, placed_min: float) -> Conditions:
    measures = []
    beyond = candidate.trucks_count - situation.sheet.trucks.count_promised
    if beyond > 0:
        measures.append(
            f"ask the plant for {trucks_words(beyond)} beyond the {situation.sheet.trucks.count_promised} promised"
        )
    if candidate.mix_option:
        measures.append(f"order the mix with its option {candidate.mix_option}")
        told = next(each for each in situation.sheet.mix[situation.pour.mix].option if each.id == candidate.mix_option)
        proposed = proposal_words(told, situation.mix)
        if proposed:
            measures.append(f"option {candidate.mix_option}: {proposed}")
    day = situation.day
    for reason, start, end in day.ban_reasons:
        if start < placed_min and end > candidate.start_min - ON_THE_WAY_MIN:
            measures.append(f"no truck arrives from {day.clock(start)} to {day.clock(end)} ({reason}): tell the plant")
    return Conditions((), tuple(measures), ())
