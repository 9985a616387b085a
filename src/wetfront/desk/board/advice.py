"""The next decision of a pour: what to do, by when, and what was compared with what. People come before figures."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wetfront.desk.board.basis import Basis
from wetfront.desk.board.filling import Filling
from wetfront.desk.board.finishing import unfinished
from wetfront.desk.board.joints import Deadlines, specified_minutes
from wetfront.desk.board.ready import Ready
from wetfront.forecast import HOSE
from wetfront.journal.state import PourState
from wetfront.nouns.board import Advice, EdgeView, FinishView, ForecastView, LoadView, Phase, SawCutView
from wetfront.nouns.plan import Verdict

CLEANING = (
    "Cleaning the line: with water where possible, its end secured, everyone clear of it, by the pump's instructions."
)
AFTER_RESTART = dt.timedelta(minutes=15)
AFTER_END = dt.timedelta(minutes=60)
"""Own rules: how long a caution stands after a restart, and after the last concrete."""
CALL_SOON = dt.timedelta(minutes=10)
SAW_SOON = dt.timedelta(hours=1)
"""Own rules: so long before, a call to the plant or a saw cut is the next decision."""
PLANNED = "by the plan's call-off, moved by how late the pour runs"


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What the advice is made from."""

    basis: Basis
    state: PourState
    filling: Filling
    due: Deadlines
    ready: Ready
    loads: Sequence[LoadView]
    edges: Sequence[EdgeView]
    finishing: Sequence[FinishView]
    phase: Phase
    now: dt.datetime
    joints: tuple[str, ...] = ()
    """Joints at which the pour could stop, by the forecast."""
    forecast: ForecastView | None = None

    def clock(self, moment: dt.datetime) -> str:
        """hh:mm on site, with the day where it is another one."""
        return self.basis.day.clock(self.basis.day.minutes(moment))


def advice_of(seen: Seen) -> Advice:
    """The first of these that holds, by phase."""
    rules = {
        "plan": (_no_plan, _no_go, _open_holds, _open_checks, _call),
        "ready": (_no_plan, _no_go, _open_holds, _open_checks, _call),
        "pour": (_blocked, _contested, _stopped, _most_pressing, _sample, _call_next, _next_load, _finish, _last_load),
        "cure": (_finish, _saw_now, _cure, _saw_next),
        "prove": (_prove,),
    }[seen.phase]
    found = next((advice for rule in rules if (advice := rule(seen)) is not None), None)
    return found if found is not None else _advice(seen, "Nothing waits for a decision", "Nothing waits.", None, "")


def caution_of(seen: Seen) -> str:
    """What to say to everybody first."""
    state = seen.state
    last = state.stops[-1] if state.stops else None
    if last is not None and (last.until is None or dt.timedelta(0) <= seen.now - last.until <= AFTER_RESTART):
        return HOSE
    if state.ended is not None and dt.timedelta(0) <= seen.now - state.ended.at <= AFTER_END:
        return CLEANING
    return ""


def _advice(seen: Seen, text: str, spoken: str, by: dt.datetime | None, reason: str, else_text: str = "") -> Advice:
    return Advice(caution=caution_of(seen), text=text, spoken=spoken, by=by, reason=reason, else_text=else_text)


def _no_plan(seen: Seen) -> Advice | None:
    if seen.basis.plan is not None:
        return None
    return _advice(seen, "Wait for the plan", "Plan is being made.", None, seen.basis.planning or "no plan is made yet")


def _no_go(seen: Seen) -> Advice | None:
    plan = seen.basis.plan
    if plan is None or plan.verdict in (Verdict.GO, Verdict.GO_WITH_MEASURES):
        return None
    reason = "; ".join(plan.reasons[:2])
    instead = "; ".join(plan.nearest_change[:1])
    if plan.verdict is Verdict.NO_FORECAST:
        return _advice(seen, "Bring a forecast that reaches the day", "No forecast for that day yet.", None, reason)
    if seen.phase == "ready" and seen.ready.blocked_by:
        return None
    return _advice(seen, "Do not pour as planned", "Plan says no go.", None, reason, instead)


