"""What-ifs: the ways to go on beside each other, on the same draws, with what each costs and needs.

Every answer is a comparison. Nothing here says that a way is safe.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wetfront.errors import InvalidInput
from wetfront.forecast.cells import cut_off
from wetfront.forecast.pour import THREADS, Forecast
from wetfront.forecast.stopping import joints_ahead, on_pump_m3
from wetfront.forecast.views import as_band
from wetfront.nouns.board import Comparison, Option, Question
from wetfront.placing.chance import Chance
from wetfront.placing.core.prepared import simulate
from wetfront.placing.model import Floats, PourModel, Replications
from wetfront.planning.judge import costs
from wetfront.planning.steps import moments

HOSE = "Everyone back from the hose until it flows. Restart away from the work. Nobody opens a coupling under pressure."
"""After any stop, before any number."""
RAIN_LASTS_MIN = 60.0
"""Own rule: a shower that is asked about keeps the pump from taking a truck for so long."""
LONGEST_MIN = 600.0
STOP_NEEDS = (
    "stop end or timber across the front, dowels or continuous steel by the drawing, vibrators to the face; roughened "
    "and cleaned before going on; another place for the loads on the road; the rest on another day, not in this price"
)
_SOON = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way to go on, ready to be simulated."""

    title: str
    needs: str
    model: PourModel
    chance: Chance
    extra_cu: float = 0.0
    note: str = ""
    is_stop: bool = False
    """It ends before the pour is whole: taken only where going on is at more risk."""


def compared(forecast: Forecast, question: Question) -> Comparison:
    """Answer a question about the rest of the pour. InvalidInput: minutes or moment missing or out of range."""
    if forecast.has_ended:
        raise InvalidInput("question", "placing has ended: nothing is left to compare")
    ways, asked, caution = _ASKED[question.kind](forecast, question)
    ways, outcomes = _unlike(ways)
    if any(stop.is_open for stop in forecast.record.stops):
        caution = HOSE
    found = _comparison(forecast, ways, outcomes, asked, caution)
    if question.kind == "pump down" and len(found.options) > 1:
        sent, held = (option.oldest_load_min.high for option in found.options[:2])
        if sent > held:
            queue = (
                f"; it is the queue behind the stop that ages the loads, not the stop: the oldest is {sent:.0f} min "
                f"with the plant sending, {held:.0f} min with it held"
            )
            found = replace(found, reason=found.reason + queue)
    return found


def _unlike(ways: Sequence[Way]) -> tuple[list[Way], list[Replications]]:
    """The ways with what they lead to, without those that do exactly as one before them."""
    kept: list[Way] = []
    outcomes: list[Replications] = []
    for way in ways:
        outcome = simulate(way.model, way.chance, threads=THREADS)
        same = any(np.array_equal(outcome.end_of_pour_min, other.end_of_pour_min) for other in outcomes)
        if not same or way.note == ON_TIME:
            kept.append(way)
            outcomes.append(outcome)
    return kept, outcomes


def _minutes(question: Question) -> float:
    minutes = question.minutes
    if minutes is None or not 0 < minutes <= LONGEST_MIN:
        raise InvalidInput("minutes", f"minutes is {minutes}; allowed: over 0 to {LONGEST_MIN:g}")
    return minutes


Asked = tuple[list[Way], str, str]
Key = tuple[bool, float, bool, float]
"""What is only there to compare with comes last; then the risk over its limit, no stop before a stop, and money."""
ON_TIME, NOT_AGREED = "for comparison", "at no agreed place"


def _late(forecast: Forecast, question: Question) -> Asked:
    """The next truck that nobody has seen yet comes so much later."""
    late = _minutes(question)
    base, number = forecast.model, _count(forecast)
    haul = forecast.way.chance.haul_min.copy()
    haul[:, number] += late
    chance = replace(forecast.way.chance, haul_min=haul)
    ways = [Way("wait for it", "nothing", base, chance)]
    due = forecast.next_call_min
    now = forecast.record.now_min
    if due is not None and due > now:
        ways.append(
            Way("call the next load now", "a truck and the plant free for it", _due_from(forecast, now), chance)
        )
    ways.append(Way("as it stands, on time", "nothing", base, forecast.way.chance, note=ON_TIME))
    return ways, f"What if the next truck comes {late:g} min late?", ""


