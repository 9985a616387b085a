"""Plan several pours together: ask for each pour's days, let the solver choose, and say what it chose and why."""

import datetime as dt
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace

import numpy as np

from wetfront import __version__
from wetfront.desk.day_plans import DayPlan, DayPlanner, Progress, StartPlan, plan_day, same_hours
from wetfront.errors import InvalidInput
from wetfront.nouns.programme import (
    PROGRAMME_SCHEMA,
    STRIKING_CAUTION,
    Booked,
    Conflict,
    LeftOut,
    PlannedPour,
    Programme,
    ProgrammePour,
    ProgrammeSheet,
    Proof,
)
from wetfront.nouns.sheet import CheckedSheet, Pour
from wetfront.nouns.site import WEEKDAYS
from wetfront.planning.day import zone_of
from wetfront.planning.programme import Outcome, after, programme
from wetfront.planning.situation import volumes_of
from wetfront.planning.week import DayOption, Happened, PourTask, Week
from wetfront.planning.week_hold import working_time
from wetfront.planning.week_model import MONEY_STEPS, Rule
from wetfront.planning.week_told import band, late_days, moved_pours, told, totals_cu
from wetfront.planning.week_words import conflict_words, easing_words, happened_words, wishes_words

SEED = 20_270_614
"""Chosen once: the same sheets give the same programme."""
CALENDAR_BEYOND_D = 90
"""Days after the programme's last one in which forms may still come free."""
FORECAST_LOOK_D = 14
"""How far from a day without forecast one with a forecast may lie that lends its durations. Own rule."""
DONE_REPLICATIONS = 400


@dataclass(slots=True)
class Days:
    """Plans of pours by day: each asked for once."""

    programme: ProgrammeSheet
    sheets: Mapping[str, CheckedSheet]
    planner: DayPlanner
    executor: Executor | None = None
    progress: Progress | None = None
    known: dict[tuple[str, dt.date], DayPlan] = field(default_factory=dict)

    def plan(self, entry: ProgrammePour, day: dt.date) -> DayPlan:
        """The pour on that day, by its own sheet."""
        if (entry.id, day) not in self.known:
            checked, pour = self.sheets[entry.sheet], replace(self.pour(entry), date=day)
            name = f"{entry.id} on {day:%a} {day.day} {day:%b}"

            def report(done: int, planned: int, text: str) -> None:
                if self.progress is not None:
                    self.progress(done, planned, f"{name}: {text}")

            self.known[entry.id, day] = self.planner(checked, pour, self.executor, report)
        return self.known[entry.id, day]

    def pour(self, entry: ProgrammePour) -> Pour:
        """The pour in its sheet."""
        wanted = entry.pour or entry.id
        return next(pour for pour in self.sheets[entry.sheet].sheet.pour if pour.id == wanted)

    def lender(self, entry: ProgrammePour, day: dt.date) -> tuple[dt.date, DayPlan] | None:
        """The nearest day with a forecast and the same hours on which the pour may go ahead."""
        checked = self.sheets[entry.sheet]
        if checked.weather is None:
            return None
        first, last = checked.weather.start.date(), checked.weather.end.date()
        steps = sorted(range(-FORECAST_LOOK_D, FORECAST_LOOK_D + 1), key=lambda step: (abs(step), step))
        for other in (day + dt.timedelta(days=step) for step in steps):
            if first <= other <= last and same_hours(checked, day, other):
                plan = self.plan(entry, other)
                if plan.starts:
                    return other, plan
        return None


