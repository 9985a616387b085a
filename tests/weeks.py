"""Small weeks for the tests of programmes, and a look at every assignment that shares no code with the solver."""

import datetime as dt
import itertools
import math
import random
from collections.abc import Collection, Mapping, Sequence
from functools import cache

import numpy as np

from wetfront.nouns.programme import FormSet, Neighbours, PourOrder, SharedCrew, SharedPlant, SharedPump, StrikingTime
from wetfront.planning.week import Away, DayOption, PourTask, Week
from wetfront.planning.week_hold import working_time

MONDAY = dt.date(2027, 6, 14)
WORKDAYS = ("mon", "tue", "wed", "thu", "fri")
CALENDAR_D = 60


def day(number: int) -> dt.date:
    return MONDAY + dt.timedelta(days=number)


def option(pour: str, number: int, start_min: float, durations: Sequence[float], cost: float = 1000.0) -> DayOption:
    """A pour on a day, its placing as long as the durations say, its finishing an hour longer."""
    start = 1440.0 * number + start_min
    ends = start + np.array(durations, dtype=float)
    return DayOption(
        pour=pour,
        day=day(number),
        start_min=start,
        placing_end_min=ends,
        finishing_end_min=ends + 60.0,
        cost_cu=cost,
        rate_m3_per_h=10.0,
    )


def task(pour: str, options: Sequence[DayOption], latest: int = 30, preferred: int = 0, **other: object) -> PourTask:
    given: dict[str, object] = {
        "id": pour,
        "title": f"pour {pour}",
        "earliest": MONDAY,
        "latest": day(latest),
        "preferred": day(preferred),
        "order_m3": 20.0,
        "options": tuple(options),
    }
    return PourTask(**(given | other))  # type: ignore[arg-type]


def form_set(count: int = 1, hours: float = 24.0, reset_h: float = 8.0) -> FormSet:
    """A form set that is struck after exactly so many hours."""
    time = StrikingTime(low=hours, usual=hours, high=hours)
    return FormSet(id="wall", count=count, until_struck_h=time, strike_clean_reset_h=reset_h)


def week(tasks: Sequence[PourTask], **other: object) -> Week:
    given: dict[str, object] = {
        "first_day": MONDAY,
        "zone": dt.UTC,
        "tasks": tuple(tasks),
        "crews": (SharedCrew(id="gang", between_pours_min=30),),
        "pumps": (SharedPump(id="boom", between_pours_min=60),),
        "form_sets": (form_set(),),
        "working": working_time(MONDAY, CALENDAR_D, dt.UTC, WORKDAYS, (), dt.time(7), dt.time(17)),
    }
    return Week(**(given | other))  # type: ignore[arg-type]


def random_week(seed: int) -> Week:
    """Three or four pours with a few days each that share this and that."""
    dice = random.Random(seed)
    names = ["a", "b", "c", "d"][: dice.choice((3, 3, 4))]
    tasks = []
    for name in names:
        numbers = sorted(dice.sample((0, 1, 2, 3, 4, 7), 3))
        starts = dice.sample((420, 540, 660, 780), dice.choice((1, 2)))
        options = [
            option(name, number, start, [dice.uniform(60, 300) for _ in range(20)], cost=dice.randrange(500, 900))
            for number in numbers
            for start in sorted(starts)
        ]
        tasks.append(
            task(
                name,
                options,
                latest=dice.choice((numbers[1], numbers[2])),
                preferred=dice.choice(numbers[:2]),
                crew=dice.choice(("gang", "")),
                pump=dice.choice(("boom", "")),
                form_set=dice.choice(("wall", "")),
                plant=dice.choice(("plant", "")),
                late_cu_per_day=dice.choice((0.0, 70.0, 300.0)),
                order_m3=dice.choice((20.0, 35.5)),
                fixed=dice.random() < 0.1,
            )
        )
    orders = (
        [PourOrder(pour="b", after=("a",), least_days_between=dice.choice((0, 1, 2)))] if dice.random() < 0.5 else []
    )
    apart = [Neighbours(pours=("a", "c"), least_days_between=dice.choice((1, 2)))] if dice.random() < 0.4 else []
    return week(
        tasks,
        form_sets=(form_set(dice.choice((1, 1, 2)), dice.choice((12.0, 20.0)), dice.choice((2.0, 5.0))),),
        plants=(SharedPlant(id="plant", most_in_a_day_m3=dice.choice((36.0, 60.0)), most_at_once_m3_per_h=15.0),),
        orders=tuple(orders),
        neighbours=tuple(apart),
        away=(Away(kind="pump", id="boom", count=1, from_min=1440.0, to_min=2 * 1440.0),)
        if dice.random() < 0.2
        else (),
        lost_days=frozenset({day(dice.choice((0, 2)))}) if dice.random() < 0.2 else frozenset(),
        chance=dice.choice((0.5, 0.9)),
    )


