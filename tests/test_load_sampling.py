"""Which loads are sampled: drawn before the pour by seed, made up for when missed, never fewer than asked for."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loads import slab
from wetfront.acceptance import LoadSoFar, sample_due, sampling_plan
from wetfront.acceptance.sampling import drawn_loads, samples_specified
from wetfront.nouns.sheet import Sampling
from wetfront.planning.call_off import planned_samples

ONE_IN_30 = Sampling(one_sample_per_m3=30.0)


@given(loads=st.integers(1, 120), share=st.floats(0, 1), seed=st.integers(0, 2**40))
@settings(max_examples=300, deadline=None)
def test_as_many_loads_are_drawn_as_samples_one_in_each_part_and_again_by_the_same_seed(loads, share, seed):
    samples = math.floor(share * loads)
    drawn = drawn_loads(samples, loads, seed)
    assert len(drawn) == samples
    assert drawn <= set(range(1, loads + 1))
    assert loads == samples or loads not in drawn
    assert drawn == drawn_loads(samples, loads, seed)
    among = loads - 1 if loads > samples else loads
    for part in range(samples):
        inside = range(part * among // samples + 1, (part + 1) * among // samples + 1)
        assert len(drawn & set(inside)) == 1


def test_another_seed_draws_other_loads():
    assert len({drawn_loads(8, 28, seed) for seed in range(50)}) > 40


def test_every_load_of_a_part_can_be_drawn():
    """So that nobody knows before which load it will be."""
    assert set().union(*(drawn_loads(8, 28, seed) for seed in range(200))) == set(range(1, 28))


@given(
    seed=st.integers(0, 2**32),
    loads=st.integers(1, 40),
    refused=st.sets(st.integers(0, 50)),
    missed=st.sets(st.integers(0, 50)),
)
@settings(max_examples=300, deadline=None)
def test_who_follows_the_answers_reaches_the_number_and_misses_are_made_up(seed, loads, refused, missed):
    """Refused loads count for nothing; a sample that was due and not taken is asked for again at the next load."""
    plan = sampling_plan(ONE_IN_30, 8.0 * loads, loads, seed)
    before, taken = [], 0
    for arrival in range(10_000):
        if taken == loads:
            break
        answer = sample_due(plan, before, 8.0)
        assert answer.why
        if arrival in refused:
            before.append(LoadSoFar(volume_m3=8.0, taken=False, sampled=False))
            continue
        last = taken + 1 == loads
        sampled = answer.due and (arrival not in missed or last)
        before.append(LoadSoFar(volume_m3=8.0, taken=True, sampled=sampled))
        taken += 1
        if answer.due and not sampled:
            assert sample_due(plan, before, 8.0).due
    count = sum(load.sampled for load in before)
    if not missed & set(range(len(before))):
        assert count >= plan.required_count


def test_without_a_miss_only_the_drawn_loads_are_sampled_on_the_invented_slab():
    plan = sampling_plan(ONE_IN_30, 220.0, 28, seed=1)
    before = []
    for _ in range(28):
        answer = sample_due(plan, before, 8.0)
        before.append(LoadSoFar(volume_m3=8.0, taken=True, sampled=answer.due))
    assert {number for number, load in enumerate(before, start=1) if load.sampled} == plan.drawn
    assert len(plan.drawn) == 8


def test_each_reason_is_said():
    plan = replace(sampling_plan(ONE_IN_30, 80.0, 10, seed=3), drawn=frozenset({2, 5, 8}))
    none = LoadSoFar(volume_m3=8.0, taken=True, sampled=False)
    one = LoadSoFar(volume_m3=8.0, taken=True, sampled=True)
    assert not sample_due(plan, [], 8.0).due
    assert "drawn before the pour" in sample_due(plan, [none], 8.0).why[0]
    assert "one was missed" in sample_due(plan, [none, none], 8.0).why[0]
    assert "one for each 30 m³" in sample_due(replace(plan, drawn=frozenset()), [none] * 3, 8.0).why[0]
    assert "2 loads are left" in sample_due(plan, [one, *[none] * 7], 1.0).why[-1]
    assert "every load" in sample_due(replace(plan, every_load=True), [], 8.0).why[0]


@pytest.mark.parametrize(
    ("sampling", "volume_m3", "loads", "count"),
    [
        (Sampling(), 100.0, 12, 1),
        (Sampling(one_sample_per_load=True), 100.0, 12, 12),
        (ONE_IN_30, 60.0, 8, 2),
        (ONE_IN_30, 60.1, 8, 3),
        (ONE_IN_30, 300.0, 4, 4),
        (ONE_IN_30, 5.0, 1, 1),
    ],
)
def test_the_specification_asks_for_so_many(sampling, volume_m3, loads, count):
    assert samples_specified(sampling, volume_m3, loads) == count


def test_the_rule_book_raises_the_number_where_it_asks_for_more():
    """IS 456: 4 samples to 50 m³, one more for each begun 50 m³: 8 of 220 m³; ACI 318 by 864 m² of slab: 2."""
    sheet = replace(slab(), sampling=Sampling())
    counts = {}
    for book in ("en", "aci", "is", "as"):
        asked = replace(sheet, specification=replace(sheet.specification, rule_book=book))
        counts[book] = planned_samples(asked, 220.0, 864.0, 28, seed=1)
    assert {book: plan.required_count for book, plan in counts.items()} == {"en": 1, "aci": 2, "is": 8, "as": 1}
    assert counts["is"].required_by.startswith("IS 456")
    assert counts["en"].required_by == "the specification"
