"""What the day teaches beyond whole durations: ways back, setting by the finishers, plants by ticket, lateness."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_day import at, candidate, events, situation, state_at
from hidden_pours import after_load, draws_of, hidden_pour, record_at, two_plants
from running_pours import slab_event
from wetfront.forecast import forecast_of, forecast_view, forecaster, standing
from wetfront.forecast.levels import Between, level_after
from wetfront.forecast.record import CallOff
from wetfront.forecast.under_way import learned_levels, plants_by_ticket, under_way
from wetfront.journal import fold
from wetfront.journal.kinds import SurfaceWorked
from wetfront.placing.chance import chance_of
from wetfront.placing.draws import DAY_LEVELS
from wetfront.placing.simulate import trace

MODEL, TWO = hidden_pour(), two_plants()
TRUTH, DRAWS = draws_of(MODEL, 99, 60), draws_of(MODEL, 5, 200)
BOUND = st.floats(-3.0, 3.0)
BETWEEN = st.one_of(
    BOUND.map(lambda low: Between(low, math.inf)),
    BOUND.map(lambda high: Between(-math.inf, high)),
    st.tuples(BOUND, st.floats(0.05, 3.0)).map(lambda pair: Between(pair[0], pair[0] + pair[1])),
)


def normal_share(z):
    return np.array([0.5 * math.erfc(-each / math.sqrt(2)) for each in np.ravel(z)]).reshape(np.shape(z))


@pytest.fixture(scope="module")
def by():
    return forecaster(situation(), candidate(), 7)


# The level, exactly.


@settings(max_examples=60, deadline=None)
@given(
    share=st.floats(0.05, 0.95),
    observed=st.lists(st.floats(-3.0, 3.0), max_size=12),
    between=st.lists(BETWEEN, min_size=1, max_size=12),
)
def test_a_level_with_bounds_is_the_exact_posterior(share, observed, between):
    """Against the posterior on a fine grid: prior times the likelihood of every value and of every bound."""
    level = level_after(observed, share, between)
    grid = np.linspace(-10, 10, 2001)
    spread = math.sqrt(1 - share)
    log = -(grid**2) / 2
    for value in observed:
        log = log - ((value - math.sqrt(share) * grid) / spread) ** 2 / 2
    for each in between:
        low, high = ((bound - math.sqrt(share) * grid) / spread for bound in (each.low, each.high))
        # Of two numbers near 1 the difference of what lies above them.
        chance = np.where(low > 0, normal_share(-low) - normal_share(-high), normal_share(high) - normal_share(low))
        log = log + np.log(np.maximum(chance, 1e-300))
    weight = np.exp(log - log.max())
    mean = float((weight * grid).sum() / weight.sum())
    deviation = math.sqrt(float((weight * (grid - mean) ** 2).sum() / weight.sum()))
    assert level.mean == pytest.approx(mean, abs=5e-3)
    assert level.deviation == pytest.approx(deviation, abs=5e-3)


def test_a_level_with_bounds_agrees_with_weighed_particles():
    share, rng = 0.3, np.random.default_rng(8)
    true = 0.9
    seen = math.sqrt(share) * true + math.sqrt(1 - share) * rng.standard_normal(20)
    between = [Between(-math.inf, value + 0.4) for value in seen[:12]]
    level = level_after(seen[12:].tolist(), share, between)
    particles = rng.standard_normal(200_000)
    of_the_load = math.sqrt(share) * particles
    log = np.zeros(len(particles))
    for value in seen[12:]:
        log -= (value - of_the_load) ** 2 / (2 * (1 - share))
    for each in between:
        log += np.log(normal_share((each.high - of_the_load) / math.sqrt(1 - share)))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float(weight @ particles)
    assert level.mean == pytest.approx(mean, abs=0.01)
    assert level.deviation == pytest.approx(math.sqrt(float(weight @ (particles - mean) ** 2)), abs=0.01)


@settings(max_examples=40, deadline=None)
@given(between=st.lists(BETWEEN, min_size=1, max_size=10), observed=st.lists(st.floats(-3, 3), max_size=5))
def test_members_have_the_levels_law_and_keep_their_order(between, observed):
    level = level_after(observed, 0.3, between)
    z = np.sort(np.random.default_rng(2).standard_normal(4000))
    drawn = level.of(z)
    assert (np.diff(drawn) >= 0).all()
    assert drawn.mean() == pytest.approx(level.mean, abs=0.06)
    assert drawn.std() == pytest.approx(level.deviation, abs=0.06)


@settings(max_examples=60, deadline=None)
@given(
    observed=st.lists(st.floats(-3.0, 3.0), max_size=8),
    between=st.lists(BETWEEN, max_size=8),
    value=st.floats(-3.0, 3.0),
    bound=BETWEEN,
)
def test_more_observations_narrow(observed, between, value, bound):
    before = level_after(observed, 0.3, between)
    assert level_after([*observed, value], 0.3, between).deviation < before.deviation
    assert level_after(observed, 0.3, [*between, bound]).deviation <= before.deviation + 1e-6


@settings(max_examples=60, deadline=None)
@given(low=st.floats(-4.0, 4.0), later=st.floats(0.0, 4.0), between=st.lists(BETWEEN, max_size=5))
def test_what_is_seen_later_never_makes_the_level_earlier(low, later, between):
    """A start that comes later says that the concrete sets at least that fast at a lower speed."""
    early = level_after([], 0.3, [*between, Between(low, math.inf)])
    late = level_after([], 0.3, [*between, Between(low - later, math.inf)])
    assert late.mean <= early.mean + 1e-6


def test_a_start_that_comes_very_late_tells_nothing():
    assert level_after([], 0.3, [Between(-5.0, math.inf)]).mean == pytest.approx(0.0, abs=1e-3)
    assert level_after([], 0.3, [Between(-5.0, math.inf)]).deviation == pytest.approx(1.0, abs=1e-3)


def test_with_no_share_of_the_day_nothing_is_learned():
    level = level_after([2.0, 2.0], 0.0, [Between(1.0, math.inf)])
    assert (level.mean, level.deviation, level.seen_count) == (0.0, 1.0, 3)
    pour = trace(MODEL, TRUTH, 4)
    alone = replace(MODEL, day_share=0.0)
    levels = under_way(alone, DRAWS, record_at(alone, pour, after_load(pour, 30) + 1e-6)).levels
    assert all((level.mean, level.deviation) == (0.0, 1.0) for level in levels.values())
    assert levels["return"].seen_count > 10 and levels["set"].seen_count > 3


@settings(max_examples=30, deadline=None)
@given(between=st.lists(BETWEEN, min_size=1, max_size=6))
def test_where_all_is_the_days_bounds_cut_the_level_off(between):
    level = level_after([], 1.0, between)
    low, high = max(each.low for each in between), min(each.high for each in between)
    if low + 0.1 < high:
        assert low - 0.05 <= level.mean <= high + 0.05


# The way back of a truck.


@cache
def told(number, loads, plants=1):
    """A hidden pour, its record after so many loads, and what is made of it."""
    model = MODEL if plants == 1 else TWO
    pour = trace(model, TRUTH, number)
    record = record_at(model, pour, after_load(pour, loads) + 1e-6)
    return pour, record, under_way(model, DRAWS, record)


@pytest.mark.parametrize("plants", [1, 2])
def test_a_way_back_that_counts_as_known_is_the_true_one_and_no_other_is_longer(plants):
    """Hidden pours: what the simulator's trucks really took, against what tickets and departures tell of it."""
    known = bounded = 0
    for number in range(20):
        pour, record, way = told(number, 30, plants)
        free, left = pour.loads.truck_free_min, pour.loads.left_min
        again = {}
        for row, load in enumerate(record.loads):
            again.setdefault(load.truck, []).append((load.batching_min, row))
        for rows in again.values():
            for _, row in sorted(rows)[:-1]:
                ticket = int(record.loads[row].ticket)
                took = way.chance.return_min[:, row]
                true = free[ticket] - left[ticket]
                if took.min() == took.max():
                    known += 1
                    assert took[0] == pytest.approx(true, abs=1e-6)
                else:
                    bounded += 1
                    begun = next(at for at, other in sorted(rows) if at > record.loads[row].batching_min)
                    assert true <= begun - left[ticket] + 1e-6
                    assert took.max() <= begun - left[ticket] + 1e-6
    assert known > 20 and bounded > 100