# From here on the slow search: every assignment, every rule looked at by itself.

RuleName = tuple[str, str]


def share_over(values: Sequence[float], chance: float) -> int:
    """The least whole minute by which this share of the values is over."""
    ordered = sorted(float(value) for value in values)
    return math.ceil(ordered[math.ceil(chance * len(ordered) - 1e-9) - 1] - 1e-6)


def worked_through(start: float, work: float) -> float:
    """When so many minutes of work, begun at `start`, are done: by walking the calendar day by day."""
    for number in range(CALENDAR_D):
        if day(number).weekday() >= 5:
            continue
        opens, closes = 1440 * number + 420, 1440 * number + 1020
        begins = max(start, opens)
        if begins < closes:
            if work <= closes - begins + 1e-9:
                return begins + work
            work -= closes - begins
    return 1e7


def released(week: Week, kind: str, chosen: DayOption) -> int:
    """When crew, pump or form of this option is free, with the week's chance."""
    if kind == "pump":
        return pause_over(chosen, week.pumps[0].between_pours_min, week.chance)
    if kind == "crew":
        return pause_over(chosen, 60.0 + week.crews[0].between_pours_min, week.chance)
    return form_over(chosen, week.form_sets[0], week.form_held_until_min.get(chosen.pour, 0.0), week.chance)


@cache
def pause_over(chosen: DayOption, pause: float, chance: float) -> int:
    return share_over([float(end) + pause for end in chosen.placing_end_min], chance)


@cache
def form_over(chosen: DayOption, form: FormSet, held: float, chance: float) -> int:
    struck = [max(float(end) + 60 * form.until_struck_h.usual, held) for end in chosen.placing_end_min]
    return share_over([worked_through(moment, 60 * form.strike_clean_reset_h) for moment in struck], chance)


def most_at_once(spans: Sequence[tuple[float, float, float]]) -> float:
    """Highest sum of weights of spans that run at the same time."""
    return max((sum(w for s, e, w in spans if s <= at < e) for at, _, _ in spans), default=0.0)


def keeps(week: Week, chosen: Mapping[str, DayOption], off: Collection[RuleName] = ()) -> bool:
    """True where the assignment keeps every rule that is not off."""
    for each in week.tasks:
        if each.id not in chosen:
            if ("pour", each.id) not in off:
                return False
            continue
        if ("latest", each.id) not in off and not each.done and chosen[each.id].day > each.latest:
            return False
        if each.fixed and not each.done and ("fixed", each.id) not in off and chosen[each.id].day != each.preferred:
            return False
    return _orders_kept(week, chosen, off) and _resources_kept(week, chosen, off) and _plants_kept(week, chosen, off)


