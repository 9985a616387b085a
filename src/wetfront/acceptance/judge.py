"""The acceptance function: order, load and limits in force give accept, check test or refuse, with reasons."""

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from wetfront.acceptance.additions import addition_findings, water_left
from wetfront.acceptance.against_order import order_findings
from wetfront.acceptance.age import age_findings
from wetfront.acceptance.compare import within
from wetfront.acceptance.consistence import decided
from wetfront.acceptance.limits import AcceptanceLimits
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.load import DeliveredLoad, FreshTests, Order, TestName
from wetfront.nouns.verdict import Decision, Finding, Judgement, LimitInForce, Outcome, Verdict
from wetfront.rules import CHECK_FIRST

_TESTS: tuple[tuple[TestName, str, str, str, str], ...] = (
    ("temperature", "concrete temperature", "concrete_temperature_c", "", "°C"),
    ("slump", "slump", "slump_mm", "slump_check_mm", "mm"),
    ("flow", "flow", "flow_mm", "flow_check_mm", "mm"),
    ("slump-flow", "slump-flow", "slump_flow_mm", "slump_flow_check_mm", "mm"),
    ("air", "air", "air_percent", "air_check_percent", "%"),
)
"""Test, its word, key of the value, key of the second one, unit."""


def judge_load(
    order: Order,
    load: DeliveredLoad,
    limits: AcceptanceLimits,
    *,
    now: dt.datetime | None = None,
    expected_discharge_min: float = 0.0,
    tests_due: Collection[TestName] = (),
    decision: Decision | None = None,
) -> Judgement:
    """Say whether a delivered load is taken: accept, check test or refuse, each reason with its limit and whose it is.

    `now`: the moment of judging, needed while the discharge has not ended; `expected_discharge_min`: how long the
    discharge is expected to take from now or from its start. `tests_due`: tests that this load must have (first loads,
    sampled loads, doubt); one that is missing holds the load. `decision`: what a person decided; it is kept beside the
    verdict and decides what stands.

    Nothing is guessed: a fact that is missing holds the load or stands in `not_judged`. InvalidInput where a decision
    has no name, the load no volume, or where moments with and without a time zone are mixed.
    Sources: the limits that were handed in; check test by ASTM C94/C94M; ticket by EN 206, 7.3.
    """
    _check(load, expected_discharge_min, decision)
    judged = _Judged([], [*limits.notes])
    judged.take(order_findings(order, load.ticket, discharged=load.discharge_end is not None))
    judged.take(age_findings(load, limits, now, expected_discharge_min))
    judged.take(addition_findings(order, load, limits))
    due = frozenset(tests_due)
    for test in _TESTS:
        judged.take(_test_findings(test, load.tests, limits, due=test[0] in due))
    _require_limits(order, limits, judged)
    water = water_left(order, load, limits, refused=any(each.outcome is Outcome.REFUSE for each in judged.findings))
    verdict = Verdict(findings=tuple(judged.findings), not_judged=tuple(judged.not_judged), water=water)
    return Judgement(verdict=verdict, decision=decision)


def _check(load: DeliveredLoad, expected_discharge_min: float, decision: Decision | None) -> None:
    if decision is not None and not decision.by.strip():
        raise InvalidInput("by", "by is empty; a decision about a load has a name or role behind it")
    if not load.ticket.volume_m3 > 0:
        raise OutOfRange("volume_m3", load.ticket.volume_m3, "over 0 m³", "a load")
    if not expected_discharge_min >= 0:
        raise OutOfRange("expected_discharge_min", expected_discharge_min, "from 0 min", "a discharge")


def in_words(judgement: Judgement) -> str:
    """What may be shown of a judgement in one line; a verdict on a remembered limit never stands as a plain one."""
    verdict = judgement.verdict
    word = {
        Outcome.ACCEPT: "accept",
        Outcome.CHECK_TEST: "hold" if verdict.held else "check test",
        Outcome.REFUSE: "refuse",
    }[verdict.outcome]
    said = f"{CHECK_FIRST}: {word}" if verdict.rests_on_memory else word
    if judgement.decision is None:
        return said
    decided_word = {Outcome.ACCEPT: "accepted", Outcome.CHECK_TEST: "held", Outcome.REFUSE: "refused"}
    by = f"{decided_word[judgement.decision.outcome]} by {judgement.decision.by}"
    return f"{by}; by the limits: {said}" if judgement.differs or not verdict.plain else by


@dataclass(slots=True)
class _Judged:
    findings: list[Finding]
    not_judged: list[str]

    def take(self, found: tuple[list[Finding], list[str]]) -> None:
        """Add findings and what could not be judged."""
        self.findings += found[0]
        self.not_judged += found[1]


def _test_findings(
    test: tuple[TestName, str, str, str, str], tests: FreshTests, limits: AcceptanceLimits, *, due: bool
) -> tuple[list[Finding], list[str]]:
    name, word, key, check_key, unit = test
    value: float | None = getattr(tests, key)
    check: float | None = getattr(tests, check_key) if check_key else None
    if name == "temperature":
        asked = limits.temperatures
    else:
        one = limits.of_test(name, tests.sample)
        asked = () if one is None else (one,)
    if value is None:
        if due:
            text = f"{word}: due for this load and not measured"
            return [
                Finding(about=word, outcome=Outcome.CHECK_TEST, text=text, holds=True, next_step=f"measure {word}")
            ], []
        return [], [f"{word}: not measured"] if asked else []
    if not asked:
        return [], [f"{word} {value:g} {unit}: no limit was given for it"]
    if name == "temperature":
        return [_temperature(value, limit) for limit in asked], []
    return [_tested(name, word, value, check, unit, asked[0])], []


def _temperature(value: float, limit: LimitInForce) -> Finding:
    """No second test helps against heat or cold: outside is refused, and the thermometer is looked at first."""
    met = within(value, limit.low, limit.high)
    return Finding(
        about="temperature",
        outcome=Outcome.ACCEPT if met else Outcome.REFUSE,
        text=f"concrete temperature {value:g} °C: {limit.text}",
        value=value,
        limit=limit,
        next_step="" if met else "read a second thermometer before the truck leaves",
    )


def _tested(name: TestName, word: str, value: float, check: float | None, unit: str, limit: LimitInForce) -> Finding:
    outcome = decided(limit.low, limit.high, value, check)
    second = "" if check is None else f", second test {check:g} {unit}"
    step = ""
    if outcome is Outcome.CHECK_TEST:
        step = "a second test at once, on another portion of the same sample"
    elif outcome is Outcome.REFUSE and name == "air" and limit.low is not None and not within(value, limit.low):
        step = "low air may be corrected by the producer before discharge and is then tested anew"
    return Finding(
        about=word,
        outcome=outcome,
        text=f"{word} {value:g} {unit}{second}: {limit.text}",
        value=value if check is None or within(value, limit.low, limit.high) else check,
        limit=limit,
        next_step=step,
    )


def _require_limits(order: Order, limits: AcceptanceLimits, judged: _Judged) -> None:
    """Say what the order asks for and no limit was found for."""
    if (order.consistence_class or order.target_slump_mm is not None) and not any(
        each.test in ("slump", "flow", "slump-flow") for each in limits.tests
    ):
        asked = order.consistence_class or f"slump {order.target_slump_mm:g} mm"
        judged.not_judged.append(f"consistence {asked}: neither rule book nor project gives limits for it")
