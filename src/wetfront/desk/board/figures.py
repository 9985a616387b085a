"""Limits and figures that are asked for by their question, for a device that cannot ask when it has no signal."""

import datetime as dt
from collections.abc import Iterator

from wetfront.acceptance import END_OF_DISCHARGE
from wetfront.desk.board.basis import Basis
from wetfront.desk.board.loads import Loads
from wetfront.journal.state import PourState
from wetfront.nouns.board import Figure, LimitView, Phase
from wetfront.nouns.verdict import LimitInForce, Whose
from wetfront.rules.model import CHECK_FIRST


def limit_views(basis: Basis) -> tuple[LimitView, ...]:
    """Limits of a load, the stricter of several; tests by those of a spot sample."""
    found = [_limit(each.test, [each.limit], each.limit.unit) for each in basis.limits.tests if each.sample == "spot"]
    if basis.limits.temperatures:
        found.append(_limit("temperature", list(basis.limits.temperatures), "°C"))
    ages = [each for each in basis.limits.ages if each.counts_to == END_OF_DISCHARGE and each.high is not None]
    if ages:
        found.append(_limit("age", ages, "min"))
    return tuple(found)


def _limit(quantity: str, limits: list[LimitInForce], unit: str) -> LimitView:
    lows = [(each.low, each) for each in limits if each.low is not None]
    highs = [(each.high, each) for each in limits if each.high is not None]
    low = max(lows, key=lambda pair: pair[0], default=(None, None))
    high = min(highs, key=lambda pair: pair[0], default=(None, None))
    whose = dict.fromkeys(_whose(each) for each in (low[1], high[1]) if each is not None)
    return LimitView(
        quantity=quantity,  # type: ignore[arg-type]
        low=low[0],
        high=high[0],
        unit=unit,
        whose="; ".join(whose),
    )


def _whose(limit: LimitInForce) -> str:
    name = limit.source.citation if limit.whose is Whose.RULE_BOOK else f"{limit.whose} ({limit.source.citation})"
    if limit.whose is Whose.PROJECT:
        name = limit.source.citation
    return f"{CHECK_FIRST}: {name}" if limit.rests_on_memory else name


def figures_of(basis: Basis, state: PourState, loads: Loads) -> tuple[Figure, ...]:
    """By phase, the most asked first."""
    return (*_plan(basis), *_pour(basis, state, loads), *_cure(basis), *_prove(basis, state))


def _plan(basis: Basis) -> Iterator[Figure]:
    volumes, plan = basis.volumes, basis.plan
    made = (
        f"{volumes.net_m3:.1f} net, {volumes.wastage_m3:.1f} wastage, "
        f"{volumes.extra_m3 + basis.lead_m3:.1f} extras, priming and line; rounded up"
    )
    yield _figure("plan", "Order", f"{volumes.order_m3:g} m³", made)
    if plan is None or plan.decision is None:
        yield _figure("plan", "Plan", basis.planning or "none", "; ".join(plan.reasons[:1]) if plan else "")
        return
    decision = plan.decision
    yield _figure("plan", "Verdict", plan.verdict, "; ".join(plan.reasons[:2]))
    yield _figure("plan", "First concrete", "", f"first batch {decision.first_batch:%H:%M}", decision.start)
    yield _figure("plan", "First batch", "", "what the plant is told", decision.first_batch)
    count = f"{plan.quantity.full_loads_count} full, balance {plan.quantity.balance_load_m3:g} m³"
    yield _figure("plan", "Loads", f"{plan.quantity.loads_count} of {decision.load_m3:g} m³", count)
    yield _figure(
        "plan", "Trucks", f"{decision.trucks_count}", f"a load every {decision.interval_min:g} min on the road and back"
    )
    yield _figure("plan", "Rate", f"{decision.placing_rate_m3_per_h:g} m³/h", "; ".join(plan.binding[:1]))
    if plan.end_of_placing is not None:
        late = f"95 %: {plan.end_of_placing.late:%H:%M}"
        yield _figure("plan", "End of placing", "", late, plan.end_of_placing.usual)
    if plan.end_of_finishing is not None:
        late = f"95 %: {plan.end_of_finishing.late:%H:%M}"
        yield _figure("plan", "End of finishing", "", late, plan.end_of_finishing.usual)
    yield _figure("plan", "Balance load", plan.quantity.balance_call, "its size is only known when it is measured")
    order = ", ".join(strip.name for strip in sorted(plan.strips, key=lambda each: each.order))
    if order:
        yield _figure("plan", "Order of placing", order, "times stand beside the loads")
    sampled = [str(load.number) for load in plan.loads if load.sample]
    if sampled:
        yield _figure("plan", "Loads to sample", ", ".join(sampled), basis.sampling.required_by)
    for reach in plan.reach:
        far = f"{reach.farthest_m:.1f} of {reach.reach_m:g} m"
        yield _figure("plan", f"Reach of {reach.pump}", far, reach.text)
    # What is unsettled on the check list stands in the list itself.
    ahead = [measure for measure in plan.measures if not measure.startswith("settle before")]
    for number, measure in enumerate(ahead, 1):
        yield _figure("plan", f"To have ready, {number}", "", measure)
    if plan.cost:
        lines = ", ".join(f"{line.title} {line.amount_cu:.0f}" for line in plan.cost if line.amount_cu >= 0.5)
        yield _figure("plan", "Cost", f"{sum(line.amount_cu for line in plan.cost):.0f} cu", lines)


def _pour(basis: Basis, state: PourState, loads: Loads) -> Iterator[Figure]:
    planned = basis.volumes.order_m3
    yield _figure(
        "pour", "Taken", f"{loads.taken_m3:g} of {planned:g} m³", f"refused {loads.refused_m3:g} m³, by the tickets"
    )
    if state.remaining:
        last = state.remaining[-1]
        yield _figure(
            "pour",
            "Still to place, measured",
            f"{last.fact.volume_m3:g} m³ ± {last.fact.spread_m3:g}",
            f"measured by {last.said_by}",
            last.at,
        )
    needed = basis.sampling.required_count
    yield _figure("pour", "Samples", f"{_samples(state)} of {needed}", basis.sampling.required_by)


def _samples(state: PourState) -> int:
    return len({entry.fact.sample_id for load in state.loads for entry in load.specimens})


def _cure(basis: Basis) -> Iterator[Figure]:
    if basis.sheet.specification.curing_class:
        yield _figure("cure", "Curing", basis.sheet.specification.curing_class, "asked for by the specification")
    depth = basis.sheet.specification.saw_cut_depth_mm
    if depth is not None:
        yield _figure("cure", "Saw cut", f"{depth:g} mm deep", "asked for by the specification")


def _prove(basis: Basis, state: PourState) -> Iterator[Figure]:
    ages = basis.sheet.sampling.test_ages_d
    made = sum(entry.fact.count for load in state.loads for entry in load.specimens)
    yield _figure("prove", "Specimens made", f"{made}", f"tested at {', '.join(str(age) for age in ages)} d")
    for age in sorted(set(ages)):
        at = dt.datetime.combine(basis.pour.date + dt.timedelta(days=age), dt.time(12), basis.day.zone)
        yield _figure("prove", f"{age}-day test", "", "counted from the day of the pour", at)


def _figure(phase: Phase, title: str, text: str, reason: str, at: dt.datetime | None = None) -> Figure:
    return Figure(phase=phase, title=title, text=str(text), at=at, reason=reason)
