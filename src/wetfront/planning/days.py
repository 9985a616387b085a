"""The start day as a decision: every permitted day is screened, the good ones are searched in full, the best is chosen.

On the first day the whole search runs. Its best decisions are tried on each other day at starts of that day's own, on
few replications; the best of the days left then get the whole search as well. Days share their draws, and a weather is
one weather over all of them, so that a difference between two days is seen as soon as one between two candidates.
"""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from wetfront.nouns.plan import DayTried
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.conditions import weather_against
from wetfront.planning.cut_short import BY_CTRL_C, search_or_best_so_far
from wetfront.planning.judge import RISK_KEYS, risk_limits
from wetfront.planning.race import BENEFIT_OF_DOUBT, Rounds, Sample, paired_difference, ranked, violation
from wetfront.planning.rule_of_thumb import rule_of_thumb
from wetfront.planning.search import LOGISTICS_ROUNDS, Bench, Found, coarse_starts, race_of
from wetfront.planning.situation import Situation
from wetfront.planning.words import money, risk_words

DECISIONS_SCREENED = 10
SCREEN_ROUNDS: Rounds = ((8, 12), (40, 1))
DAY_REPLICATIONS = 200
"""On which a decision is shown on a day that is not searched in full."""
DAYS_SEARCHED = 3
"""In full, the first one among them."""


@dataclass(frozen=True, slots=True, eq=False)
class OnDay:
    """A decision on one day: its replications, and what the weather says against it beside the risks."""

    situation: Situation
    candidate: Candidate
    sample: Sample
    against: tuple[str, ...]
    found: Found | None = None
    """Where the day was searched in full."""
    ends: bool = True
    """False where not one replication can be carried to its end."""

    @property
    def date(self) -> dt.date:
        """The day."""
        return self.situation.day.date

    def keeps(self, limits: Floats) -> bool:
        """Every risk within its limit, and nothing against it."""
        return not self.against and violation(self.sample, limits) == 0


@dataclass(frozen=True, slots=True, eq=False)
class Days:
    """What was tried on which day; `chosen` is one of those searched in full."""

    chosen: OnDay
    tried: tuple[OnDay, ...]
    """By date."""
    limits: Floats
    closed: tuple[Situation, ...] = ()
    """Days on which the form permits no rate at all."""
    cut_short: str = ""

    @property
    def found(self) -> Found:
        """What the search of the chosen day found, labelled where any day's search was cut short."""
        found = self.chosen.found
        assert found is not None, "only a day that was searched in full is chosen"
        return replace(found, cut_short=self.cut_short)


def on_day(bench: Bench, candidate: Candidate, count: int = DAY_REPLICATIONS) -> OnDay:
    """One decision on the bench's day. A start is a time of day, so a decision can be taken to another day."""
    sample = bench.sample([candidate], 0, count)[0]
    outcome = bench.outcomes([candidate], count)[0]
    against = () if outcome is None else weather_against(bench.situation, candidate, outcome)
    return OnDay(bench.situation, candidate, sample, against, ends=outcome is not None)


def search_days(
    situations: Sequence[Situation], pencilled: dt.date, bench_of: Callable[[Situation], Bench], final_rounds: Rounds
) -> Days | None:
    """Days to start on, the pencilled one searched first; None where no placing rate is permitted on any of them.

    A search that is cut short ends it: what was tried by then is compared, and says so.
    """
    limits = risk_limits(situations[0].sheet.risk_limits)
    left = sorted(situations, key=lambda situation: (abs((situation.day.date - pencilled).days), situation.day.date))
    closed = [situation for situation in left if not _permits_a_rate(situation)]
    left = [situation for situation in left if _permits_a_rate(situation)]
    first = _searched(bench_of(left.pop(0)), final_rounds) if left else None
    if first is None or first.found is None:
        return None
    tried, cut_short = [first], first.found.cut_short
    if not cut_short:
        try:
            decisions = _decisions(first.found.bench, limits)
            # As a generator: what was screened before an interruption stays.
            tried.extend(_screened(bench_of(situation), decisions, limits) for situation in left)
            for day in sorted(tried[1:], key=lambda day: _rank(day, limits, BENEFIT_OF_DOUBT))[: DAYS_SEARCHED - 1]:
                again = _searched(bench_of(day.situation), final_rounds)
                if again is not None and again.found is not None:
                    tried[tried.index(day)] = again
                    cut_short = again.found.cut_short
                if cut_short:
                    break
        except KeyboardInterrupt:
            cut_short = BY_CTRL_C
    chosen = _chosen(tried, pencilled, limits)
    return Days(chosen, tuple(sorted(tried, key=lambda day: day.date)), limits, tuple(closed), cut_short)


def _permits_a_rate(situation: Situation) -> bool:
    return any(nominal(situation, order) for order in placing_orders(situation))


def _searched(bench: Bench, final_rounds: Rounds) -> OnDay | None:
    found = search_or_best_so_far(bench.situation, bench, final_rounds)
    if found is None:
        return None
    return replace(on_day(bench, found.winner, found.sample.count), found=found)


def _decisions(bench: Bench, limits: Floats) -> list[Candidate]:
    """The best decisions of the day searched first, the start left aside."""
    raced = [(way, sample) for way, sample in bench.samples.items() if sample.count >= LOGISTICS_ROUNDS[-1][0]]
    order = ranked(dict(enumerate(sample for _, sample in raced)), limits, BENEFIT_OF_DOUBT)
    found: dict[Candidate, Candidate] = {}
    for number in order:
        way = raced[number][0]
        found.setdefault(replace(way, start_min=0.0), way)
    return list(found.values())[:DECISIONS_SCREENED]


