"""The simulator, plain twin and compiled core, takes exactly the loads that the acceptance function takes."""

import datetime as dt
from collections import Counter
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from small_pours import extensions, small_pour
from wetfront.acceptance import END_OF_DISCHARGE, AcceptanceLimits, Cause, LoadLimits, judge_load, refused_for
from wetfront.acceptance.limits import TestLimit, project_limit
from wetfront.errors import InvalidInput
from wetfront.nouns.load import DeliveredLoad, FreshTests, Order, Ticket
from wetfront.nouns.verdict import Outcome
from wetfront.placing.core import prepared
from wetfront.placing.core.library import load as load_core
from wetfront.placing.draws import hashed_draws
from wetfront.placing.model import REFUSAL_REASONS, Lognormal, Replications
from wetfront.placing.simulate import trace

NOT_NEEDED = REFUSAL_REASONS.index("not needed")
JUST_BESIDE = (-1e-6, -2e-9, 0.0, 2e-9, 1e-6)
"""How far a limit is moved from what a load has: inside the slack only 0."""
MIDNIGHT = dt.datetime(2027, 6, 17)
GOOD_SLUMP_MM, BAD_SLUMP_MM = 130.0, 200.0


@pytest.fixture(autouse=True)
def compiled(monkeypatch):
    """These tests are about the compiled core: `make` builds it."""
    monkeypatch.delenv("WETFRONT_CORE", raising=False)
    assert load_core() is not None, "the compiled core is not built: run `make core`"


def draws_for(model, seed):
    return hashed_draws(seed, 2, 120, len(model.finishing.strip_min))


def traced(model, draws):
    """Both replications in full, or None where the draws do not last."""
    try:
        return [trace(model, draws, replication) for replication in range(2)]
    except InvalidInput:
        return None


def measured(model, draws, one, replication):
    """Of each load that was needed: its code, age at the start, temperature, whether its consistence was met."""
    table = one.loads
    begin = ages_from(table, model.acceptance.age_counted_from)
    met = draws.consistence_u[replication] >= model.acceptance.consistence_refusal_probability
    return [
        (int(table.refused[k]), float(table.start_min[k] - begin[k]), float(table.temperature_c[k]), met[k])
        for k in range(len(table.refused))
        if table.refused[k] != NOT_NEEDED
    ]


def moved_to_an_edge(model, age, temperature, on, beside):
    """The model with one limit moved to what a load has, or just beside it."""
    acceptance = replace(model.acceptance, age_judged_at="start")
    if on == "age":
        acceptance = replace(acceptance, longest_age_min=age + beside)
    elif on == "lowest":
        acceptance = replace(acceptance, lowest_c=temperature + beside, highest_c=np.inf)
    else:
        acceptance = replace(acceptance, lowest_c=-np.inf, highest_c=temperature + beside)
    return replace(model, acceptance=acceptance)


@settings(max_examples=120, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    on=extensions,
    pick=st.integers(0, 60),
    limit=st.sampled_from(("age", "lowest", "highest")),
    beside=st.sampled_from(JUST_BESIDE),
)
@example(seed=1, on={"temperature limits"}, pick=3, limit="age", beside=0.0)
@example(seed=1, on={"temperature limits"}, pick=3, limit="lowest", beside=0.0)
@example(seed=1, on={"temperature limits", "cooling on the way"}, pick=3, limit="highest", beside=2e-9)
def test_core_and_twin_refuse_for_the_same_cause_as_the_comparison_limits_at_the_edge(seed, on, pick, limit, beside):
    first = small_pour(seed, (on | {"temperature limits"}) - {"weather members"})
    draws = draws_for(first, seed)
    begun = traced(replace(first, acceptance=replace(first.acceptance, age_judged_at="start")), draws)
    assume(begun is not None)
    loads = measured(first, draws, begun[0], 0)
    _, age, temperature, _ = loads[pick % len(loads)]
    assume(age > 1e-3)
    model = moved_to_an_edge(first, age, temperature, limit, beside)
    runs = traced(model, draws)
    assume(runs is not None)
    core = prepared.simulate(model, draws)
    for replication, one in enumerate(runs):
        causes: Counter[str] = Counter()
        for code, found_age, found_c, met in measured(model, draws, one, replication):
            cause = refused_for(model.acceptance, found_age, found_c, consistence_met=bool(met))
            assert REFUSAL_REASONS[code] == (cause or "")
            causes[cause or ""] += 1
        for cause in Cause:
            assert getattr(core, f"refused_{cause}_count")[replication] == causes[cause], cause
        for column in fields(Replications):
            of_core, of_twin = getattr(core, column.name)[replication], getattr(one.outcome, column.name)[0]
            assert np.allclose(of_core, of_twin, rtol=0, atol=1e-9), column.name


def test_a_limit_that_is_just_met_is_met_in_the_core():
    """Without the slack in the core's copy of the limits this load would be refused by rounding."""
    model = small_pour(5, {"temperature limits"})
    draws = draws_for(model, 5)
    age = measured(model, draws, trace(model, draws, 0), 0)[0][1]
    at_limit = replace(model, acceptance=replace(model.acceptance, longest_age_min=age - 5e-10, lowest_c=-np.inf))
    under = replace(model, acceptance=replace(model.acceptance, longest_age_min=age - 5e-9, lowest_c=-np.inf))
    assert trace(at_limit, draws, 0).loads.refused[0] == 0
    assert trace(under, draws, 0).loads.refused[0] == REFUSAL_REASONS.index("age")
    for each in (at_limit, under):
        expected = [trace(each, draws, k).outcome.refused_age_count[0] for k in range(2)]
        assert prepared.simulate(each, draws).refused_age_count.tolist() == expected