def _orders_kept(week: Week, chosen: Mapping[str, DayOption], off: Collection[RuleName]) -> bool:
    for number, order in enumerate(week.orders):
        for first in order.after:
            if ("order", f"{number}:{first}") in off or order.pour not in chosen:
                continue
            if first not in chosen:
                return False
            one, other = chosen[first], chosen[order.pour]
            if (other.day - one.day).days < order.least_days_between:
                return False
            if math.floor(other.start_min) < pause_over(one, 0.0, week.chance):
                return False
    for number, group in enumerate(week.neighbours):
        for one, other in itertools.combinations(group.pours, 2):
            there = one in chosen and other in chosen and ("neighbours", f"{number}:{one}:{other}") not in off
            if there and abs((chosen[one].day - chosen[other].day).days) < group.least_days_between:
                return False
    return True


def _resources_kept(week: Week, chosen: Mapping[str, DayOption], off: Collection[RuleName]) -> bool:
    for kind, key, pool in (
        ("crew", "crew", week.crews),
        ("pump", "pump", week.pumps),
        ("form set", "form_set", week.form_sets),
    ):
        if (kind, pool[0].id) in off:
            continue
        spans = [
            (math.floor(picked.start_min), released(week, kind, picked), 1.0)
            for pour, picked in chosen.items()
            if getattr(week.task(pour), key)
        ]
        spans += [(entry.from_min, entry.to_min, entry.count) for entry in week.away if entry.kind == kind]
        if any(getattr(entry, key) for entry in week.tasks) and most_at_once(spans) > pool[0].count:
            return False
    return True


def _plants_kept(week: Week, chosen: Mapping[str, DayOption], off: Collection[RuleName]) -> bool:
    for plant in week.plants:
        users = [picked for pour, picked in chosen.items() if week.task(pour).plant]
        if ("plant day", plant.id) not in off and plant.most_in_a_day_m3 is not None:
            for date in {picked.day for picked in users}:
                volume = sum(week.task(picked.pour).order_m3 for picked in users if picked.day == date)
                if volume > plant.most_in_a_day_m3 + 1e-9:
                    return False
        if ("plant rate", plant.id) not in off and plant.most_at_once_m3_per_h is not None:
            spans = [
                (math.floor(each.start_min), pause_over(each, 0.0, week.chance), each.rate_m3_per_h) for each in users
            ]
            if most_at_once(spans) > plant.most_at_once_m3_per_h + 1e-9:
                return False
    return True


def permitted(week: Week, each: PourTask) -> list[DayOption]:
    """Options that nothing that has happened rules out."""
    least = week.not_before.get(each.id, MONDAY)
    return [one for one in each.options if one.day >= max(least, each.earliest) and one.day not in week.lost_days]


def every_assignment(week: Week, off: Collection[RuleName] = ()) -> list[dict[str, DayOption]]:
    """All assignments that keep the rules."""
    pools: list[list[DayOption | None]] = [
        [*permitted(week, each), *([None] if ("pour", each.id) in off else [])] for each in week.tasks
    ]
    found = []
    for picks in itertools.product(*pools):
        chosen = {pick.pour: pick for pick in picks if pick is not None}
        if keeps(week, chosen, off):
            found.append(chosen)
    return found


def worth(week: Week, chosen: Mapping[str, DayOption]) -> tuple[int, ...]:
    """What an assignment is compared by, in the order in which the documentation names it."""
    money = off = early = moved = days = restarted = 0
    for each in week.tasks:
        picked = chosen[each.id]
        late = max(0, (picked.day - each.preferred).days)
        before = week.previous.get(each.id)
        shift = 0 if before is None else (picked.day - before[0]).days
        moving = week.moved_pour_cu + week.moved_cu_per_day * abs(shift) if shift else 0.0
        money += round(100 * (picked.cost_cu + each.late_cu_per_day * late + moving))
        off += abs((picked.day - each.preferred).days)
        early += math.floor(picked.start_min)
        moved += shift != 0
        days += abs(shift)
        restarted += before is not None and shift == 0 and picked.start_min != before[1]
    last = (money, off, early)
    return (moved, days, restarted, *last) if week.least_change else last


def best(week: Week) -> tuple[int, ...] | None:
    """The least worth of all assignments; None where none keeps the rules."""
    return min((worth(week, chosen) for chosen in every_assignment(week)), default=None)