def test_the_way_back_is_learned_against_the_plans():
    """Against a plan with longer ways the same day counts as a quicker one."""
    _, record, way = told(1, 20)
    slow = replace(
        MODEL,
        supply=replace(
            MODEL.supply,
            plants=tuple(
                replace(plant, return_min=replace(plant.return_min, mean=plant.return_min.mean * 1.5))
                for plant in MODEL.supply.plants
            ),
        ),
    )
    longer = under_way(slow, DRAWS, record)
    assert longer.levels["return"].mean < way.levels["return"].mean - 0.3


def test_trucks_that_queue_at_the_plant_tell_only_how_long_the_way_back_was_at_most(by):
    """The demo's day: eight trucks, each back long before its turn, begun again some 50 min after it left."""
    for when in ("10:30", "12:00", "15:30"):
        stands = forecast_of(by, state_at(when), at(when))
        level = stands.way.levels["return"]
        assert level.seen_count >= 5
        assert -0.2 < level.mean <= 0.0 and level.deviation > 0.9


def test_without_names_of_trucks_no_way_back_is_learned():
    _, record, _ = told(2, 20)
    nameless = replace(record, loads=tuple(replace(load, truck="") for load in record.loads))
    assert learned_levels(MODEL, nameless)["return"].seen_count == 0
    assert learned_levels(MODEL, record)["return"].seen_count > 5


