"""A pour that goes on from what has been seen of it: the rest is as it would have been."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from seen_pours import seen_at, with_stops_seen
from small_pours import EXTENSIONS, small_pour
from wetfront.errors import InvalidInput
from wetfront.placing.chance import chance_of
from wetfront.placing.core.prepared import simulate as simulate_fast
from wetfront.placing.draws import hashed_draws
from wetfront.placing.model import Replications
from wetfront.placing.simulate import simulate, trace

# A seen pour has no moves left in the cells behind it, and its breaks are those to come: the tests leave both out.
USED = sorted(set(EXTENSIONS) - {"moves", "breaks"})
some = st.sets(st.sampled_from(USED), max_size=len(USED))


def pour_and_rest(seed, on, share):
    model = replace(small_pour(seed, on), day_share=0.4)
    draws = hashed_draws(seed, 3, 120, len(model.finishing.strip_min))
    try:
        whole = trace(model, draws, 0)
    except InvalidInput:
        assume(False)
    begin, end = whole.loads.batching_min.min(), whole.outcome.end_of_pour_min[0]
    now = begin + share * (end + 20 - begin)
    chance = chance_of(model, draws)
    watched = np.arange(0, len(model.cells.volume_m3), 3)
    seen = replace(model, seen=seen_at(model, whole, now), watched=watched)
    return model, draws, whole, now, seen, with_stops_seen(whole, chance.part(slice(0, 1)), now)


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), on=some, share=st.floats(0, 1.2))
def test_what_has_been_seen_leaves_the_rest_as_it_was(seed, on, share):
    """The same draws for what is still to come give the same end, joints and finishing to a millionth of a minute."""
    # Of trucks that wait outside for the end of a ban nobody sees who came first.
    _, _, whole, now, seen, rest = pour_and_rest(seed, on - {"bans"}, share)
    assume(not ((whole.loads.start_min <= now) & (whole.loads.end_min > now)).any() or not whole.repairs)
    goes_on = trace(seen, rest, 0)
    assert np.allclose(goes_on.loads.end_min, whole.loads.end_min, atol=1e-6)
    assert np.allclose(goes_on.cell_placed_min, whole.cell_placed_min, atol=1e-6)
    assert np.array_equal(goes_on.cell_load, whole.cell_load)
    assert np.array_equal(goes_on.outcome.watched_min[0], goes_on.cell_placed_min[seen.watched])
    assert np.allclose(goes_on.joint_set_margin_min, whole.joint_set_margin_min, atol=1e-5)
    assert np.allclose(goes_on.strip_end_min, whole.strip_end_min, atol=1e-5)
    for name in ("end_of_pour_min", "delivered_m3", "waste_m3", "least_specified_margin_min", "finishing_end_min"):
        one, other = getattr(goes_on.outcome, name), getattr(whole.outcome, name)
        assert np.allclose(one, other, atol=1e-5), name


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), on=some, share=st.floats(0, 1.2), threads=st.sampled_from([1, 2]))
def test_the_compiled_core_goes_on_as_the_plain_simulator(seed, on, share, threads):
    model, draws, _, _, seen, _ = pour_and_rest(seed, on, share)
    for chances in (draws, chance_of(model, draws)):
        expected = outcome(simulate, seen, chances)
        got = outcome(lambda *args: simulate_fast(*args, threads=threads), seen, chances)
        if isinstance(expected, Replications):
            for column in fields(Replications):
                one, other = getattr(got, column.name), getattr(expected, column.name)
                assert np.allclose(one, other, rtol=0, atol=1e-9), column.name
        else:
            assert got == expected


def outcome(simulator, model, draws):
    try:
        return simulator(model, draws)
    except InvalidInput as error:
        return type(error), error.key, str(error)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32), on=some, share=st.sampled_from([0.0, 0.3, 1.0]))
def test_the_day_is_the_same_in_core_and_twin(seed, on, share):
    model = replace(small_pour(seed, on), day_share=share, watched=np.array([0, 7]))
    draws = hashed_draws(seed, 4, 120, len(model.finishing.strip_min))
    expected, got = outcome(simulate, model, draws), outcome(simulate_fast, model, draws)
    if isinstance(expected, Replications):
        for column in fields(Replications):
            assert np.allclose(getattr(got, column.name), getattr(expected, column.name), rtol=0, atol=1e-9), (
                column.name
            )
    else:
        assert got == expected


def test_the_share_of_the_day_keeps_the_spread_of_a_load_and_ties_the_loads_of_a_day():
    model = replace(small_pour(1, set()), day_share=0.4)
    draws = hashed_draws(5, 4000, 12, len(model.finishing.strip_min))
    tied, free = chance_of(model, draws), chance_of(replace(model, day_share=0.0), draws)
    logs, loose = np.log(tied.haul_min), np.log(free.haul_min)
    assert logs.std(axis=0) == pytest.approx(loose.std(axis=0), rel=0.06)
    assert np.corrcoef(logs[:, 3], logs[:, 9])[0, 1] == pytest.approx(0.4, abs=0.06)
    assert abs(np.corrcoef(loose[:, 3], loose[:, 9])[0, 1]) < 0.06
