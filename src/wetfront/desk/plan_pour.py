"""Plan a pour: from a checked sheet to one plan for each of its pours."""

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from typing import Any

from wetfront import __version__
from wetfront.desk.situations import NoPlan, days_open, situation_on
from wetfront.errors import NoFeasiblePlan
from wetfront.nouns.plan import PLAN_SCHEMA, DayTried, Plan, Verdict
from wetfront.nouns.sheet import CheckedSheet, Pour, PourSheet
from wetfront.planning.book_limits import laid_over
from wetfront.planning.cut_short import BY_CTRL_C, cut_short_words
from wetfront.planning.days import Days, day_closed, day_lines, day_name, days_words, on_day, search_days
from wetfront.planning.pour_plan import Shown, bare_parts, plan_parts, shown_of
from wetfront.planning.quantity import quantity_of
from wetfront.planning.race import Rounds, Sample
from wetfront.planning.reasons import quantity_steps
from wetfront.planning.remedies import nearest_changes, other_days_words
from wetfront.planning.search import FINAL_ROUNDS, Bench, Found
from wetfront.planning.situation import Situation, volumes_of
from wetfront.planning.splits import Splits, search_splits, split_measure, split_opened, split_reason

Progress = Callable[[int, int, str], None]
SEED = 20_270_617
"""Chosen once: the same sheet gives the same plan."""
OTHER_DAYS = 7
MEASURE_BALANCE = "measure what is left before the last load is called; its size is only known then"


class SearchStopped(KeyboardInterrupt):
    """Ctrl-C in the search. `plan` is the best so far, labelled as that: to be looked at, not to be kept."""

    def __init__(self, plan: Plan):
        self.plan = plan
        super().__init__("stopped in the search")


def plan_pours(
    checked: CheckedSheet,
    executor: Executor | None = None,
    progress: Progress | None = None,
    seed: int = SEED,
    final_rounds: Rounds = FINAL_ROUNDS,
) -> tuple[Plan, ...]:
    """One plan for each pour of the sheet, in its order. The same sheet and seed give the same plans on any executor.

    A pour whose days the forecast does not reach gets its quantities and the verdict NO_FORECAST, nothing else.
    """
    return tuple(plan_one(checked, pour, executor, progress, seed, final_rounds) for pour in checked.sheet.pour)


def plan_one(
    checked: CheckedSheet,
    pour: Pour,
    executor: Executor | None = None,
    progress: Progress | None = None,
    seed: int = SEED,
    final_rounds: Rounds = FINAL_ROUNDS,
) -> Plan:
    """The plan of one pour on the best of the days that the sheet leaves open, within the rule book's limits.

    Where all workers are lost in the search, the plan is the best so far and says so. Errors: `SearchStopped`.
    """
    laid = laid_over(checked.sheet, pour)
    checked = replace(checked, sheet=laid.sheet)
    bare = partial(bare_plan, checked, pour, changed=laid.changed)
    on = {date: situation_on(checked, replace(pour, date=date), seed) for date in days_open(checked.sheet, pour)}
    open_on = [there for there in on.values() if isinstance(there, Situation)]
    closed = {date: there for date, there in on.items() if isinstance(there, NoPlan)}
    if not open_on:
        own = closed[pour.date]
        return bare(own.verdict, own.reasons, own.nearest_change, days=_day_lines(None, closed, pour))
    days = search_days(open_on, pour.date, partial(_bench, seed, executor, progress, len(open_on) > 1), final_rounds)
    if days is None:
        return bare(Verdict.NO_GO, _no_rate(open_on[0]), _stronger_form(open_on[0]))
    situation, found, splits = days.chosen.situation, days.found, None
    if situation.sheet.choices.splits and not found.cut_short:
        splits = search_splits(found, partial(_bench, seed, executor, progress, False), final_rounds)
        found = splits.chosen.parts[0] if splits.chosen else replace(found, cut_short=splits.cut_short)
        situation = found.bench.situation
    try:
        shown = shown_of(situation, found)
    except NoFeasiblePlan as none:
        if found.cut_short == BY_CTRL_C:
            raise KeyboardInterrupt from none
        reasons = (*cut_short_words(found), none.message)
        return bare(Verdict.NO_GO, reasons, _other_days(checked, situation, found))
    nearest: tuple[str, ...] = ()
    if not shown.feasible:
        shown, nearest = _with_nearest(checked, shown)
    parts = plan_parts(shown, checked.readiness, nearest, laid)
    in_one_go = "in one go: " if splits is not None and splits.chosen is not None else ""
    parts["reasons"] = _with_day(parts["reasons"], days, pour, checked.sheet.project.currency, in_one_go)
    parts["days"] = _day_lines(days, closed, pour)
    if splits is not None:
        parts |= _with_split(parts, splits)
    if parts["verdict"] is Verdict.NO_GO and not nearest:
        parts["nearest_change"] = _other_days(checked, situation, found)
    if progress is not None:
        progress(1, 1, f"{pour.id} planned")
    plan = Plan(**_head(checked, situation.pour), **parts)
    if shown.found.cut_short == BY_CTRL_C:
        raise SearchStopped(plan)
    return plan