def _pump_down(forecast: Forecast, question: Question) -> Asked:
    """The pump stands still for so long from now on."""
    down = _minutes(question)
    chance = with_pump_down(forecast, down)
    back = _meets_the_pump(forecast, down)
    ways = [
        Way("the plant goes on sending", "places for the queue", _due_from(forecast, None), chance),
        Way(
            f"hold the plant until {forecast.by.situation.day.clock(back)}, so that its load finds no queue",
            "a call to the plant now, and one when the pump is clear",
            _held(forecast, back),
            chance,
        ),
    ]
    sheet = forecast.by.situation.sheet
    standby = next((pump for pump in sheet.pump if pump.standby and pump.callout_min is not None), None)
    if standby is not None and standby.callout_min is not None and standby.callout_min < down:
        ways.append(
            Way(
                f"call out {standby.id}",
                f"its call-out ({standby.callout_min:g} min), its place and reach: it may not reach all that is left",
                _held(forecast, _meets_the_pump(forecast, float(standby.callout_min))),
                with_pump_down(forecast, float(standby.callout_min)),
                extra_cu=sheet.prices.standby_pump_callout_cu,
            )
        )
    ways += _stops_at_joints(forecast, chance, _held(forecast, back))
    return ways, f"What if the pump is down for {down:g} min?", HOSE


def _rain(forecast: Forecast, question: Question) -> Asked:
    if question.at is None:
        raise InvalidInput("at", "at is missing: when does the rain come?")
    begin = forecast.by.situation.day.minutes(question.at)
    now = forecast.record.now_min
    if not now <= begin <= now + 24 * 60:
        raise InvalidInput("at", f"at is {question.at.isoformat()}; allowed: from now to 24 hours on")
    end = begin + RAIN_LASTS_MIN
    model = forecast.model
    others = tuple(stop for stop in model.site.weather_stops if stop[1] <= begin or stop[0] >= end)
    site = replace(model.site, weather_stops=tuple(sorted((*others, (begin, end)))))
    plant = model.supply.plants[0]
    lead = plant.batching_min.mean + plant.haul_min.mean
    due = tuple(end - lead if begin - lead <= time < end - lead else time for time in model.supply.due_min)
    clock, sheets = forecast.by.situation.day.clock(begin), "sheets for the open surface"
    ways = [Way("go on, the pump takes no truck in the rain", sheets, replace(model, site=site), forecast.way.chance)]
    if due != model.supply.due_min:
        held = replace(model, site=site, supply=replace(model.supply, due_min=tuple(sorted(due))))
        title = "the plant sends none that would come in the rain"
        ways.append(Way(title, f"{sheets}, a call to the plant", held, forecast.way.chance))
    ways += _stops_at_joints(forecast, forecast.way.chance, model)
    return ways, f"What if rain keeps the pump idle from {clock} for {RAIN_LASTS_MIN:g} min?", ""


def _stop_here(forecast: Forecast, question: Question) -> Asked:
    ways = [Way("go on to the end", "nothing more", forecast.model, forecast.way.chance)]
    ways += _stops_at_joints(forecast, forecast.way.chance, forecast.model)
    ways += _stop_at_once(forecast)
    joints = joints_ahead(forecast)
    told = "; ".join(joint.words for joint in joints) or "the sheet names no joint"
    if not any(not joint.is_behind for joint in joints):
        told += "; a stop here is at no agreed place: the designer decides where and how"
    return ways, f"Where can the pour stop? {told}", ""


_ASKED = {"next truck late": _late, "pump down": _pump_down, "rain": _rain, "stop here": _stop_here}


