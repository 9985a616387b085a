"""The programme as a constraint model; one worker, a fixed seed and a bounded effort give always the same answer.

Every option of a pour is one yes or no. Resources are held from the start of an option to the minute by which they are
free with the programme's chance. Each rule has a slack that is 0 unless the rule is eased, so the same model finds the
programme, the rules that fight, and the least easing.
"""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from wetfront.errors import WetfrontError
from wetfront.planning.week import DayOption, PourTask, Week
from wetfront.planning.week_hold import Use, count_of, held_until_min, placed_by_min, used, uses_of

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

EFFORT = 30.0
"""Bound of one search in the solver's own units of work (about a second each), so that no clock decides."""
SOLVER_SEED = 1
OFF = 10_000
"""Slack that switches a rule off."""
MONEY_STEPS = 100
"""Money is counted in hundredths."""
VOLUME_STEPS = 10
"""Volumes and rates are counted in tenths, rounded up."""

RuleKind = Literal[
    "pour", "latest", "fixed", "order", "neighbours", "crew", "pump", "form set", "plant day", "plant rate"
]


class NoSolver(WetfrontError):
    """The constraint solver is not installed."""

    code = "no-solver"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Something that a programme keeps, unless it is eased."""

    kind: RuleKind
    name: str
    """Of the pour, order or resource; unique within the kind."""
    pours: tuple[str, ...]
    """That it touches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """What the solver found."""

    chosen: Mapping[str, DayOption]
    """By pour; a pour that was left out is missing."""
    eased: Mapping[Rule, int]
    values: tuple[int, ...]
    """Of each goal in turn."""
    optimal: bool
    gap: int
    """Of the first goal that was not proven."""


Weight = Callable[[PourTask, DayOption], int]
Goal = Literal["rules eased", "easing"] | Weight


def rules_of(week: Week) -> tuple[Rule, ...]:
    """Every rule of a week that could be eased."""
    ids = {task.id for task in week.tasks}
    found = [Rule(kind="pour", name=task.id, pours=(task.id,)) for task in week.tasks if not task.done]
    found += [Rule(kind="latest", name=task.id, pours=(task.id,)) for task in week.tasks if not task.done]
    found += [Rule(kind="fixed", name=task.id, pours=(task.id,)) for task in week.tasks if task.fixed and not task.done]
    for number, order in enumerate(week.orders):
        for first in order.after:
            if order.pour in ids and first in ids:
                found.append(Rule(kind="order", name=f"{number}:{first}", pours=(first, order.pour)))
    for number, group in enumerate(week.neighbours):
        there = [pour for pour in group.pours if pour in ids]
        found += [
            Rule(kind="neighbours", name=f"{number}:{one}:{other}", pours=(one, other))
            for place, one in enumerate(there)
            for other in there[place + 1 :]
        ]
    for use in used(week):
        users = tuple(task.id for task in week.tasks if use in uses_of(task))
        found.append(Rule(kind=use.kind, name=use.id, pours=users))
    for plant in week.plants:
        users = tuple(task.id for task in week.tasks if task.plant == plant.id)
        if plant.most_in_a_day_m3 is not None and users:
            found.append(Rule(kind="plant day", name=plant.id, pours=users))
        if plant.most_at_once_m3_per_h is not None and users:
            found.append(Rule(kind="plant rate", name=plant.id, pours=users))
    return tuple(found)


def solve(
    week: Week, goals: Sequence[Goal], easing: Mapping[Rule, int] | None = None, effort: float = EFFORT
) -> Solution | None:
    """The best programme by each goal in turn; None where none keeps the rules, eased by at most `easing`.

    WetfrontError where the bounded effort found neither a programme nor a proof that there is none.
    """
    model = WeekModel(week, easing or {})
    return model.solve(goals, effort)