def _open_holds(seen: Seen) -> Advice | None:
    if not seen.ready.blocked_by:
        return None
    point = next(
        point
        for point in seen.basis.sheet.hold_point
        if any(text.startswith(f"{point.id} ") for text in seen.ready.blocked_by)
    )
    start = _start(seen)
    before = f" before {seen.clock(start)}" if start is not None else ""
    others = len(seen.ready.blocked_by) - 1
    reason = f"{point.title}: only {point.released_by} may release it"
    return _advice(
        seen,
        f"Get {point.id} released{before}",
        f"Hold point {point.id} is open.",
        start,
        reason + (f"; {others} more hold {'point is' if others == 1 else 'points are'} open" if others else ""),
        "A named person may go on without it, and answers for that.",
    )


def _blocked(seen: Seen) -> Advice | None:
    return _open_holds(seen) if not seen.filling.placed.any() else None


def _start(seen: Seen) -> dt.datetime | None:
    plan = seen.basis.plan
    return plan.decision.start if plan is not None and plan.decision is not None else None


def _open_checks(seen: Seen) -> Advice | None:
    recorded = {row.item_id for row in seen.basis.checked.readiness} | set(seen.state.checks)
    wrong = [check for check in seen.ready.checks if check.result in ("fail", "action")]
    still = [check for check in seen.ready.checks if check.result == "open" and check.item in recorded]
    found = [*wrong, *still]
    if not found:
        return None
    first, start = found[0], _start(seen)
    before = f" before {seen.clock(start)}" if start is not None else ""
    word = {"fail": "failed", "action": "passes only with an action", "open": "is open"}[first.result]
    note = f": {first.note}" if first.note else ""
    return _advice(
        seen,
        f"Settle {first.item} {first.title}{before}",
        f"Check {first.item} {'failed' if first.result == 'fail' else 'is open'}.",
        start,
        f"it {word}{note}" + (f"; {len(found) - 1} more are not settled" if len(found) > 1 else ""),
    )


def _call(seen: Seen) -> Advice | None:
    plan = seen.basis.plan
    if plan is None or plan.decision is None:
        return None
    at = plan.decision.first_batch
    return _advice(
        seen,
        f"Tell {', '.join(plan.decision.plants)}: first batch {seen.clock(at)}",
        f"First batch at {seen.clock(at)}.",
        at,
        f"first concrete is planned for {seen.clock(plan.decision.start)}, then a load of {plan.decision.load_m3:g} m³ "
        f"every {plan.decision.interval_min:g} min",
    )


def _contested(seen: Seen) -> Advice | None:
    found = next((load for load in seen.loads if load.contested), None)
    if found is None:
        return None
    return _advice(
        seen,
        f"Settle load {found.ticket_number}: people decided differently",
        f"Load {found.ticket_number[-2:]} is contested.",
        found.too_old_at if found.state in ("waiting", "held") else None,
        "both decisions stand in the record until one of them decides anew",
    )


def _stopped(seen: Seen) -> Advice | None:
    stop = seen.state.stopped
    if stop is None:
        return None
    first = _first_edge(seen)
    since = seen.clock(stop.since)
    if first is None:
        return _advice(seen, "Restart when it is clear", "Standing still.", None, f"{stop.cause} since {since}")
    edge, by = first
    passed = by < seen.now
    text = f"Edge {edge.name}: {'limit passed at' if passed else 'join it or make the joint by'} {seen.clock(by)}"
    spoken = f"Edge {_short(edge.name)}, {_left(by, seen.now)}."
    return _advice(seen, text, spoken, by, f"{stop.cause} since {since}. Edge {edge.text}", _joint_words(seen))


def _joint_words(seen: Seen) -> str:
    """The agreed emergency joints of the sheet: to stop anywhere else is for the designer."""
    if seen.joints:
        return f"Stop at a joint: {'; '.join(seen.joints)}."
    agreed = [joint for joint in seen.basis.sheet.joint if joint.agreed_emergency]
    if not agreed:
        return "No emergency joint is agreed in the sheet: where to stop is for the designer."
    places = [
        f"{joint.id} at " + (f"x = {joint.x_m:g} m" if joint.x_m is not None else f"y = {joint.y_m:g} m")
        for joint in agreed
        if joint.x_m is not None or joint.y_m is not None
    ]
    return f"Agreed joint: {', '.join(places) or agreed[0].id}. Anywhere else is for the designer."