# The whole function


def limits_of(acceptance: LoadLimits) -> AcceptanceLimits:
    counts = ("first contact of cement and water", END_OF_DISCHARGE)
    return AcceptanceLimits(
        book=None,
        ages=(project_limit("Age", None, acceptance.longest_age_min, "min", counts=counts),),
        temperatures=(project_limit("Temperature", acceptance.lowest_c, acceptance.highest_c, "°C"),),
        tests=(TestLimit(test="slump", sample="spot", limit=project_limit("Slump", 80.0, 170.0, "mm")),),
    )


def moment(minutes: float) -> dt.datetime:
    return MIDNIGHT + dt.timedelta(minutes=minutes)


def verdict_on(acceptance, batched_min, start_min, expected_min, temperature_c, met):
    """The outcome and first refusing cause by the acceptance function, asked with clock times."""
    slump = GOOD_SLUMP_MM if met else BAD_SLUMP_MM
    one = DeliveredLoad(
        ticket=Ticket(ticket_number="1", volume_m3=8.0, batched=moment(batched_min)),
        arrived=moment(batched_min),
        tests=FreshTests(slump_mm=slump, slump_check_mm=slump, concrete_temperature_c=temperature_c),
    )
    judgement = judge_load(
        Order(), one, limits_of(acceptance), now=moment(start_min), expected_discharge_min=expected_min
    )
    refusing = [each.about for each in judgement.verdict.findings if each.outcome is Outcome.REFUSE]
    assert judgement.accepted == (not refusing) and judgement.refused == bool(refusing)
    return "" if not refusing else {"slump": "consistence"}.get(refusing[0], refusing[0])


def ages_from(table, counted):
    return table.batching_min if counted == "loading" else table.batched_min


def even(model, rate_m3_per_h=48.0):
    """All times whole minutes but the queue's: 8 m³ in 10 min, no breakdown, no moves."""
    plants = tuple(
        replace(plant, batching_min=Lognormal(8.0, 0.0), haul_min=Lognormal(28.0, 0.0), return_min=Lognormal(24.0, 0.0))
        for plant in model.supply.plants
    )
    cells = replace(
        model.cells,
        volume_m3=np.full(len(model.cells.volume_m3), 2.0),
        rate_m3_per_h=np.full(len(model.cells.volume_m3), rate_m3_per_h),
        move_min=np.zeros(len(model.cells.volume_m3)),
    )
    site = replace(
        model.site,
        position_min=5.0,
        wash_min=6.0,
        speed=Lognormal(1.0, 0.0),
        pumping_min_between_stops=1e9,
        priming_m3=0.0,
        line_content_m3=0.0,
        wastage=0.0,
        wastage_sd=0.0,
    )
    supply = replace(model.supply, plants=plants, load_m3=8.0, interval_min=4.0, first_batching_min=400.0)
    return replace(model, cells=cells, site=site, supply=supply)


@settings(max_examples=80, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    pick=st.integers(0, 30),
    beside_min=st.sampled_from((-1.0, 0.0, 1.0)),
    judged_at=st.sampled_from(("start", "expected-end")),
    limit=st.sampled_from(("age", "lowest", "highest")),
    refused=st.sampled_from((0.0, 0.3)),
    counted=st.sampled_from(("loading", "end-of-batching")),
)
def test_the_whole_function_takes_the_loads_that_core_and_twin_take(
    seed, pick, beside_min, judged_at, limit, refused, counted
):
    """Clock times in, limits exactly met, missed by a minute, kept by a minute; consistence fails on both tests."""
    model = even(small_pour(seed, {"temperature limits"}))
    draws = draws_for(model, seed)
    free = replace(
        model, acceptance=replace(model.acceptance, longest_age_min=600.0, lowest_c=-np.inf, highest_c=np.inf)
    )
    begun = trace(free, draws, 0).loads
    at = pick % len(begun.start_min)
    nominal = float(begun.used_m3[at]) / 48.0 * 60.0 if judged_at == "expected-end" else 0.0
    age = round(float(begun.start_min[at] - ages_from(begun, counted)[at]) + nominal)
    temperature = float(begun.temperature_c[at])
    acceptance = replace(
        free.acceptance,
        age_counted_from=counted,
        age_judged_at=judged_at,
        consistence_refusal_probability=refused,
        longest_age_min=age + beside_min if limit == "age" else 600.0,
        lowest_c=temperature if limit == "lowest" else -np.inf,
        highest_c=temperature if limit == "highest" else np.inf,
    )
    runs = traced(replace(free, acceptance=acceptance), draws)
    assume(runs is not None)
    core = prepared.simulate(replace(free, acceptance=acceptance), draws)
    for replication, one in enumerate(runs):
        table, position, needed = one.loads, 0.0, 2.0 * len(model.cells.volume_m3)
        causes: Counter[str] = Counter()
        for k in np.argsort(table.start_min, kind="stable"):
            used = min(float(table.volume_m3[k]), needed - position)
            if table.refused[k] == NOT_NEEDED:
                assert used <= 1e-6
                continue
            expected_min = used / 48.0 * 60.0 if judged_at == "expected-end" else 0.0
            met = bool(draws.consistence_u[replication][k] >= refused)
            cause = verdict_on(
                acceptance,
                float(ages_from(table, counted)[k]),
                float(table.start_min[k]),
                expected_min,
                float(table.temperature_c[k]),
                met,
            )
            assert REFUSAL_REASONS[table.refused[k]] == cause
            causes[cause] += 1
            position += used if not cause else 0.0
        for cause in Cause:
            assert getattr(core, f"refused_{cause}_count")[replication] == causes[cause], cause