def plan_week(
    sheet: ProgrammeSheet,
    sheets: Mapping[str, CheckedSheet],
    *,
    planner: DayPlanner = plan_day,
    happened: Sequence[Happened] = (),
    previous: Sequence[Booked] = (),
    today: dt.date | None = None,
    inputs: Sequence[tuple[str, str]] = (),
    executor: Executor | None = None,
    progress: Progress | None = None,
    seed: int = SEED,
) -> Programme:
    """The programme of all pours of the sheet.

    `sheets` holds each pour sheet by the file name that the programme gives it. With `happened`, the programme is first
    made (or taken from `previous`) and then made anew with the least change. InvalidInput where the sheets do not go
    together, or an event names a pour that has no day.
    """
    check_together(sheet, sheets)
    days = Days(sheet, sheets, planner, executor, progress)
    week = week_of(sheet, sheets, days, seed)
    before = {booked.pour: (booked.day, week.minutes(booked.start)) for booked in previous}
    if happened or (today is not None and before):
        if not before:
            first = programme(week)
            before = {pour: (option.day, option.start_min) for pour, option in first.solution.chosen.items()}
        _known(before, happened)
        week = after(week, before, happened, lambda day: works(sheet, day), today)
    else:
        week = replace(week, previous=before)
    outcome = programme(week)
    if any(rule.kind == "latest" for core in outcome.conflicts for rule in core):
        late = {rule.name for core in outcome.conflicts for rule in core if rule.kind == "latest"}
        week = replace(week, tasks=tuple(_looked_further(task, late, sheet, days, week) for task in week.tasks))
        outcome = programme(week)
    return _told(sheet, sheets, days, outcome, tuple(happened), tuple(inputs))


def check_together(sheet: ProgrammeSheet, sheets: Mapping[str, CheckedSheet]) -> None:
    """InvalidInput where pour sheets of one programme differ in time zone or currency."""
    for key, values in (
        ("time_zone", {checked.sheet.project.time_zone for checked in sheets.values()}),
        ("currency", {checked.sheet.project.currency for checked in sheets.values()}),
    ):
        if len(values) > 1:
            raise InvalidInput(key, f"the pour sheets differ in {key}: {', '.join(sorted(values))}; allowed: the same")


def _known(before: Mapping[str, object], happened: Sequence[Happened]) -> None:
    for event in happened:
        pour = getattr(event, "pour", None)
        if pour is not None and pour not in before:
            raise InvalidInput("pour", f"{pour} has no day in the programme before, so nothing can happen to it")


def works(sheet: ProgrammeSheet, day: dt.date) -> bool:
    """True on a working day of the programme."""
    return WEEKDAYS[day.weekday()] in sheet.working_days and day not in sheet.holidays


def week_of(sheet: ProgrammeSheet, sheets: Mapping[str, CheckedSheet], days: Days, seed: int) -> Week:
    """The week for the solver: every pour with its options on its permitted days."""
    zone = zone_of(next(iter(sheets.values())).sheet.project.time_zone)
    count = (sheet.last_day - sheet.first_day).days + 1 + CALENDAR_BEYOND_D
    working = working_time(
        sheet.first_day,
        count,
        zone,
        sheet.working_days,
        sheet.holidays,
        sheet.work_start_local,
        sheet.work_end_local,
    )
    week = Week(
        first_day=sheet.first_day,
        zone=zone,
        tasks=(),
        crews=sheet.crew,
        pumps=sheet.pump,
        form_sets=sheet.form_set,
        plants=sheet.plant,
        orders=sheet.order,
        neighbours=sheet.neighbours,
        working=working,
        chance=sheet.chance,
        seed=seed,
        moved_pour_cu=sheet.moved_pour_cu,
        moved_cu_per_day=sheet.moved_cu_per_day,
    )
    return replace(week, tasks=tuple(_task(entry, sheet, days, week) for entry in sheet.pour))


def _task(entry: ProgrammePour, sheet: ProgrammeSheet, days: Days, week: Week) -> PourTask:
    pour, checked = days.pour(entry), days.sheets[entry.sheet]
    preferred = entry.preferred or entry.earliest
    task = PourTask(
        id=entry.id,
        title=pour.title,
        earliest=entry.earliest,
        latest=entry.latest,
        preferred=preferred,
        order_m3=volumes_of(checked.sheet, pour).order_m3,
        options=(),
        crew=entry.crew,
        pump=entry.pump,
        form_set=entry.form_set,
        plant=entry.plant,
        late_cu_per_day=entry.late_cu_per_day,
        fixed=entry.fixed,
        done=entry.placed_until is not None,
    )
    if entry.placed_from is not None and entry.placed_until is not None:
        return replace(task, options=(_as_placed(entry, entry.placed_from, entry.placed_until, week),))
    first = preferred if entry.fixed else entry.earliest
    last = preferred if entry.fixed else entry.latest
    return _with_days(task, entry, sheet, days, week, _span(max(first, sheet.first_day), min(last, sheet.last_day)))