class WeekModel:
    """The constraint model of one week."""

    def __init__(self, week: Week, easing: Mapping[Rule, int]) -> None:
        try:
            from ortools.sat.python import cp_model as library
        except ImportError:
            raise NoSolver(
                "programmes need the constraint solver OR-tools: install wetfront with its extra `programme`"
            ) from None
        self.week, self.cp = week, library
        self.model: Any = library.CpModel()
        self.options = {task.id: week.open_options(task) for task in week.tasks}
        self.chosen = {
            task.id: [self.model.new_bool_var(f"{task.id}@{number}") for number, _ in enumerate(self.options[task.id])]
            for task in week.tasks
        }
        self.slack: dict[Rule, Any] = {}
        for rule in rules_of(week):
            most = min(easing.get(rule, 0), OFF)
            self.slack[rule] = self.model.new_int_var(0, most, f"slack {rule.kind} {rule.name}") if most else 0
        self.there = {task.id: sum(self.chosen[task.id]) for task in week.tasks}
        self.day = {task.id: self._total(task, lambda option: week.day_number(option.day)) for task in week.tasks}
        for rule in self.slack:
            self._keep(rule)
        for task in week.tasks:
            if task.done:
                self.model.add(self.there[task.id] == 1)

    def _total(self, task: PourTask, value: Callable[[DayOption], int]) -> Any:
        pairs = zip(self.chosen[task.id], self.options[task.id], strict=True)
        return sum(variable * value(option) for variable, option in pairs)

    def _keep(self, rule: Rule) -> None:
        slack = self.slack[rule]
        match rule.kind:
            case "pour":
                self.model.add(self.there[rule.name] >= 1 - slack)
                self.model.add(self.there[rule.name] <= 1)
            case "latest":
                latest = self.week.day_number(self.week.task(rule.name).latest)
                self.model.add(self.day[rule.name] <= latest * self.there[rule.name] + slack)
            case "fixed":
                preferred = self.week.day_number(self.week.task(rule.name).preferred)
                off = self.day[rule.name] - preferred * self.there[rule.name]
                self.model.add(off <= slack)
                self.model.add(off >= -slack)
            case "order":
                self._keep_order(rule, slack)
            case "neighbours":
                self._keep_apart(rule, slack)
            case "plant day":
                self._keep_plant_day(rule, slack)
            case "plant rate":
                self._keep_plant_rate(rule, slack)
            case _:
                self._keep_resource(Use(kind=rule.kind, id=rule.name), slack)

    def _both(self, one: str, other: str) -> Any:
        """True where both pours have a day."""
        both = self.model.new_bool_var(f"{one} and {other}")
        self.model.add(self.there[one] + self.there[other] <= 1 + both)
        return both

    def _keep_order(self, rule: Rule, slack: Any) -> None:
        first, later = rule.pours
        least = self.week.orders[int(rule.name.split(":", 1)[0])].least_days_between
        both = self._both(first, later)
        self.model.add(self.day[later] - self.day[first] >= least - slack).only_enforce_if(both)
        placed = self._total(self.week.task(first), lambda option: placed_by_min(self.week, option))
        start = self._total(self.week.task(later), lambda option: math.floor(option.start_min))
        if isinstance(slack, int):
            self.model.add(start >= placed).only_enforce_if(both)
            self.model.add(self.there[later] <= self.there[first])
            return
        # Fewer days between are an easing; that the first is placed at all goes only with the whole rule.
        kept = self.model.new_bool_var(f"order {rule.name} kept")
        self.model.add(slack <= least).only_enforce_if(kept)
        self.model.add(slack > least).only_enforce_if(kept.negated())
        self.model.add(start >= placed).only_enforce_if(both, kept)
        self.model.add(self.there[later] <= self.there[first]).only_enforce_if(kept)

    def _keep_apart(self, rule: Rule, slack: Any) -> None:
        one, other = rule.pours
        least = self.week.neighbours[int(rule.name.split(":", 1)[0])].least_days_between
        both, side = self._both(one, other), self.model.new_bool_var(f"{one} first")
        self.model.add(self.day[other] - self.day[one] >= least - slack).only_enforce_if(both, side)
        self.model.add(self.day[one] - self.day[other] >= least - slack).only_enforce_if(both, side.negated())

    def _keep_resource(self, use: Use, slack: Any) -> None:
        intervals, demands = [], []
        for task in self.week.tasks:
            if use not in uses_of(task):
                continue
            for variable, option in zip(self.chosen[task.id], self.options[task.id], strict=True):
                start = math.floor(option.start_min)
                length = max(1, held_until_min(self.week, task, option, use) - start)
                intervals.append(self.model.new_optional_fixed_size_interval_var(start, length, variable, ""))
                demands.append(1)
        for away in self.week.away:
            if (away.kind, away.id) == (use.kind, use.id):
                length = max(1, math.ceil(away.to_min) - math.floor(away.from_min))
                intervals.append(self.model.new_fixed_size_interval_var(math.floor(away.from_min), length, ""))
                demands.append(min(away.count, count_of(self.week, use)))
        self.model.add_cumulative(intervals, demands, count_of(self.week, use) + slack)

    def _keep_plant_day(self, rule: Rule, slack: Any) -> None:
        plant = next(plant for plant in self.week.plants if plant.id == rule.name)
        most = math.floor(VOLUME_STEPS * (plant.most_in_a_day_m3 or 0.0) + 1e-6)
        by_day: dict[Any, list[Any]] = {}
        for pour in rule.pours:
            volume = math.ceil(VOLUME_STEPS * self.week.task(pour).order_m3 - 1e-6)
            for variable, option in zip(self.chosen[pour], self.options[pour], strict=True):
                by_day.setdefault(option.day, []).append(volume * variable)
        for terms in by_day.values():
            self.model.add(sum(terms) <= most + VOLUME_STEPS * slack)

    def _keep_plant_rate(self, rule: Rule, slack: Any) -> None:
        plant = next(plant for plant in self.week.plants if plant.id == rule.name)
        most = math.floor(VOLUME_STEPS * (plant.most_at_once_m3_per_h or 0.0) + 1e-6)
        intervals, demands = [], []
        for pour in rule.pours:
            for variable, option in zip(self.chosen[pour], self.options[pour], strict=True):
                start = math.floor(option.start_min)
                length = max(1, placed_by_min(self.week, option) - start)
                intervals.append(self.model.new_optional_fixed_size_interval_var(start, length, variable, ""))
                demands.append(math.ceil(VOLUME_STEPS * option.rate_m3_per_h - 1e-6))
        self.model.add_cumulative(intervals, demands, most + VOLUME_STEPS * slack)

    def solve(self, goals: Sequence[Goal], effort: float) -> Solution | None:
        """Each goal in turn, those before it kept at what they reached."""
        values: list[int] = []
        optimal, gap = True, 0
        solver: cp_model.CpSolver | None = None
        picked: dict[str, DayOption] = {}
        for goal in goals or (lambda task, option: 0,):
            expression = self._expression(goal)
            self.model.minimize(expression)
            run = self._solver(effort)
            status = run.solve(self.model)
            if status == self.cp.INFEASIBLE and solver is None:
                return None
            if status not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
                if solver is None:
                    raise WetfrontError("the bounded search found neither a programme nor that there is none")
                optimal = False
                break
            solver = run
            value = round(run.objective_value)
            if status == self.cp.FEASIBLE and optimal:
                optimal, gap = False, value - math.ceil(run.best_objective_bound - 1e-6)
            values.append(value)
            picked = self._picked(run)
            eased = {rule: run.value(slack) for rule, slack in self.slack.items() if not isinstance(slack, int)}
            self.model.clear_objective()
            self.model.add(expression <= value)
            self._hint(run)
        return Solution(
            chosen=picked,
            eased={rule: amount for rule, amount in eased.items() if amount},
            values=tuple(values),
            optimal=optimal,
            gap=gap,
        )

    def _solver(self, effort: float) -> "cp_model.CpSolver":
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = SOLVER_SEED
        solver.parameters.max_deterministic_time = effort
        return solver

    def _expression(self, goal: Goal) -> Any:
        free = [slack for slack in self.slack.values() if not isinstance(slack, int)]
        if goal == "easing":
            return sum(free)
        if goal == "rules eased":
            marks = []
            for slack in free:
                mark = self.model.new_bool_var("eased")
                self.model.add(slack <= OFF * mark)
                marks.append(mark)
            return sum(marks)
        return sum(
            variable * goal(task, option)
            for task in self.week.tasks
            for variable, option in zip(self.chosen[task.id], self.options[task.id], strict=True)
        )

    def _picked(self, solver: "cp_model.CpSolver") -> dict[str, DayOption]:
        return {
            pour: option
            for pour, variables in self.chosen.items()
            for variable, option in zip(variables, self.options[pour], strict=True)
            if solver.boolean_value(variable)
        }

    def _hint(self, solver: "cp_model.CpSolver") -> None:
        self.model.clear_hints()
        for variables in self.chosen.values():
            for variable in variables:
                self.model.add_hint(variable, solver.boolean_value(variable))