def _bench(
    seed: int, executor: Executor | None, progress: Progress | None, is_one_of_many: bool, situation: Situation
) -> Bench:
    """A bench for one day, that names the day where there are several."""
    if progress is None or not is_one_of_many:
        return Bench(situation, seed, executor, progress)
    name = day_name(situation.day.date)
    return Bench(situation, seed, executor, lambda done, planned, text: progress(done, planned, f"{name}: {text}"))


def _with_day(reasons: Sequence[str], days: Days, pour: Pour, currency: str, before: str) -> tuple[str, ...]:
    """The reasons with that for the day, after `before`: first where no day keeps the limits, else after the answer."""
    words = days_words(days, pour.date, currency)
    if not words:
        return tuple(reasons)
    at = len(cut_short_words(days.found)) + (1 if days.chosen.keeps(days.limits) else 0)
    return (*reasons[:at], f"{before}{words}", *reasons[at:])


def _with_split(parts: Mapping[str, Any], splits: Splits) -> dict[str, Any]:
    """What a plan says of splits: always what was compared; where one is chosen, why and what it needs."""
    changed: dict[str, Any] = {"opened": (*parts["opened"], *split_opened(splits))}
    if splits.chosen is None:
        return changed
    if parts["verdict"] is Verdict.GO:
        changed["verdict"] = Verdict.GO_WITH_MEASURES
    changed["reasons"] = (*parts["reasons"][:1], split_reason(splits), *parts["reasons"][1:])
    changed["measures"] = (split_measure(splits.chosen), *parts["measures"])
    return changed


def _day_lines(days: Days | None, closed: Mapping[dt.date, NoPlan], pour: Pour) -> tuple[DayTried, ...]:
    """A line for each day that may be tried, by date; none where that is only the pour's own."""
    lines = () if days is None else day_lines(days, pour.date)
    if len(lines) + len(closed) < 2:
        return ()
    lines += tuple(day_closed(date, none.reasons[0], date == pour.date) for date, none in closed.items())
    return tuple(sorted(lines, key=lambda line: line.date))


def _with_nearest(checked: CheckedSheet, shown: Shown) -> tuple[Shown, tuple[str, ...]]:
    """The nearest changes that would keep the limits; cut short as well where Ctrl-C comes before they are found."""
    found = shown.found
    if not found.cut_short:
        # On a copy: what needs somebody's consent is none of the plans that the search tried.
        apart = replace(found.bench, samples=dict(found.bench.samples))
        try:
            nearest = nearest_changes(apart, found.winner, found.limits)
            return shown, (*nearest, *_other_days(checked, shown.situation, found))
        except KeyboardInterrupt:
            shown = replace(shown, found=replace(found, cut_short=BY_CTRL_C))
        finally:
            found.bench.done, found.bench.executor = apart.done, apart.executor
    return shown, ("changes that would help were not looked for: plan again",)


