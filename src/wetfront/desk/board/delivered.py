"""A recorded load as the acceptance function wants it, and what that function and people say of it."""

import datetime as dt
from math import inf
from typing import Literal

from wetfront.acceptance import in_words, judge_load
from wetfront.desk.board.basis import Basis
from wetfront.desk.board.filling import is_discharged, placing_times
from wetfront.journal.kinds import LoadTested
from wetfront.journal.state import Entry, LoadState
from wetfront.nouns.load import Addition, DeliveredLoad, FreshTests, Ticket
from wetfront.nouns.verdict import Decision, Judgement, Outcome

_KEYS = {"slump": "slump", "flow": "flow", "slump-flow": "slump_flow", "air": "air"}


def delivered_load(load: LoadState) -> DeliveredLoad | None:
    """The load with its ticket, times, additions and tests; None where nobody saw it arrive."""
    if load.arrived is None:
        return None
    fact = load.arrived.fact
    times = [placing_times(entry) for entry in load.placings]
    return DeliveredLoad(
        ticket=Ticket(
            ticket_number=load.ticket_number,
            volume_m3=fact.volume_m3,
            plant=fact.plant,
            truck=fact.truck,
            mix=fact.mix,
            batched=fact.batched,
            left_plant=fact.left_plant,
            strength_class=fact.strength_class,
            consistence_class=fact.consistence_class,
        ),
        arrived=load.arrived.at,
        discharge_start=min((start for start, _ in times), default=None),
        discharge_end=max((end for _, end in times), default=None) if is_discharged(load) else None,
        additions=_additions(load),
        tests=_tests(load),
    )


def temperature_of(load: LoadState) -> float | None:
    """As last measured; None where nobody did."""
    found = [entry.fact.value for entry in load.tests if entry.fact.test == "temperature"]
    return found[-1] if found else None


def batched_at(basis: Basis, load: LoadState) -> dt.datetime | None:
    """When it was batched; where the ticket does not tell, the earliest that the road allows (own rule, cautious)."""
    if load.arrived is None:
        return None
    fact = load.arrived.fact
    if fact.batched is not None:
        return fact.batched
    plant = next((each for each in basis.sheet.plant if each.id == fact.plant), basis.sheet.plant[0])
    if fact.left_plant is not None:
        return fact.left_plant - dt.timedelta(minutes=plant.batching_min)
    return load.arrived.at - dt.timedelta(minutes=plant.batching_min + plant.travel_loaded_min.high)


def judged(basis: Basis, load: LoadState, now: dt.datetime) -> Judgement | None:
    """The acceptance function's word beside the people's; None where nobody saw the load arrive."""
    found = delivered_load(load)
    if found is None:
        return None
    left_at = load.left.at if load.left is not None else None
    moment = None if found.discharge_end is not None else left_at or now
    expected = 0.0 if left_at is not None else found.ticket.volume_m3 / basis.rate_m3_per_h * 60
    return judge_load(
        basis.order,
        found,
        basis.limits,
        now=moment,
        expected_discharge_min=expected,
        decision=decision_of(load),
    )


def decision_of(load: LoadState) -> Decision | None:
    """What people decided, where they agree."""
    said = load.decision
    if said is None:
        return None
    last = load.decisions[-1]
    return Decision(outcome=Outcome(said), by=last.said_by, at=last.at, why=last.fact.why)


def verdict_words(judgement: Judgement) -> str:
    """The function's own line, with its reasons where it does not accept."""
    alone = Judgement(verdict=judgement.verdict)
    line = in_words(alone)
    if judgement.verdict.outcome is Outcome.ACCEPT:
        return line
    return f"{line}: {'; '.join(finding.text for finding in judgement.verdict.deciding)}"


def rules_say(judgement: Judgement) -> Literal["accept", "check-test", "refuse"]:
    """The function's outcome alone; what rests on a remembered limit is no plain accept or refuse."""
    stands = Judgement(verdict=judgement.verdict).stands
    if stands is Outcome.CHECK_TEST:
        return "check-test"
    return "accept" if stands is Outcome.ACCEPT else "refuse"


def lacking(judgement: Judgement, load: LoadState) -> tuple[str, ...]:
    """What stands on the ticket and was not written down, where that alone keeps the function from accepting."""
    if judgement.verdict.outcome is not Outcome.CHECK_TEST:
        return ()
    untimed = load.arrived is not None and load.arrived.fact.batched is None
    names = {"strength class": "strength class", "exposure": "exposure", "age": "batching time" if untimed else ""}
    found = [names.get(each.about, "") if each.holds else "" for each in judgement.verdict.deciding]
    return tuple(dict.fromkeys(found)) if all(found) else ()


def too_old_at(basis: Basis, load: LoadState) -> dt.datetime | None:
    """End of the time limit to the end of discharge; None without limit or batching time."""
    longest = basis.limits.numbers.longest_age_min
    if load.arrived is None or load.arrived.fact.batched is None or longest == inf:
        return None
    return load.arrived.fact.batched + dt.timedelta(minutes=longest)


def _additions(load: LoadState) -> tuple[Addition, ...]:
    found = []
    for entry in load.additions:
        before = [test for test in load.tests if test.fact.test == "slump" and test.at <= entry.at]
        found.append(
            Addition(
                kind=entry.fact.substance,
                amount_l=entry.fact.amount_l,
                product=entry.fact.product,
                at=entry.at,
                asked_by=entry.fact.asked_by,
                agreed_by=entry.fact.agreed_by,
                slump_before_mm=before[-1].fact.value if before else None,
            )
        )
    return tuple(found)


def _tests(load: LoadState) -> FreshTests:
    """Those of the load as it is now: made after the last addition; a temperature stays."""
    last = max((entry.at for entry in load.additions), default=None)
    fresh = [test for test in load.tests if last is None or test.at > last]
    values: dict[str, float] = {}
    for test in fresh:
        values |= _value(test)
    return FreshTests(
        slump_mm=values.get("slump"),
        slump_check_mm=values.get("slump check"),
        flow_mm=values.get("flow"),
        flow_check_mm=values.get("flow check"),
        slump_flow_mm=values.get("slump_flow"),
        slump_flow_check_mm=values.get("slump_flow check"),
        air_percent=values.get("air"),
        air_check_percent=values.get("air check"),
        concrete_temperature_c=temperature_of(load),
    )


def _value(test: Entry[LoadTested]) -> dict[str, float]:
    key = _KEYS.get(test.fact.test)
    if key is None:
        return {}
    return {key if test.fact.portion == "first" else f"{key} check": test.fact.value}
