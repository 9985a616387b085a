"""The days that were tried, and the weathers that the plan was judged on, in words."""

from typing import Any

from wetfront.dossier.paper import Caps, fitting, more
from wetfront.dossier.words import MONTHS, WEEKDAYS, clock, number, plain
from wetfront.nouns.plan import DayTried, Plan


def day_words(day: DayTried) -> str:
    """Thu 17 Jun, with what it is."""
    name = f"{WEEKDAYS[day.date.weekday()][:3]} {day.date.day} {MONTHS[day.date.month - 1][:3]}"
    marks = [word for word, holds in (("chosen", day.is_chosen), ("pencilled", day.is_pencilled)) if holds]
    return f"{name} ({', '.join(marks)})" if marks else name


def day_line(plan: Plan, day: DayTried) -> str:
    """One day in one line of the screen."""
    if day.start is None or day.cost_cu is None:
        return f"{day_words(day)}: not planned: {day.text}"
    answer = "keeps every limit" if day.keeps_limits else "NOT within the limits"
    cost = f"{number(day.cost_cu, 0)} {plan.currency}"
    return f"{day_words(day)}: {answer}, start {clock(day.start, day.date)}, {cost}; {day.text}"


def days_first(plan: Plan) -> list[DayTried]:
    """The chosen day first, then the pencilled one, then the others by date: where room is short the last give way."""
    return sorted(plan.days, key=lambda day: (not day.is_chosen, not day.is_pencilled, day.date))


def days_view(plan: Plan, caps: Caps) -> dict[str, Any]:
    """The table of days; no rows where the sheet leaves only the pour's own."""
    shown = sorted(days_first(plan)[: caps.days], key=lambda day: day.date)
    return {
        "rows": [_row(day) for day in shown],
        "more": more(len(plan.days), caps.days),
        "key": "Searched: the whole search ran on that day; screened: the best decisions of the day searched first, at "
        f"starts of that day. Cost in {plain(plan.currency)}, on so many simulated pours.",
    }


def _row(day: DayTried) -> list[str]:
    planned = day.start is not None and day.cost_cu is not None
    how = ("searched" if day.is_searched else "screened") + f", {day.replications_count}"
    return [
        day_words(day),
        "keeps" if day.keeps_limits else "BREAKS" if planned else "NOT PLANNED",
        clock(day.start, day.date) if day.start is not None else "",
        number(day.cost_cu, 0) if day.cost_cu is not None else "",
        how if planned else "",
        fitting(day.text, 110),
    ]