def _meets_the_pump(forecast: Forecast, down_min: float) -> float:
    """When the plant has to send again, so that its load comes when those on site and on the road have been pumped."""
    supply, record = forecast.model.supply, forecast.record
    coming = sum(load.volume_m3 for load in record.loads if not load.is_out) + forecast.begun_count * supply.load_m3
    cells = forecast.model.cells
    pumping = (
        60
        * max(0.0, coming - on_pump_m3(forecast))
        * float(np.average(1 / cells.rate_m3_per_h, weights=cells.volume_m3))
    )
    plant = supply.plants[0]
    meets = record.now_min + down_min + pumping - plant.batching_min.mean - plant.haul_min.mean
    return max(record.now_min, meets)


def _count(forecast: Forecast) -> int:
    seen = forecast.model.seen
    return 0 if seen is None else seen.loads_count


def _due_from(forecast: Forecast, first_min: float | None) -> PourModel:
    """The same call-off with the first load that is still to be called due at this moment; None: as planned."""
    model = forecast.model
    supply, count = model.supply, _count(forecast) + forecast.begun_count
    due = list(supply.due_min) or [supply.first_batching_min + k * supply.interval_min for k in range(count + 100)]
    if first_min is not None and count < len(due):
        # A plant that is late has later loads due already: none of them overtakes the one that is called now.
        due[count] = max(first_min, *due[:count][-1:], -math.inf)
        due[count + 1 :] = [max(time, due[count]) for time in due[count + 1 :]]
    return replace(model, supply=replace(supply, due_min=tuple(due)))


def _held(forecast: Forecast, back_min: float) -> PourModel:
    """Loads that are to be called come no earlier than this; after it they follow at the interval."""
    model = forecast.model
    supply, count = model.supply, _count(forecast) + forecast.begun_count
    due = list(supply.due_min) or [supply.first_batching_min + k * supply.interval_min for k in range(count + 100)]
    for place in range(count, len(due)):
        due[place] = max(due[place], back_min + (place - count) * supply.interval_min)
    return replace(model, supply=replace(supply, due_min=tuple(due)))


def with_pump_down(forecast: Forecast, down_min: float) -> Chance:
    """The same draws with the pump down for so long from now on; a stop that goes on ends then."""
    record, chance, seen = forecast.record, forecast.way.chance, forecast.model.seen
    going_on = [stop for stop in record.stops if stop.is_open and stop.is_of_the_pump]
    begun = np.zeros(0, dtype=np.int64)
    if seen is not None:
        begun = np.flatnonzero(~np.isnan(seen.start_min) & np.isnan(seen.end_min))
    up, repair = chance.up_min.copy(), chance.repair_min.copy()
    if going_on:
        start = float(seen.start_min[begun[0]]) if seen is not None and len(begun) else record.now_min
        before = sum(stop.since_min >= start and not stop.is_open and stop.is_of_the_pump for stop in record.stops)
        lasted = record.now_min - going_on[-1].since_min if len(begun) else 0.0
        repair[:, before] = lasted + down_min
        return replace(chance, repair_min=repair)
    pumped = _SOON
    if seen is not None and len(begun):
        pumped = max(record.now_min - float(seen.start_min[begun[0]]), _SOON)
    count = chance.count
    up = np.column_stack([np.full(count, pumped), np.maximum(up[:, :1] - pumped, _SOON), up[:, 1:-1]])
    repair = np.column_stack([np.full(count, down_min), repair[:, :-1]])
    return replace(chance, up_min=np.ascontiguousarray(up), repair_min=np.ascontiguousarray(repair))


def _stops_at_joints(forecast: Forecast, chance: Chance, model: PourModel) -> list[Way]:
    """Going on to each joint ahead, and ending there."""
    found = []
    for ahead in joints_ahead(forecast):
        if ahead.is_behind:
            continue
        short, on_same_draws = cut_off(model, chance, ahead.before)
        agreed = "" if ahead.joint.agreed_emergency else "; the designer's agreement, which the sheet does not give"
        found.append(
            Way(
                f"stop now at {ahead.where}"
                if ahead.is_here
                else f"go on for {ahead.until_m3:.0f} m³ to {ahead.where} and stop",
                STOP_NEEDS + agreed,
                short,
                on_same_draws,
                extra_cu=forecast.by.situation.sheet.prices.split_cu,
                is_stop=True,
            )
        )
    return found