@pytest.mark.parametrize("name", ["return", "set"])
def test_the_true_level_lies_in_the_learned_band(name):
    """Nine in ten of sixty: fewer than 45 come about once in a hundred."""
    column, within = DAY_LEVELS.index(name), 0
    for number in range(60):
        level = told(number, 30)[2].levels[name]
        within += abs(TRUTH.day_z[number, column] - level.mean) < 1.645 * level.deviation
        assert level.deviation < 1.0
    assert within >= 45


# Setting, by the finishers.


def worked(*entries):
    """The record at three with these strips floated: name, from, to."""
    known = state_events()
    for number, (place, since, until) in enumerate(entries):
        fact = SurfaceWorked(place=place, step="floated", until=at(until) if until else None)
        known.append(slab_event(900 + number, at(since), fact))
    return fold("slab", known)


def state_events():
    return [event for event in events() if event.at <= at("15:30")]


def set_level(by, *entries):
    return forecast_of(by, worked(*entries), at("15:30")).way.levels["set"]


def test_strips_that_finishers_waited_for_tell_how_fast_the_day_sets(by):
    early = set_level(by, ("C1", "10:30", "10:40"), ("C2", "11:20", "11:40"))
    late = set_level(by, ("C1", "10:30", "10:40"), ("C2", "14:30", "14:50"))
    assert early.seen_count == late.seen_count == 1
    assert late.mean < early.mean and early.mean > 0


def test_a_start_by_finishers_of_whom_nothing_is_known_tells_nothing_of_the_day(by):
    """Whether they waited for the strip or came late to it the record does not say."""
    assert set_level(by).seen_count == 0
    assert set_level(by, ("C1", "11:00", None)).seen_count == 0
    assert set_level(by, ("C1", "11:00", None), ("C2", "12:00", None)).seen_count == 0


def test_what_is_no_sign_of_setting_tells_nothing(by):
    known = [
        *state_events(),
        slab_event(900, at("10:30"), SurfaceWorked(place="C1", step="floated", until=at("10:40"))),
        slab_event(901, at("11:20"), SurfaceWorked(place="C2", step="levelled", until=at("11:40"))),
        slab_event(902, at("11:20"), SurfaceWorked(place="C3", step="hand finished", until=at("11:40"))),
        slab_event(903, at("11:20"), SurfaceWorked(place="nowhere", step="floated", until=at("11:40"))),
    ]
    assert forecast_of(by, fold("slab", known), at("15:30")).way.levels["set"].seen_count == 0