def _span(first: dt.date, last: dt.date) -> list[dt.date]:
    return [first + dt.timedelta(days=step) for step in range((last - first).days + 1)]


def _as_placed(entry: ProgrammePour, start: dt.datetime, end: dt.datetime, week: Week) -> DayOption:
    ended = np.full(DONE_REPLICATIONS, week.minutes(end))
    return DayOption(
        pour=entry.id,
        day=start.astimezone(week.zone).date(),
        start_min=week.minutes(start),
        placing_end_min=ended,
        finishing_end_min=ended,
        cost_cu=0.0,
        rate_m3_per_h=0.0,
    )


def _with_days(
    task: PourTask, entry: ProgrammePour, sheet: ProgrammeSheet, days: Days, week: Week, dates: Sequence[dt.date]
) -> PourTask:
    """The task with options and refusals of these days added."""
    options, refused = list(task.options), list(task.refused)
    for day in dates:
        if not works(sheet, day):
            refused.append((day, "no working day of the programme"))
            continue
        plan, source = days.plan(entry, day), ""
        if plan.no_forecast and sheet.allow_without_forecast:
            lent = days.lender(entry, day)
            if lent is None:
                refused.append((day, "no forecast for that day yet, and no day with one lends its durations"))
                continue
            plan, source = (
                lent[1],
                f"no forecast for that day yet: durations and cost of {lent[0]:%a} {lent[0].day} {lent[0]:%b}",
            )
        if not plan.starts:
            refused.append((day, plan.refused))
        options += [_option(entry, day, start, source, week) for start in plan.starts]
    return replace(task, options=tuple(options), refused=tuple(refused))


def _option(entry: ProgrammePour, day: dt.date, start: StartPlan, source: str, week: Week) -> DayOption:
    midnight = week.minutes(dt.datetime.combine(day, dt.time(0), week.zone))
    return DayOption(
        pour=entry.id,
        day=day,
        start_min=midnight + start.start_min,
        placing_end_min=midnight + _replications(start.placing_end_min),
        finishing_end_min=midnight + _replications(start.finishing_end_min),
        cost_cu=start.cost_cu,
        rate_m3_per_h=start.rate_m3_per_h,
        forecast=source,
    )


