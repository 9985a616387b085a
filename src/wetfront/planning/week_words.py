"""Rules, conflicts and easings of a programme in words."""

import datetime as dt
from collections.abc import Mapping, Sequence

from wetfront.planning.week import DayLost, DayOption, Happened, NotStruck, ResourceAway, Slip, Week
from wetfront.planning.week_conflict import Easing
from wetfront.planning.week_hold import Use, count_of, held_until_min
from wetfront.planning.week_model import Rule


def day_words(day: dt.date) -> str:
    """Thu 17 Jun."""
    return f"{day:%a} {day.day} {day:%b}"


def moment_words(week: Week, minutes: float) -> str:
    """Thu 17 Jun 07:20."""
    moment = week.moment(minutes)
    return f"{day_words(moment.date())} {moment:%H:%M}"


def days_words(count: int) -> str:
    """1 day, 2 days."""
    return f"{count} day{'' if count == 1 else 's'}"


def listed(names: Sequence[str]) -> str:
    """a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def rule_words(week: Week, rule: Rule) -> str:
    """What a rule asks for."""
    match rule.kind:
        case "pour":
            task = week.task(rule.name)
            return f"a day for {rule.name} from {day_words(task.earliest)}"
        case "latest":
            return f"{rule.name} by {day_words(week.task(rule.name).latest)}"
        case "fixed":
            return f"{rule.name} fixed on {day_words(week.task(rule.name).preferred)}"
        case "order":
            least = week.orders[int(rule.name.split(":", 1)[0])].least_days_between
            gap = f"at least {days_words(least)} after" if least else "after"
            return f"{rule.pours[1]} {gap} {rule.pours[0]}"
        case "neighbours":
            least = week.neighbours[int(rule.name.split(":", 1)[0])].least_days_between
            return f"{listed(rule.pours)} at least {days_words(least)} apart"
        case "plant day":
            plant = next(plant for plant in week.plants if plant.id == rule.name)
            return f"{rule.name} gives at most {plant.most_in_a_day_m3:g} m³ a day"
        case "plant rate":
            plant = next(plant for plant in week.plants if plant.id == rule.name)
            return f"{rule.name} gives at most {plant.most_at_once_m3_per_h:g} m³/h at once"
    return f"{rule.kind} {rule.name} ({count_of(week, Use(kind=rule.kind, id=rule.name))} of them)"


def conflict_words(week: Week, core: Sequence[Rule]) -> str:
    """A conflict in one sentence."""
    pours = [rule.name for rule in core if rule.kind == "pour"]
    rules = [rule_words(week, rule) for rule in core if rule.kind != "pour"]
    if not rules:
        return f"{listed(pours)}: no permitted day" if pours else "the facts given contradict each other"
    if not pours:
        return f"these cannot all be kept: {'; '.join(rules)}"
    verb = "do" if len(pours) > 1 else "does"
    return f"{listed(pours)} {verb} not fit together with: {'; '.join(rules)}"


def wishes_words(week: Week, core: Sequence[Rule], wished: Mapping[str, DayOption]) -> str:
    """A conflict between the days that would suit each pour best."""
    pours = [
        f"{name} ({moment_words(week, wished[name].start_min)}{_held_words(week, core, name, wished[name])})"
        for name in dict.fromkeys(pour for rule in core if rule.kind == "pour" for pour in rule.pours)
    ]
    rules = [rule_words(week, rule) for rule in core if rule.kind not in ("pour", "latest")]
    if not pours or not rules:
        return conflict_words(week, core)
    return f"on the days that suit each best, {listed(pours)} clash over {'; '.join(rules)}"


def _held_words(week: Week, core: Sequence[Rule], pour: str, option: DayOption) -> str:
    """Until when the pour holds the one resource that the conflict is about."""
    held = [rule for rule in core if rule.kind in ("crew", "pump", "form set")]
    if len(held) != 1:
        return ""
    rule = held[0]
    if rule.kind not in ("crew", "pump", "form set"):
        return ""
    until = held_until_min(week, week.task(pour), option, Use(kind=rule.kind, id=rule.name))
    return f", free {moment_words(week, until)}"


def easing_words(week: Week, easing: Easing) -> str:
    """A proposal: what is eased, and what then happens."""
    parts = [_amount_words(week, rule, amount, easing.solution.chosen) for rule, amount in easing.amounts]
    last = max(easing.solution.chosen.values(), key=lambda option: option.start_min, default=None)
    ends = f" (last pour {last.pour} on {day_words(last.day)})" if last is not None else ""
    return f"{' and '.join(parts)}: then every pour has a day{ends}"


def _amount_words(week: Week, rule: Rule, amount: int, chosen: Mapping[str, DayOption]) -> str:
    match rule.kind:
        case "latest":
            late = chosen.get(rule.name)
            on = f", on {day_words(late.day)}" if late is not None else ""
            return f"{rule.name} {days_words(amount)} after its latest day{on}"
        case "fixed":
            return f"{rule.name} {days_words(amount)} off its fixed day"
        case "order":
            return f"{days_words(amount)} less between {rule.pours[0]} and {rule.pours[1]}, if the designer agrees"
        case "neighbours":
            return f"{listed(rule.pours)} {days_words(amount)} nearer to each other, if the designer agrees"
        case "plant day":
            return f"{amount} m³ more on one day from {rule.name}"
        case "plant rate":
            return f"{amount} m³/h more at once from {rule.name}"
    return f"{amount} more of {rule.kind} {rule.name}"


def happened_words(week: Week, event: Happened) -> str:
    """What has happened, in one phrase."""
    match event:
        case Slip():
            return f"{event.pour} slips by {event.working_days} working day{'' if event.working_days == 1 else 's'}"
        case DayLost():
            return f"{day_words(event.day)} is lost"
        case NotStruck():
            return f"the form of {event.pour} is not struck before {moment_words(week, event.until_min)}"
        case ResourceAway():
            away = event.away
            first, last = week.moment(away.from_min).date(), week.moment(away.to_min - 1).date()
            return f"{away.count} of {away.kind} {away.id} away from {day_words(first)} to {day_words(last)}"