def test_a_day_that_sets_fast_closes_edges_and_opens_strips_earlier(by):
    quick = forecast_of(by, worked(("C1", "10:30", "10:40"), ("C2", "11:20", "11:40")), at("15:30"))
    plain = forecast_of(by, worked(), at("15:30"))
    assert quick.way.chance.set_factor.mean() > plain.way.chance.set_factor.mean() * 1.005
    one, other = standing(quick), standing(plain)
    for name, edge in other.edges.items():
        assert one.edges[name].join_until_min.mean() < edge.join_until_min.mean()
    for name, strip in other.strips.items():
        assert one.strips[name].opens_min.mean() < strip.opens_min.mean()
    assert len(other.edges) > 3 and len(other.strips) > 3


def test_a_very_late_start_counts_as_no_later_than_the_late_end_of_the_band(by):
    """People come late; an edge must not be let wait for it."""
    late = set_level(by, ("C1", "10:30", "10:40"), ("C2", "13:30", "13:50"))
    very_late = set_level(by, ("C1", "10:30", "10:40"), ("C2", "15:20", "15:25"))
    assert very_late.mean == late.mean == level_after([-1.6448536269514722], by.model.day_share).mean


def test_what_the_day_has_taught_is_shown_with_units(by):
    found = {each.name: each for each in forecast_view(forecast_of(by, state_at("14:00"), at("14:00"))).learned}
    assert {"way back to the plant", "initial set at 20 °C"} <= set(found)
    back, setting = found["way back to the plant"], found["initial set at 20 °C"]
    assert back.unit == "min" and back.seen_count > 5
    assert back.planned.usual == pytest.approx(situation().sheet.plant[0].return_min / math.sqrt(1 + 0.25**2), rel=1e-6)
    assert back.now.high - back.now.low != back.planned.high - back.planned.low
    assert setting.unit == "h" and setting.seen_count == 0
    assert setting.planned.usual == pytest.approx(situation().mix.initial_set_at_20c_h)
    assert setting.planned.low < setting.planned.usual < setting.planned.high
    assert setting.now.usual == pytest.approx(setting.planned.usual)


def test_loads_on_the_road_tell_nothing_of_setting():
    """Half an hour of silence: members are weighed by the road, and keep their own draws of setting."""
    _, record, way = told(5, 6)
    silent = under_way(MODEL, DRAWS, replace(record, now_min=record.now_min + 30.0))
    assert silent.chance.haul_min[:, 20:].mean() > way.chance.haul_min[:, 20:].mean() * 1.02
    assert np.array_equal(silent.chance.set_factor, chance_of(MODEL, DRAWS).set_factor)


# Plants by ticket.