def _first_edge(seen: Seen) -> tuple[EdgeView, dt.datetime] | None:
    """The open edge between steps whose limit comes first; a limit that has passed behind one that has not."""
    found = [
        (by < seen.now, by, edge)
        for edge in seen.edges
        if not edge.closed
        for by in (edge.join_by_specification, edge.join_by_setting.early if edge.join_by_setting else None)
        if by is not None
    ]
    if not found:
        return None
    _, by, edge = min(found, key=lambda each: (each[0], each[1], each[2].name))
    return edge, by


def _most_pressing(seen: Seen) -> Advice | None:
    """A load that waits for a decision, or an edge that waits for concrete: what ends first."""
    found = [advice for rule in (_undecided, _join) if (advice := rule(seen)) is not None]
    far = seen.now + dt.timedelta(days=1)
    return min(found, key=lambda each: (each.by is not None and each.by < seen.now, each.by or far), default=None)


def _undecided(seen: Seen) -> Advice | None:
    waiting = [load for load in seen.loads if load.state in ("waiting", "held") and not load.decision]
    if not waiting:
        return None
    far = seen.now + dt.timedelta(days=1)
    load = min(waiting, key=lambda each: (each.too_old_at or far, each.number))
    age = f"; too old at {seen.clock(load.too_old_at)}" if load.too_old_at is not None else "; its age is not known"
    return _advice(
        seen,
        f"Decide on load {load.ticket_number}",
        f"Load {load.ticket_number[-2:]} waits for a decision.",
        load.too_old_at,
        f"by the limits: {load.verdict}{age}",
    )


def _join(seen: Seen) -> Advice | None:
    """The next step to place, and the first edge that it must reach in time."""
    step = _next_step(seen)
    first = _first_edge(seen)
    if step is None or first is None:
        return None
    edge, by = first
    passed = by < seen.now
    text = f"Place {step} {'now' if passed else f'before {seen.clock(by)}'}"
    spoken = f"{step} {'now' if passed else f'before {seen.clock(by)}'}."
    return _advice(seen, text, spoken, by, f"Edge {edge.text}", "")


def _next_step(seen: Seen) -> str | None:
    """Name of the step that the next open cell in placing order belongs to."""
    still = np.flatnonzero(~seen.filling.placed)
    return seen.basis.steps.names[int(seen.basis.steps.of_cell[still[0]])] if len(still) else None


def _sample(seen: Seen) -> Advice | None:
    due = [load for load in seen.loads if load.sample == "sample due" and load.state in ("waiting", "held")]
    if not due:
        return None
    return _advice(
        seen,
        f"Sample load {due[0].ticket_number}",
        f"Sample load {due[0].ticket_number[-2:]}.",
        None,
        f"{seen.basis.sampling.required_count} samples by {seen.basis.sampling.required_by}",
    )


def _call_next(seen: Seen) -> Advice | None:
    """The plant has to be called soon for the next load, by the forecast."""
    due = seen.forecast.call_next_by if seen.forecast is not None else None
    if seen.forecast is None or due is None or due - seen.now > CALL_SOON:
        return None
    text = f"Call the next load by {seen.clock(due)}"
    reason = f"{seen.forecast.waiting_count} waiting, {seen.forecast.on_road_count} expected on the road"
    return _advice(seen, text, f"Next load by {seen.clock(due)}.", due, f"{reason}; {seen.forecast.text}")


def _next_load(seen: Seen) -> Advice | None:
    """Nothing is in the work yet, or nothing limits it: the next load and where it goes."""
    load = next((each for each in seen.loads if each.state in ("on the road", "planned")), None)
    if load is None or load.arrives is None:
        return None
    minutes = specified_minutes(seen.basis, None)
    wait = f"; concrete placed now may wait {minutes:g} min by the specification" if minutes is not None else ""
    return _advice(
        seen,
        f"Next load about {seen.clock(load.arrives.usual)} into {load.place or 'the work'}",
        f"Next load about {seen.clock(load.arrives.usual)}.",
        load.arrives.usual,
        f"{'by the forecast' if load.expected_by == 'forecast' else PLANNED}{wait}",
    )


def _last_load(seen: Seen) -> Advice | None:
    if seen.state.ended is not None:
        return None
    return _advice(
        seen,
        "Measure what is left, and tell the end of placing",
        "Measure what is left.",
        None,
        "the call-off is used up",
    )


