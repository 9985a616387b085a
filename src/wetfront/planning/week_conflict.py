"""Which rules fight, and the least easing that makes peace."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from wetfront.planning.week import DayOption, Week
from wetfront.planning.week_model import Goal, Rule, Solution, eased_off, rules_of, solve

MOST_CONFLICTS = 5
MOST_DAYS_LATER = 60
MOST_RESOURCES_MORE = 5
KINDS_TO_EASE = ("crew", "pump", "form set", "plant day", "plant rate", "latest", "order", "neighbours", "fixed")
"""What a proposal may ease; leaving a pour out is no proposal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Easing:
    """One proposal: rules with how far each is eased, and the programme that follows."""

    amounts: tuple[tuple[Rule, int], ...]
    solution: Solution


def conflict_in(week: Week, switched_off: Collection[Rule] = ()) -> tuple[Rule, ...]:
    """Rules that cannot all be kept, though without any one of them the others can; empty where all can be kept."""
    rules = [rule for rule in rules_of(week) if rule not in switched_off]
    off = set(switched_off)
    if solve(week, (), eased_off(off)) is not None:
        return ()
    # Pours come last: a conflict is told by the rules and resources, and by as few pours as make it. Rules of a kind go
    # together where they can: most have no part in it.
    kinds = sorted(dict.fromkeys(rule.kind for rule in rules), key=lambda kind: kind == "pour")
    for kind in kinds:
        group = [rule for rule in rules if rule.kind == kind]
        if solve(week, (), eased_off(off | set(group))) is None:
            off |= set(group)
        elif len(group) > 1:
            for rule in group:
                if solve(week, (), eased_off(off | {rule})) is None:
                    off.add(rule)
    return tuple(rule for rule in rules if rule not in off)


def conflicts_in(week: Week) -> tuple[tuple[Rule, ...], ...]:
    """Conflicts one after another: each resource or rule of the last one is switched off to see the next."""
    found: list[tuple[Rule, ...]] = []
    off: set[Rule] = set()
    while len(found) < MOST_CONFLICTS:
        core = conflict_in(week, off)
        if not core:
            break
        found.append(core)
        rules = [rule for rule in core if rule.kind != "pour"]
        off |= set(rules or core)
    return tuple(found)


def wishes_conflict(week: Week, wished: Mapping[str, DayOption]) -> tuple[tuple[Rule, ...], ...]:
    """Conflicts if every pour kept to the one option given for it."""
    tasks = tuple(replace(task, options=(wished[task.id],)) for task in week.tasks if task.id in wished)
    return conflicts_in(replace(week, tasks=tasks))


def single_easings(week: Week, core: Sequence[Rule], goals: Sequence[Goal]) -> tuple[Easing, ...]:
    """Each rule of the core that alone, eased as little as will do, gives every pour a day."""
    found = []
    for rule in core:
        if rule.kind in KINDS_TO_EASE:
            solution = solve(week, ("easing", *goals), {rule: _most(week, rule)})
            if solution is not None:
                found.append(Easing(amounts=tuple(solution.eased.items()), solution=solution))
    return tuple(found)


def least_easing(week: Week, goals: Sequence[Goal]) -> Easing | None:
    """The fewest rules, eased as little as will do, that give every pour a day; None where no easing does."""
    limits = {rule: _most(week, rule) for rule in rules_of(week) if rule.kind in KINDS_TO_EASE}
    limits = {rule: most for rule, most in limits.items() if most}
    solution = solve(week, ("rules eased", "easing", *goals), limits)
    return None if solution is None else Easing(amounts=tuple(solution.eased.items()), solution=solution)


def _most(week: Week, rule: Rule) -> int:
    """How far a proposal may ease a rule: never an order turned round, never more than a handful of resources."""
    match rule.kind:
        case "order":
            return week.orders[int(rule.name.split(":", 1)[0])].least_days_between
        case "neighbours":
            return week.neighbours[int(rule.name.split(":", 1)[0])].least_days_between
        case "latest" | "fixed":
            return MOST_DAYS_LATER
        case "plant day" | "plant rate":
            return 10_000
    return MOST_RESOURCES_MORE