def test_each_plant_keeps_its_own_order_where_tickets_name_it():
    """The next loads are those that each plant has still to send; a load's law is that of the plant that sent it."""
    _, record, way = told(3, 12, plants=2)
    plants = plants_by_ticket(TWO.supply, record)
    assert way.plants_known and plants is not None and set(plants) == {0, 1}
    pattern = np.resize(way.model.supply.plant_of_load, len(record.loads) + 20).tolist()
    assert tuple(pattern[: len(plants)]) == plants
    for plant in (0, 1):
        assert pattern.count(plant) in (len(pattern) // 2, -(-len(pattern) // 2))
    due = way.model.supply.due_min
    assert list(due) == sorted(due)


def test_what_is_due_and_not_seen_is_on_the_road_for_each_plant_by_itself():
    """The far plant's load is late: it has been on the road at least so long. Nobody knows it without the name."""
    _, record, _ = told(3, 12, plants=2)
    far = [load for load in record.loads if load.plant == "far"]
    silent = replace(
        record,
        now_min=record.now_min + 40.0,
        loads=tuple(load for load in record.loads if load.plant != "far" or load is not far[-1]),
    )
    way = under_way(TWO, DRAWS, silent)
    count = len(silent.loads)
    pattern = way.model.supply.plant_of_load
    assert pattern[count] == 1, "the first that is missing is the far plant's"
    free = under_way(TWO, DRAWS, replace(silent, loads=tuple(replace(each, plant="") for each in silent.loads)))
    assert not free.plants_known
    due = way.model.supply.due_min[count]
    on_the_way = silent.now_min - due - way.chance.batching_min[:, count]
    assert (way.chance.haul_min[:, count] >= on_the_way - 60).all()
    assert way.chance.haul_min[:, count].mean() > free.chance.haul_min[:, count].mean()


def test_a_ticket_without_its_plant_leaves_the_plans_pattern():
    _, record, _ = told(3, 12, plants=2)
    some = replace(record, loads=(replace(record.loads[0], plant="another"), *record.loads[1:]))
    assert plants_by_ticket(TWO.supply, some) is None
    way = under_way(TWO, DRAWS, some)
    assert not way.plants_known and way.model.supply.plant_of_load == TWO.supply.plant_of_load


# The plant's own lateness.


def later(record, by_min, first=0):
    """The same course with everything from a load on later."""
    moved = [
        "batching_min",
        "left_plant_min",
        "arrived_min",
        "accepted_min",
        "start_min",
        "end_min",
        "left_site_min",
    ]
    return replace(
        record,
        now_min=record.now_min + by_min,
        loads=tuple(
            load if number < first else replace(load, **{name: getattr(load, name) + by_min for name in moved})
            for number, load in enumerate(record.loads)
        ),
    )


def test_a_plant_that_began_late_goes_on_from_there():
    _, record, way = told(5, 3)
    late = under_way(MODEL, DRAWS, later(record, 45.0))
    count = len(record.loads)
    assert late.model.supply.due_min[count] == pytest.approx(way.model.supply.due_min[count] + 45.0, abs=1e-6)


def test_a_load_that_was_once_begun_early_does_not_move_all_later_ones():
    _, record, way = told(5, 6)
    early = replace(record.loads[3], batching_min=record.loads[3].batching_min - 8.0)
    moved = replace(record, loads=(*record.loads[:3], early, *record.loads[4:]))
    count = len(record.loads)
    assert under_way(MODEL, DRAWS, moved).model.supply.due_min[count] == way.model.supply.due_min[count]


def test_a_plant_that_has_made_its_delay_good_is_on_the_plan_again():
    _, record, way = told(5, 6)
    late = [
        replace(load, batching_min=load.batching_min + (20.0 if number == 1 else 0.0))
        for number, load in enumerate(record.loads)
    ]
    count = len(record.loads)
    due = under_way(MODEL, DRAWS, replace(record, loads=tuple(late))).model.supply.due_min
    assert due[count] == pytest.approx(way.model.supply.due_min[count], abs=1e-6)


def test_a_plant_that_waits_for_its_trucks_catches_up_as_in_the_plan():
    """The queue at the pump keeps the trucks: the plant is late by more than an interval, and its due times stay."""
    found = 0
    for number in range(40):
        _, record, way = told(number, 20)
        behind = record.loads[-1].batching_min - (
            MODEL.supply.first_batching_min + (len(record.loads) - 1) * MODEL.supply.interval_min
        )
        if behind > 1.5 * MODEL.supply.interval_min:
            found += 1
            count = len(record.loads)
            planned = MODEL.supply.first_batching_min + count * MODEL.supply.interval_min
            assert way.model.supply.due_min[count] == pytest.approx(planned, abs=1e-6)
    assert found >= 3


def test_a_wider_interval_counts_from_the_last_load():
    _, record, _ = told(5, 12)
    count, last = len(record.loads), max(load.batching_min for load in record.loads)
    told_now = replace(record, called=(CallOff(record.now_min, "slower", 25.0),))
    due = under_way(MODEL, DRAWS, told_now).model.supply.due_min
    begin = max(record.now_min, last + 25.0)
    assert due[count + 3] - due[count + 2] == pytest.approx(25.0)
    assert begin in due[count : count + 4]


def test_loads_since_the_plant_was_told_to_send_keep_their_interval():
    """The next load is due an interval after the last, not with it."""
    _, record, _ = told(5, 12)
    count = len(record.loads)
    begins = sorted(load.batching_min for load in record.loads)
    resumed = begins[-2] - 0.5
    called = (CallOff(begins[-3] + 0.5, "hold", None), CallOff(resumed, "send", 12.0))
    due = under_way(MODEL, DRAWS, replace(record, called=called)).model.supply.due_min
    assert due[count] == pytest.approx(resumed + 2 * 12.0, abs=12.0)
    assert due[count] >= begins[-1] + 1.0