def money(week: Week) -> Weight:
    """Expected cost, lateness and the price of moving, in hundredths."""

    def weight(task: PourTask, option: DayOption) -> int:
        return (
            0 if task.done else round(MONEY_STEPS * (option.cost_cu + late_cu(task, option) + moving_cu(week, option)))
        )

    return weight


def late_cu(task: PourTask, option: DayOption) -> float:
    """What the days after the preferred one cost."""
    return task.late_cu_per_day * max(0, (option.day - task.preferred).days)


def moving_cu(week: Week, option: DayOption) -> float:
    """What moving from the programme before costs."""
    days = moved_days(week, option)
    return (week.moved_pour_cu + week.moved_cu_per_day * abs(days)) if days else 0.0


def moved_days(week: Week, option: DayOption) -> int:
    """Days after (or, below 0, before) the day in the programme before; 0 without one."""
    before = week.previous.get(option.pour)
    return 0 if before is None else (option.day - before[0]).days


def goals_of(week: Week) -> tuple[Weight, ...]:
    """What a programme is chosen by, one after the other.

    A new one: money, then few days off the preferred ones, then early starts. After something has happened: few moved
    pours, few moved days, few changed starts on a kept day, and only then the same.
    """

    def early(task: PourTask, option: DayOption) -> int:
        return math.floor(option.start_min)

    def off(task: PourTask, option: DayOption) -> int:
        return abs((option.day - task.preferred).days)

    def moved(task: PourTask, option: DayOption) -> int:
        return int(moved_days(week, option) != 0)

    def by_days(task: PourTask, option: DayOption) -> int:
        return abs(moved_days(week, option))

    def restarted(task: PourTask, option: DayOption) -> int:
        before = week.previous.get(task.id)
        return int(before is not None and moved_days(week, option) == 0 and abs(option.start_min - before[1]) >= 0.5)

    last = (money(week), off, early)
    return (moved, by_days, restarted, *last) if week.least_change else last


def eased_off(rules: Collection[Rule]) -> dict[Rule, int]:
    """An easing that switches these rules off."""
    return {rule: 1 if rule.kind == "pour" else OFF for rule in rules}