def _no_rate(situation: Situation) -> tuple[str, ...]:
    rate, who = situation.highest_rate()
    return (
        f"no placing rate is permitted: {who} allows {rate:g} m³/h",
        *(
            f"{limit.element}: {limit.permitted_kn_per_m2:g} kN/m² permitted, full head "
            f"{limit.full_head_kn_per_m2:.0f} kN/m²; governs: {limit.governs}"
            for limit in situation.form_limits()
            if limit.highest_rise_m_per_h == 0
        ),
    )


def _stronger_form(situation: Situation) -> tuple[str, ...]:
    """What the form would have to carry for the slowest useful rise, by each method that covers the concrete."""
    found = []
    for limit in situation.form_limits():
        covering = [method for method in limit.methods if method.covers]
        if limit.highest_rise_m_per_h != 0:
            continue
        needed = max(
            (method.pressure(0.5).max_pressure_kn_per_m2 for method in covering), default=limit.full_head_kn_per_m2
        )
        by = ", ".join(method.name for method in covering) or "full head"
        found.append(
            f"{limit.element}: a form for at least {needed:.0f} kN/m² (0.5 m/h by {by}), lower lifts or warmer concrete"
        )
    return tuple(found)


def _other_days(checked: CheckedSheet, situation: Situation, found: Found) -> tuple[str, ...]:
    """Other working days of the forecast on which the same decision keeps every limit; the nearest two."""
    kept: list[tuple[str, Sample]] = []
    tried = 0
    seed, own = found.bench.seed, situation.pour.date
    dates = [own + dt.timedelta(days=step) for step in range(-OTHER_DAYS, OTHER_DAYS + 1) if step]
    for date in sorted(dates, key=lambda date: (abs((date - own).days), date)):
        other = situation_on(checked, replace(situation.pour, date=date), seed)
        if isinstance(other, NoPlan) or other.day.closes_min < situation.day.closes_min:
            continue
        tried += 1
        there = on_day(Bench(other, seed, found.bench.executor), found.winner)
        if there.keeps(found.limits):
            kept.append((date.strftime("%a %d %b"), there.sample))
        if len(kept) == 2:
            break
    return other_days_words(kept, tried, found.limits)


def _head(checked: CheckedSheet, pour: Pour) -> dict[str, Any]:
    project = checked.sheet.project
    return {
        "schema": PLAN_SCHEMA,
        "program": f"wetfront {__version__}",
        "project": project.name,
        "place": project.place,
        "invented": project.invented,
        "currency": project.currency,
        "time_zone": project.time_zone,
        "pour": pour.id,
        "title": pour.title,
        "date": pour.date,
        "inputs": tuple((file.name, file.sha256) for file in checked.files),
    }


def bare_plan(
    checked: CheckedSheet,
    pour: Pour,
    verdict: Verdict,
    reasons: Sequence[str],
    nearest: Sequence[str] = (),
    changed: Sequence[str] = (),
    days: Sequence[DayTried] = (),
) -> Plan:
    """A plan without a decision: head, quantities, reasons, and what has to be ready and can hurt all the same."""
    sheet: PourSheet = checked.sheet
    volumes = volumes_of(sheet, pour)
    return Plan(
        **_head(checked, pour),
        verdict=verdict,
        reasons=tuple(reasons),
        measures=(),
        specification_changed=tuple(changed),
        days=tuple(days),
        nearest_change=tuple(nearest),
        quantity=quantity_of(volumes, sheet.trucks.capacity_m3, MEASURE_BALANCE),
        site_mixing=None,
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
        not_checked=(),
        why=tuple(quantity_steps(volumes)),
        search=None,
        **bare_parts(sheet, pour, volumes, checked.readiness),
    )