def _screened(bench: Bench, decisions: Sequence[Candidate], limits: Floats) -> OnDay:
    """The best of these decisions at starts of this day's own, and the site's rule of thumb."""
    rule = [candidate for candidate in [rule_of_thumb(bench.situation)] if candidate]
    moved = [replace(way, start_min=start) for way in decisions for start in coarse_starts(bench.situation, way)]
    entrants = list(dict.fromkeys([*moved, *rule]))
    best = entrants[race_of(bench, entrants, limits, SCREEN_ROUNDS).winner]
    return on_day(bench, best)


def _rank(day: OnDay, limits: Floats, doubt: float = 0.0) -> tuple[bool, float, float, dt.date]:
    over = round(violation(day.sample, limits, doubt), 9)
    return (bool(day.against) or over > 0, over, float(day.sample.cost.mean()), day.date)


def _chosen(tried: Sequence[OnDay], pencilled: dt.date, limits: Floats) -> OnDay:
    """The best day searched in full; the pencilled one where it keeps the limits and none is cheaper beyond doubt.

    Beyond doubt: by 1.6 standard errors of the difference on the same draws. To move a pour is trouble that no price
    of the sheet counts (own rule).
    """
    full = [day for day in tried if day.found is not None]
    best = min(full, key=lambda day: _rank(day, limits))
    here = next((day for day in full if day.date == pencilled), None)
    if here is None or here is best or not here.keeps(limits):
        return best
    dearer, error = paired_difference(here.sample, best.sample)
    return best if dearer > BENEFIT_OF_DOUBT * error else here


def days_words(days: Days, pencilled: dt.date, currency: str) -> str:
    """Why this day: one sentence; empty where only the pencilled day was tried."""
    if len(days.tried) < 2 and days.chosen.date == pencilled:
        return ""
    chosen, limits = days.chosen, days.limits
    span = f"{day_name(days.tried[0].date)} to {day_name(days.tried[-1].date)}"
    cost = money(float(chosen.sample.cost.mean()), currency)
    kept = sum(day.keeps(limits) for day in days.tried)
    of = f"of {len(days.tried)} days tried from {span}" if len(days.tried) > 1 else "of the 1 that could be tried"
    if not chosen.keeps(limits):
        return f"no day keeps every limit, {of}; {day_name(chosen.date)} is the nearest: {_standing(chosen, limits)}"
    there = next((day for day in days.tried if day.date == pencilled), None)
    if there is None or there is chosen:
        why = "the pencilled day" if there is chosen else "the pencilled day cannot be planned"
        why += ", no day is cheaper beyond doubt" if there is chosen and kept > 1 else ""
    elif there.keeps(limits):
        cheaper, error = paired_difference(there.sample, chosen.sample)
        why = f"{money(cheaper, currency)} (±{error:.0f}) cheaper than the pencilled {day_name(pencilled)}"
    else:
        why = f"on the pencilled {day_name(pencilled)} {_standing(there, limits)}"
    keeping = f"{kept} {of} keep every limit" if len(days.tried) > 1 else "no other day could be tried"
    return f"{day_name(chosen.date)} at {cost}: {why}; {keeping}"


def day_name(date: dt.date) -> str:
    """A day as people say it: Thu 17 Jun."""
    return f"{date:%a} {date.day} {date:%b}"


def _standing(day: OnDay, limits: Floats) -> str:
    """What breaks a limit or speaks against the day; the risk nearest to its limit where nothing does."""
    shares = day.sample.probabilities()
    over = [
        risk_words(key, float(share), float(limit))
        for key, share, limit in zip(RISK_KEYS, shares, limits, strict=True)
        if share > limit
    ]
    if over or day.against:
        return "; ".join((*over, *day.against))
    worst = int((shares / limits.clip(1e-3)).argmax())
    return f"nearest: {risk_words(RISK_KEYS[worst], float(shares[worst]), float(limits[worst]))}"


def day_lines(days: Days, pencilled: dt.date) -> tuple[DayTried, ...]:
    """A line for each day that was tried, and for those on which nothing may be placed."""
    lines = [_line(day, days, pencilled) for day in days.tried]
    for situation in days.closed:
        rate, who = situation.highest_rate()
        reason = f"no placing rate is permitted: {who} allows {rate:g} m³/h"
        lines.append(day_closed(situation.day.date, reason, situation.day.date == pencilled))
    return tuple(sorted(lines, key=lambda line: line.date))


def _line(day: OnDay, days: Days, pencilled: dt.date) -> DayTried:
    if not day.ends and day is not days.chosen:
        reason = "no decision that was tried can be carried to its end"
        return day_closed(day.date, reason, day.date == pencilled)
    return DayTried(
        date=day.date,
        is_chosen=day is days.chosen,
        is_pencilled=day.date == pencilled,
        keeps_limits=day.keeps(days.limits),
        start=day.situation.day.moment(day.candidate.start_min),
        cost_cu=float(day.sample.cost.mean()),
        replications_count=day.sample.count,
        is_searched=day.found is not None,
        text=_standing(day, days.limits),
    )


def day_closed(date: dt.date, reason: str, is_pencilled: bool) -> DayTried:
    """The line of a day on which nothing can be planned."""
    return DayTried(
        date=date,
        is_chosen=False,
        is_pencilled=is_pencilled,
        keeps_limits=False,
        start=None,
        cost_cu=None,
        replications_count=0,
        is_searched=False,
        text=reason,
    )
