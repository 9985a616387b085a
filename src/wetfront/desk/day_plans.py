"""One pour on another day: may it be there, at which starts, how long does it take. For programmes of several pours."""

import datetime as dt
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from wetfront.desk.plan_pour import SEED
from wetfront.desk.situations import NoPlan, situation_on
from wetfront.errors import NoFeasiblePlan
from wetfront.nouns.plan import Verdict
from wetfront.nouns.sheet import CheckedSheet, Pour
from wetfront.placing.model import Floats, Replications
from wetfront.planning.book_limits import laid_over
from wetfront.planning.candidate import Candidate
from wetfront.planning.candidates import start_times
from wetfront.planning.conditions import conditions
from wetfront.planning.day import day_of
from wetfront.planning.judge import RISK_KEYS, costs
from wetfront.planning.needs import needs_of
from wetfront.planning.pour_plan import Shown, facts_of, reach_of, shown_of
from wetfront.planning.race import violation
from wetfront.planning.readiness import readiness_list
from wetfront.planning.search import Bench, search
from wetfront.planning.words import risk_words

Progress = Callable[[int, int, str], None]
OTHER_STARTS = 4
"""Starts looked at beside the best one, spread over the day."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StartPlan:
    """One start that keeps every limit. Minutes from local midnight of the day; one entry a replication."""

    start_min: float
    placing_end_min: Floats
    finishing_end_min: Floats
    cost_cu: float
    rate_m3_per_h: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DayPlan:
    """A pour on one day: starts that may be, the best first; none, and the reason, where it may not."""

    starts: tuple[StartPlan, ...]
    refused: str = ""
    no_forecast: bool = False


class DayPlanner(Protocol):
    """Plans one pour of a sheet on the date that the pour carries."""

    def __call__(
        self, checked: CheckedSheet, pour: Pour, executor: Executor | None, progress: Progress | None
    ) -> DayPlan: ...


def plan_day(
    checked: CheckedSheet, pour: Pour, executor: Executor | None = None, progress: Progress | None = None
) -> DayPlan:
    """The same search and the same verdict as `plan_pours` for this pour on this day, without the pages of the plan."""
    checked = replace(checked, sheet=laid_over(checked.sheet, pour).sheet)
    situation = situation_on(checked, pour, SEED)
    if isinstance(situation, NoPlan):
        no_forecast = situation.verdict is Verdict.NO_FORECAST
        refused = situation.reasons[0] if no_forecast else "; ".join(situation.reasons)
        return DayPlan(starts=(), refused=refused, no_forecast=no_forecast)
    found = search(situation, Bench(situation, SEED, executor, progress))
    if found is None:
        rate, who = situation.highest_rate()
        return DayPlan(starts=(), refused=f"no placing rate is permitted: {who} allows {rate:g} m³/h")
    try:
        shown = shown_of(situation, found)
    except NoFeasiblePlan as none:
        return DayPlan(starts=(), refused=none.message)
    against = [] if shown.feasible else _broken(shown)
    against += _against(checked, shown, shown.candidate, shown.outcome)
    if against:
        return DayPlan(starts=(), refused="; ".join(against[:3]))
    others = [_start_plan(checked, shown, start) for start in _other_starts(shown)]
    best = _told(shown, shown.candidate, shown.outcome)
    return DayPlan(starts=(best, *(other for other in others if other is not None)))


def _broken(shown: Shown) -> list[str]:
    rows = zip(RISK_KEYS, shown.sample.probabilities(), shown.found.limits, strict=True)
    return [risk_words(key, float(share), float(limit)) for key, share, limit in rows if share > limit]


def _against(checked: CheckedSheet, shown: Shown, candidate: Candidate, outcome: Replications) -> list[str]:
    """What speaks against the pour beside its risks: gusts, heat, reach, a failed check."""
    reach, lines = reach_of(shown.situation)
    facts = facts_of(shown)
    needs = needs_of(shown.situation.sheet, shown.situation.elements, facts)
    readiness = readiness_list(shown.situation.sheet, needs, facts, checked.readiness)
    return list(conditions(shown.situation, candidate, outcome, reach, lines, readiness).against)


def _other_starts(shown: Shown) -> list[float]:
    """Some starts spread over those that the day permits."""
    best = shown.candidate.start_min
    times = [time for time in start_times(shown.situation, shown.candidate.rate_m3_per_h) if abs(time - best) >= 30]
    if len(times) <= OTHER_STARTS:
        return times
    places = np.linspace(0, len(times) - 1, OTHER_STARTS).round().astype(int)
    return [times[place] for place in dict.fromkeys(places.tolist())]


def _start_plan(checked: CheckedSheet, shown: Shown, start_min: float) -> StartPlan | None:
    """The decision of the best plan at another start; None where it breaks a limit there."""
    candidate, bench = replace(shown.candidate, start_min=start_min), shown.found.bench
    count = len(shown.outcome.end_of_pour_min)
    if violation(bench.sample([candidate], 0, count)[0], shown.found.limits) > 0:
        return None
    outcome = bench.outcomes([candidate], count)[0]
    if outcome is None or _against(checked, shown, candidate, outcome):
        return None
    return _told(shown, candidate, outcome)


def _told(shown: Shown, candidate: Candidate, outcome: Replications) -> StartPlan:
    total = np.sum(list(costs(shown.situation, candidate, outcome).values()), axis=0)
    return StartPlan(
        start_min=candidate.start_min,
        placing_end_min=outcome.end_of_pour_min,
        finishing_end_min=np.maximum(outcome.finishing_end_min, outcome.end_of_pour_min),
        cost_cu=float(total.mean()),
        rate_m3_per_h=candidate.rate_m3_per_h,
    )


def same_hours(checked: CheckedSheet, one: dt.date, other: dt.date) -> bool:
    """True where hours, delivery bans and extensions of the two days are the same."""
    first, second = day_of(checked.sheet, one), day_of(checked.sheet, other)
    return first.works and (first.opens_min, first.closes_min, first.trowelling_until_min, first.bans) == (
        second.opens_min,
        second.closes_min,
        second.trowelling_until_min,
        second.bans,
    )
