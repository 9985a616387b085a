"""Plan a pour: from a checked sheet to one plan for each of its pours."""

import datetime as dt
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from typing import Any

from wetfront import __version__
from wetfront.errors import NoFeasiblePlan
from wetfront.nouns.plan import PLAN_SCHEMA, Plan, Verdict
from wetfront.nouns.sheet import CheckedSheet, Pour, PourSheet
from wetfront.planning.book_limits import laid_over
from wetfront.planning.cut_short import BY_CTRL_C, cut_short_words, search_or_best_so_far
from wetfront.planning.day import Day, DayWeather, day_of, weather_of
from wetfront.planning.locks import contradictions
from wetfront.planning.pour_plan import Shown, bare_parts, plan_parts, shown_of
from wetfront.planning.quantity import quantity_of
from wetfront.planning.race import Rounds, Sample, violation
from wetfront.planning.reasons import quantity_steps
from wetfront.planning.remedies import nearest_changes, other_days_words
from wetfront.planning.search import FINAL_ROUNDS, Bench, Found
from wetfront.planning.situation import Situation, situation_of, volumes_of

Progress = Callable[[int, int, str], None]
SEED = 20_270_617
"""Chosen once: the same sheet gives the same plan."""
OTHER_DAYS = 7
LONGEST_POUR_H = 48.0
OTHER_DAY_REPLICATIONS = 200
MEASURE_BALANCE = "measure what is left before the last load is called; its size is only known then"

LOOSEN = "loosen one of the two keys in the sheet; nothing was searched"


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

    A pour whose day the forecast does not reach gets its quantities and the verdict NO_FORECAST, nothing else.
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
    """The plan of one pour, within the rule book's limits where the sheet names one.

    Where all workers are lost in the search, the plan is the best so far and says so. Errors: `SearchStopped`.
    """
    laid = laid_over(checked.sheet, pour)
    checked = replace(checked, sheet=laid.sheet)
    bare = partial(bare_plan, checked, pour, changed=laid.changed)
    sheet, day = checked.sheet, day_of(checked.sheet, pour.date)
    if not day.works:
        weekday = pour.date.strftime("%A")
        return bare(Verdict.NO_GO, (f"the sheet gives no working hours for a {weekday}",))
    weather = _weather(checked, day)
    if weather is None:
        return bare(Verdict.NO_FORECAST, _no_forecast(checked, day))
    situation = situation_of(sheet, pour, day, weather)
    endless = _too_long(situation)
    if endless:
        return bare(Verdict.NO_GO, endless, _full_head_forms(situation))
    locked = contradictions(situation)
    if locked:
        return bare(Verdict.NO_GO, locked, (LOOSEN,))
    bench = Bench(situation, seed, executor, progress)
    found = search_or_best_so_far(situation, bench, final_rounds)
    if found is None:
        return bare(Verdict.NO_GO, _no_rate(situation), _stronger_form(situation))
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
    if parts["verdict"] is Verdict.NO_GO and not nearest:
        parts["nearest_change"] = _other_days(checked, situation, found)
    if progress is not None:
        progress(1, 1, f"{pour.id} planned")
    plan = Plan(**_head(checked, pour), **parts)
    if shown.found.cut_short == BY_CTRL_C:
        raise SearchStopped(plan)
    return plan


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


def _weather(checked: CheckedSheet, day: Day) -> DayWeather | None:
    """The forecast of the day until finishing must end; None where the series does not hold it."""
    if checked.weather is None:
        return None
    return weather_of(checked.weather, day, day.trowelling_until_min)


def _no_forecast(checked: CheckedSheet, day: Day) -> tuple[str, ...]:
    needed = (
        f"needed: every hour from {_stamp(day.moment(day.opens_min))} to {_stamp(day.moment(day.trowelling_until_min))}"
    )
    if checked.weather is None:
        return (
            Verdict.NO_FORECAST.value,
            "the sheet names no weather file: add [weather] with forecast, an hourly CSV series",
            needed,
        )
    series = checked.weather
    return (
        Verdict.NO_FORECAST.value,
        f"the series reaches from {_stamp(series.start)} to {_stamp(series.end)}",
        needed,
    )


def _stamp(moment: dt.datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")


def _too_long(situation: Situation) -> tuple[str, ...]:
    """Why a pour cannot be one operation at all, however it is organised."""
    rate, who = min((situation.highest_rate(option) for option in situation.mix_options), key=lambda cap: -cap[0])
    hours = situation.gross_m3 / rate if rate > 0 else 0.0
    if hours <= LONGEST_POUR_H:
        return ()
    return (
        f"at {rate:.2g} m³/h, all that {who} allows, the pour takes {hours:.0f} h; one operation is planned up to "
        f"{LONGEST_POUR_H:.0f} h: split it"
        + (", or fill several forms in turn, which is not planned here" if len(situation.forms) > 1 else ""),
    )


def _full_head_forms(situation: Situation) -> tuple[str, ...]:
    """The pressure at which the rise would not matter, once for all forms that are too weak for it."""
    heads = [limit.full_head_kn_per_m2 for limit in situation.form_limits() if limit.highest_rise_m_per_h is not None]
    if not heads:
        return ()
    return (f"forms that carry the full head of {max(heads):.0f} kN/m² may be filled at any rise",)


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
    if checked.weather is None:
        return ()
    kept: list[tuple[str, Sample]] = []
    tried = 0
    dates = [situation.pour.date + dt.timedelta(days=step) for step in range(-OTHER_DAYS, OTHER_DAYS + 1) if step]
    for date in sorted(dates, key=lambda date: (abs((date - situation.pour.date).days), date)):
        day = day_of(checked.sheet, date)
        weather = _weather(checked, day) if day.works else None
        if weather is None or day.closes_min < situation.day.closes_min:
            continue
        tried += 1
        other = situation_of(checked.sheet, situation.pour, day, weather)
        bench = Bench(other, found.bench.seed, found.bench.executor)
        sample = bench.sample([found.winner], 0, OTHER_DAY_REPLICATIONS)[0]
        if violation(sample, found.limits) == 0:
            kept.append((date.strftime("%a %d %b"), sample))
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
        changes=(),
        limit_prices=(),
        frontier=None,
        strips=(),
        edges=(),
        loads=(),
        pressure=(),
        reach=(),
        charts=(),
        drawings=(),
        not_checked=(),
        why=tuple(quantity_steps(volumes)),
        search=None,
        **bare_parts(sheet, pour, volumes, checked.readiness),
    )
