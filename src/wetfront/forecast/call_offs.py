"""When the loads that nobody has seen yet are due at the plant: the plan's call-off, moved by what the day did."""

import math

from wetfront.forecast.record import Record
from wetfront.placing.model import Supply
from wetfront.placing.seen import Seen
from wetfront.placing.times import after_intervals, due_min

AHEAD = 200
"""Loads for which a time is named; after them the interval goes on."""


def due_after(supply: Supply, seen: Seen, record: Record, usual_stop_min: float) -> tuple[float, ...]:
    """Due times of all loads. Own rule: a plant that is more than an interval behind the plan, or before it, goes on
    from its last load; one that is less behind catches up as soon as it can, as the plan's does.

    A hold at the plant keeps what would be batched after it until the plant is told to send; while it goes on, until
    the pump is expected to run.
    """
    count = seen.loads_count
    last = float(seen.batching_min.max(initial=-math.inf))
    behind = last - due_min(supply, count - 1) if count else 0.0
    shift = behind if behind > supply.interval_min or behind < 0 else 0.0
    due = [due_min(supply, number) + shift for number in range(count + AHEAD)]
    interval = supply.interval_min
    held_since = math.nan
    for told in record.called:
        if told.order in ("hold", "stop"):
            held_since = told.at_min
        elif told.order in ("send", "faster", "slower", "balance"):
            if told.interval_min is not None:
                interval = told.interval_min
            resumed = told.at_min
            since = resumed if math.isnan(held_since) else held_since
            if not math.isnan(held_since) or told.interval_min is not None:
                due = _held(due, count, since, max(resumed, last), interval)
            held_since = math.nan
    if not math.isnan(held_since):
        due = _held(due, count, held_since, max(resumes_min(supply, record, usual_stop_min), last), interval)
    first = due[count] if len(due) > count else last
    return tuple(min(time, first) if number < count else time for number, time in enumerate(due))


def called_min(supply: Supply, due: float) -> float:
    """When a load that is due then is batched, so that its expected arrival falls in no ban."""
    plant = supply.plants[0]
    on_the_way = plant.batching_min.mean + plant.haul_min.mean
    expected = due + on_the_way
    allowed = after_intervals(expected, supply.bans)
    return due if allowed == expected else allowed - on_the_way


def resumes_min(supply: Supply, record: Record, usual_stop_min: float) -> float:
    """When a plant on hold is expected to be told to send: so that its load comes when a stop has lasted as usual."""
    going_on = [stop for stop in record.stops if stop.is_open]
    if not going_on:
        return record.now_min
    plant = supply.plants[0]
    usual_end = going_on[-1].since_min + usual_stop_min
    return max(record.now_min, usual_end - plant.batching_min.mean - plant.haul_min.mean)


def _held(due: list[float], count: int, since: float, resumed: float, interval: float) -> list[float]:
    kept = [time for time in due[count:] if time < since]
    later = len(due) - count - len(kept)
    begin = max([resumed, *(kept[-1:])])
    return [*due[:count], *kept, *(begin + interval * step for step in range(later))]