def _finish(seen: Seen) -> Advice | None:
    """The next window that opens, or the first that closes among those that are open."""
    still = unfinished(seen.state, seen.finishing)
    if not still:
        return None
    view = min(still, key=lambda each: (each.closes.late < seen.now, each.closes.early, each.opens.usual))
    opened = view.opens.usual <= seen.now
    if view.closes.late < seen.now:
        text = f"Record how {view.place} was finished"
        return _advice(seen, text, f"Record finishing of {view.place}.", None, f"its window is over. {view.text}")
    if view.closes.early < seen.now:
        # No time to count down to: the window may be over already.
        over = [each.place for each in still if each.closes.late < seen.now]
        untold = f"; nothing is told of {', '.join(over)}, whose window is over" if over else ""
        late = f"last pass since {seen.clock(view.closes.early)}, at the latest {seen.clock(view.closes.late)}"
        text = f"Finish {view.place} now"
        return _advice(seen, text, f"Finish {view.place} now.", None, f"{late}{untold}; {view.text}")
    by = view.closes.early if opened else view.opens.usual
    text = f"Finish {view.place} {'before' if opened else 'from about'} {seen.clock(by)}"
    return _advice(seen, text, f"{view.place} {'before' if opened else 'from'} {seen.clock(by)}.", by, view.text)


def _saw_now(seen: Seen) -> Advice | None:
    """A saw cut that is open or opens within the hour."""
    cuts = [cut for cut in _saw_cuts(seen) if cut.opens is not None and cut.opens.usual - seen.now <= SAW_SOON]
    return _saw(seen, cuts)


def _saw_next(seen: Seen) -> Advice | None:
    return _saw(seen, _saw_cuts(seen))


def _saw_cuts(seen: Seen) -> list[SawCutView]:
    """Saw cuts that nobody has told, with the conventional saw: the usual one."""
    cuts = [cut for view in seen.finishing for cut in view.saw_cuts]
    return [cut for cut in cuts if cut.cut_at is None and cut.opens is not None and cut.method == "conventional"]


def _saw(seen: Seen, cuts: Sequence[SawCutView]) -> Advice | None:
    if not cuts:
        return None
    cut = min(cuts, key=lambda each: (each.closes or seen.now, each.joint))
    assert cut.opens is not None and cut.closes is not None
    name = cut.joint or "the joints"
    if cut.closes < seen.now:
        reason = f"its window is over: look for cracks. {cut.text}"
        return _advice(seen, f"Record the saw cut of {name}", f"Record saw cut {name}.", None, reason)
    opened = cut.opens.usual <= seen.now
    by = cut.closes if opened else cut.opens.usual
    text = f"Saw {name} {'by' if opened else 'from about'} {seen.clock(by)}"
    return _advice(seen, text, f"Saw {name} {'by' if opened else 'from'} {seen.clock(by)}.", by, cut.text)


def _cure(seen: Seen) -> Advice | None:
    started = {entry.fact.place.casefold() for entry in seen.state.curing if entry.fact.step != "ended"}
    places = dict.fromkeys(view.place for view in seen.finishing)
    still = [place for place in places if place.casefold() not in started]
    asked = seen.basis.sheet.specification.curing_class or "the specification names no class"
    if not still and started:
        return None
    what = still[0] if still else seen.basis.pour.title
    return _advice(seen, f"Start curing {what}", "Start curing now.", None, f"curing: {asked}")


def _prove(seen: Seen) -> Advice | None:
    ages = sorted(set(seen.basis.sheet.sampling.test_ages_d))
    days = (seen.now.astimezone(seen.basis.day.zone).date() - seen.basis.pour.date).days
    age = next((each for each in ages if each >= days), None)
    if age is None:
        return None
    at = dt.datetime.combine(seen.basis.pour.date + dt.timedelta(days=age), dt.time(12), seen.basis.day.zone)
    return _advice(seen, f"Test specimens at {age} d", f"Specimens at {age} days.", at, "ages of the specification")


def _short(edge: str) -> str:
    return edge.replace(" to ", " ")


def _left(by: dt.datetime, now: dt.datetime) -> str:
    minutes = (by - now).total_seconds() / 60
    if minutes < 0:
        return f"{math.ceil(-minutes)} minutes over"
    return f"{math.floor(minutes)} minutes left"