def _stop_at_once(forecast: Forecast) -> list[Way]:
    """Where the front stands, at no agreed place: shown beside the others, never recommended."""
    seen = forecast.model.seen
    if seen is None or not seen.cells_count or any(ahead.is_here for ahead in joints_ahead(forecast)):
        return []
    keep = np.arange(len(forecast.model.cells.volume_m3)) < max(seen.cells_count, len(seen.cell_load))
    short, on_same_draws = cut_off(forecast.model, forecast.way.chance, keep)
    needs = f"the designer's decision, at once: this is no agreed place; {STOP_NEEDS}"
    split = forecast.by.situation.sheet.prices.split_cu
    return [
        Way("stop where the front stands", needs, short, on_same_draws, extra_cu=split, note=NOT_AGREED, is_stop=True)
    ]


def _comparison(
    forecast: Forecast, ways: Sequence[Way], outcomes: Sequence[Replications], asked: str, caution: str
) -> Comparison:
    day, situation = forecast.by.situation.day, forecast.by.situation
    options, keys = [], []
    for way, outcome in zip(ways, outcomes, strict=True):
        money = _money(forecast, outcome) + way.extra_cu
        late = (outcome.end_of_pour_min > day.closes_min) | (outcome.loads_after_closing > 0)
        cold = float((outcome.cold_joint_area_m2 > 0).mean())
        over = float((outcome.area_over_specification_m2 > 0).mean())
        hours = float(late.mean())
        waiting = as_band(outcome.most_trucks_waiting.astype(np.float64))
        oldest = as_band(outcome.oldest_age_min)
        options.append(
            Option(
                title=way.title,
                needs=way.needs,
                end_of_placing=moments(day, outcome.end_of_pour_min),
                chance_of_cold_joint=cold,
                chance_over_specification=over,
                chance_out_of_hours=hours,
                oldest_load_min=oldest,
                trucks_waiting=waiting,
                cost_cu=as_band(money),
                text=f"oldest load {oldest.high:.0f} min, up to {waiting.high:.0f} trucks waiting (19 of 20 courses)"
                + (f"; {way.note}" if way.note else ""),
            )
        )
        limits = situation.sheet.risk_limits
        excess = max(cold / max(limits.cold_joint, 1e-3), hours / max(limits.placing_out_of_hours, 1e-3), 1.0)
        keys.append((way.note in (ON_TIME, NOT_AGREED), round(excess, 1), way.is_stop, float(money.mean())))
    best = min(range(len(keys)), key=keys.__getitem__)
    return Comparison(
        question=asked, caution=caution, options=tuple(options), recommended=best, reason=_reason(options, keys, best)
    )


def _money(forecast: Forecast, outcome: Replications) -> Floats:
    total: Floats = np.sum(list(costs(forecast.by.situation, forecast.by.candidate, outcome).values()), axis=0)
    return total


def _reason(options: Sequence[Option], keys: Sequence[Key], best: int) -> str:
    """What was compared with what; a recommendation, never a promise."""
    chosen = options[best]
    others = [place for place in range(len(options)) if place != best and not keys[place][0]]
    if not others:
        return "there is no other way to compare it with"
    other = options[min(others, key=lambda place: keys[place])]
    parts = [
        f"cold joint in {chosen.chance_of_cold_joint:.0%} of the courses against {other.chance_of_cold_joint:.0%}",
        f"{chosen.cost_cu.usual:.0f} cu against {other.cost_cu.usual:.0f}",
        f"oldest load {chosen.oldest_load_min.high:.0f} min against {other.oldest_load_min.high:.0f}",
    ]
    text = f"{chosen.title}, beside {other.title}: {'; '.join(parts)}"
    if chosen.trucks_waiting.high < other.trucks_waiting.high:
        text += f"; up to {chosen.trucks_waiting.high:.0f} trucks wait instead of {other.trucks_waiting.high:.0f}"
    return text