def _replications(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """As many for every pour: the sample repeated, or its first part."""
    return np.resize(values, DONE_REPLICATIONS)


def _looked_further(task: PourTask, late: set[str], sheet: ProgrammeSheet, days: Days, week: Week) -> PourTask:
    """The task with days after its latest one, so that a proposal can say which of them would do."""
    if task.id not in late or task.fixed or task.done:
        return task
    entry = next(entry for entry in sheet.pour if entry.id == task.id)
    known = {option.day for option in task.options} | {day for day, _ in task.refused}
    further = [day for day in _span(task.latest + dt.timedelta(days=1), sheet.last_day) if day not in known]
    return _with_days(task, entry, sheet, days, week, further)


def _told(
    sheet: ProgrammeSheet,
    sheets: Mapping[str, CheckedSheet],
    days: Days,
    outcome: Outcome,
    happened: tuple[Happened, ...],
    inputs: tuple[tuple[str, str], ...],
) -> Programme:
    project = next(iter(sheets.values())).sheet.project
    week, solution = outcome.week, outcome.solution
    planned = [_planned(sheet, outcome, pour, project.currency) for pour in solution.chosen]
    moved, kept = moved_pours(outcome, project.currency)
    cost, late = totals_cu(outcome)
    fights = [(core, conflict_words(week, core)) for core in outcome.conflicts]
    fights += [(core, wishes_words(week, core, outcome.wished)) for core in outcome.wishes]
    return Programme(
        schema=PROGRAMME_SCHEMA,
        program=f"wetfront {__version__}",
        title=sheet.title,
        project=project.name,
        currency=project.currency,
        time_zone=project.time_zone,
        invented=any(checked.sheet.project.invented for checked in sheets.values()),
        first_day=sheet.first_day,
        last_day=sheet.last_day,
        complete=not outcome.skipped,
        chance=sheet.chance,
        pours=tuple(sorted(planned, key=lambda entry: (entry.start, entry.pour))),
        left_out=tuple(
            LeftOut(
                pour=entry.task.id,
                title=entry.task.title,
                reason=entry.reason,
                days=tuple(row for row in entry.task.refused if works(sheet, row[0])),
            )
            for entry in outcome.skipped
        ),
        conflicts=tuple(_conflict(core, text) for core, text in fights),
        proposals=tuple(easing_words(week, easing) for easing in outcome.easings),
        happened=tuple(happened_words(week, event) for event in happened),
        moved=moved,
        kept_count=kept,
        cost_cu=cost,
        late_cu=late,
        cautions=_cautions(sheet, outcome),
        proof=Proof(
            optimal=solution.optimal,
            gap_cu=solution.gap / MONEY_STEPS,
            options_count=sum(len(week.open_options(task)) for task in week.tasks),
            replications_count=DONE_REPLICATIONS,
            seed=week.seed,
        ),
        inputs=inputs,
    )


def _conflict(core: Sequence[Rule], text: str) -> Conflict:
    return Conflict(
        text=text,
        pours=tuple(dict.fromkeys(rule.name for rule in core if rule.kind == "pour")),
        resources=tuple(
            f"{rule.kind} {rule.name}"
            for rule in core
            if rule.kind in ("crew", "pump", "form set", "plant day", "plant rate")
        ),
    )


def _planned(sheet: ProgrammeSheet, outcome: Outcome, pour: str, currency: str) -> PlannedPour:
    week, option = outcome.week, outcome.solution.chosen[pour]
    task, entry = week.task(pour), next(entry for entry in sheet.pour if entry.id == pour)
    said = told(outcome, pour, currency)
    return PlannedPour(
        pour=pour,
        title=task.title,
        sheet=entry.sheet,
        pour_in_sheet=entry.pour or entry.id,
        day=option.day,
        start=week.moment(option.start_min),
        start_window=(week.moment(said.start_window_min[0]), week.moment(said.start_window_min[1])),
        end_of_placing=band(week, option.placing_end_min),
        end_of_finishing=band(week, option.finishing_end_min),
        order_m3=task.order_m3,
        cost_cu=option.cost_cu,
        late_days=late_days(task, option),
        done=task.done,
        resources=said.held,
        slack_min=said.slack_min,
        slack_by=said.slack_by,
        days_in_hand=(task.latest - option.day).days,
        chance_of_start_as_planned=outcome.readiness[pour].on_time,
        forecast=option.forecast,
        why=said.why,
    )


def _cautions(sheet: ProgrammeSheet, outcome: Outcome) -> tuple[str, ...]:
    found = [f"{pour}: {option.forecast}" for pour, option in outcome.solution.chosen.items() if option.forecast]
    found += [
        f"{pour}: all that it takes is free by its start in {100 * ready.on_time:.0f} % of the simulated weeks, under "
        f"the {100 * sheet.chance:.0f} % asked for; {ready.by} is ready last"
        for pour, ready in outcome.readiness.items()
        if ready.on_time < sheet.chance
    ]
    if any(outcome.week.task(pour).form_set for pour in outcome.solution.chosen):
        found.append(STRIKING_CAUTION)
    if not outcome.solution.optimal:
        found.append("the bounded search did not prove that no better programme exists")
    found.append(
        "a booking, not a permit: each pour needs its own plan (wetfront plan) on the newest forecast before release"
    )
    found.append("the simulated weeks take pours as independent: weather that makes all of them slow is not in it")
    return tuple(found)
