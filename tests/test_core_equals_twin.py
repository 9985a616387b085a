"""The compiled core against the plain simulator: every output, every extension, every error, any split and thread."""

import subprocess
import sys
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import workloads
from small_pours import EXTENSIONS, extensions, small_pour
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.hashed import normal_quantile
from wetfront.placing.core import prepared
from wetfront.placing.core.library import core_name, load, quantile_table
from wetfront.placing.core.prepared import PreparedPours, simulate
from wetfront.placing.draws import STREAMS, Draws, hashed_draws
from wetfront.placing.model import Lognormal, Replications, WeatherMembers
from wetfront.placing.seeded import SeededDraws
from wetfront.placing.simulate import simulate as simulate_plain
from workloads import P1, P2

TOLERANCE = 1e-9


@pytest.fixture(autouse=True)
def compiled(monkeypatch):
    """These tests are about the compiled core: `make` builds it, with the compiler of a package where there is none."""
    monkeypatch.delenv("WETFRONT_CORE", raising=False)
    assert load() is not None, "the compiled core is not built: run `make core`"


def assert_same(got: Replications, expected: Replications, tolerance=TOLERANCE):
    for column in fields(Replications):
        one, other = getattr(got, column.name), getattr(expected, column.name)
        assert one.shape == other.shape and one.dtype == other.dtype, column.name
        if one.dtype == np.int64 or tolerance == 0:
            assert np.array_equal(one, other), column.name
        else:
            assert np.allclose(one, other, rtol=0, atol=tolerance), column.name


def draws_for(model, seed, count=3, loads=120) -> Draws:
    return hashed_draws(seed, count, loads, len(model.finishing.strip_min))


@pytest.mark.parametrize("order", [0, 1, 2])
@pytest.mark.parametrize("load", [P1, P2], ids=["P1", "P2"])
def test_workloads(load, order):
    model = workloads.pour(load, order)
    draws = load.draws(500).part(slice(0, 60 if load is P1 else 12))
    assert_same(simulate(model, draws), simulate_plain(model, draws))


def outcome_or_error(simulator, model, draws):
    try:
        return simulator(model, draws)
    except InvalidInput as error:
        return type(error), error.key, str(error)


def compare(model, draws):
    got, expected = outcome_or_error(simulate, model, draws), outcome_or_error(simulate_plain, model, draws)
    if isinstance(expected, Replications):
        assert isinstance(got, Replications), got
        assert_same(got, expected)
    else:
        assert got == expected


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), on=extensions)
@example(seed=1, on=set())
@example(seed=2, on=set(EXTENSIONS))
@example(seed=3, on={"loads end at cells"})
@example(seed=3765664, on={"rate is held"})
def test_random_pours_with_any_extensions(seed, on):
    model = small_pour(seed, on)
    compare(model, draws_for(model, seed))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32), on=extensions)
def test_random_pours_without_chance(seed, on):
    """Round numbers and no spread make many things happen at the same moment: ties must fall the same way."""
    model = small_pour(seed, on)
    plants = tuple(
        replace(plant, batching_min=Lognormal(5.0), haul_min=Lognormal(20.0), return_min=Lognormal(15.0))
        for plant in model.supply.plants
    )
    supply = replace(model.supply, plants=plants, interval_min=10.0, first_batching_min=420.0, load_m3=3.0)
    site = replace(
        model.site,
        position_min=2.0,
        wash_min=3.0,
        speed=Lognormal(1.0),
        repair_min=Lognormal(10.0),
        waiting_free_min=5.0,
    )
    cells = replace(model.cells, volume_m3=np.full(len(model.cells.volume_m3), 1.0))
    concrete = replace(model.concrete, set_factor_sd=0.0, set_limit_min=60.0)
    model = replace(model, supply=supply, site=site, cells=cells, concrete=concrete)
    compare(model, draws_for(model, seed))


ASKED_LOAD_BY_LOAD = {
    *("bans", "two plants", "call-off steps", "measured balance", "breaks", "weather stops", "wastage", "consistence"),
    *("cooling on the way", "moves", "called when due", "gang by hour"),
}
"""What keeps the loads of several replications from being looked at side by side."""


@settings(max_examples=100, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    on=st.sets(st.sampled_from(sorted(set(EXTENSIONS) - ASKED_LOAD_BY_LOAD))),
    trucks=st.integers(1, 16),
    interval_min=st.sampled_from([0.0, 4.0, 15.0]),
    road_cv=st.sampled_from([0.0, 0.2, 1.5]),
    load_m3=st.floats(0.3, 2.0),
    longest_age_min=st.sampled_from([35.0, 90.0, 1000.0]),
    pumping_min_between_stops=st.sampled_from([10.0, 400.0]),
    day_share=st.sampled_from([0.0, 0.4, 1.0]),
    count=st.integers(1, 19),
)
def test_loads_side_by_side(
    seed, on, trucks, interval_min, road_cv, load_m3, longest_age_min, pumping_min_between_stops, day_share, count
):
    """Trucks that overtake few or many others, come back too early for the row, are sent back, break down; any number
    of replications."""
    model = small_pour(seed, on)
    plant = model.supply.plants[0]
    haul, back = (Lognormal(law.mean, road_cv) for law in (plant.haul_min, plant.return_min))
    plants = (replace(plant, trucks_count=trucks, haul_min=haul, return_min=back),)
    model = replace(
        model,
        supply=replace(model.supply, plants=plants, interval_min=interval_min, load_m3=load_m3),
        acceptance=replace(model.acceptance, longest_age_min=longest_age_min),
        site=replace(model.site, pumping_min_between_stops=pumping_min_between_stops),
        day_share=day_share,
    )
    compare(model, draws_for(model, seed, count=count))


@pytest.mark.parametrize("trucks", [2, 7, 16, 30])
@pytest.mark.parametrize("cv", [0.6, 2.5])
def test_trucks_that_come_back_in_any_order(trucks, cv):
    """Many trucks wait on site or are on their way back, and each load waits for the first of these."""
    model = workloads.pour(P1, 1, trucks=trucks, interval_min=0.5)
    plants = (replace(model.supply.plants[0], haul_min=Lognormal(20.0, cv), return_min=Lognormal(60.0, cv)),)
    supply, acceptance = replace(model.supply, plants=plants), replace(model.acceptance, longest_age_min=1e4)
    compare(replace(model, supply=supply, acceptance=acceptance), P1.draws(24))


@pytest.mark.parametrize("on", [(name,) for name in EXTENSIONS], ids=str)
def test_each_extension_alone(on):
    for seed in range(4):
        model = small_pour(seed, set(on))
        compare(model, draws_for(model, seed, count=5))


@pytest.mark.parametrize("seed", range(6))
def test_a_replication_meets_its_own_member_wherever_the_table_begins(seed):
    """In the core and in the twin, from a table and from a seed: replication r meets row (r - first) mod count."""
    model = small_pour(seed, {"weather members", "cooling on the way", "age counts", "evaporation", "edge limits"})
    shifted = replace(model, members=replace(model.members, first_replication=2))
    strips = len(model.finishing.strip_min)
    for pour, first in ((model, 0), (model, 7), (shifted, 2), (shifted, 6)):
        table = hashed_draws(seed, 5, 120, strips, first_replication=first)
        seeded = SeededDraws(seed=seed, count=5, loads_count=120, strips_count=strips, first_replication=first)
        whole = simulate_plain(pour, table)
        assert_same(simulate(pour, table), whole)
        assert_same(simulate(pour, seeded), whole)
        assert_same(PreparedPours([pour] * 5).simulate(seeded).of(3), whole)
        for row in range(5):
            alone = simulate_plain(pour.met_by(first + row), table.part(slice(row, row + 1)))
            assert_same(simulate_plain(pour, table, slice(row, row + 1)), alone, 0)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32), on=extensions)
def test_members_that_are_all_the_forecast_change_no_bit(seed, on):
    model = small_pour(seed, on - {"weather members"})
    concrete, finishing = model.concrete, model.finishing
    rates = finishing.evaporation_kg_per_m2_h
    members = WeatherMembers(
        clock_min=np.tile(concrete.clock_min, (2, 1)),
        air_temperature_c=np.tile(concrete.air_temperature_c, (2, 1)),
        set_factor_sd=np.full(2, concrete.set_factor_sd),
        activation_temperature_k=np.full(2, concrete.activation_temperature_k),
        ready_clock_min=np.full(2, finishing.ready_clock_min),
        latest_clock_min=np.full(2, finishing.latest_clock_min),
        evaporation_kg_per_m2_h=np.tile(rates, (2, 1)),
    )
    draws = draws_for(model, seed)
    expected = outcome_or_error(simulate, model, draws)
    got = outcome_or_error(simulate, replace(model, members=members), draws)
    if isinstance(expected, Replications):
        assert_same(got, expected, 0)
    else:
        assert got == expected


def test_runs_out_of_loads_and_breakdowns_with_the_same_words():
    model = workloads.pour(P1, 1)
    few = hashed_draws(1, 4, 30, P1.nx)
    often = replace(model, site=replace(model.site, pumping_min_between_stops=1.0))
    short = replace(model, concrete=replace(model.concrete, clock_min=model.concrete.clock_min[:60]))
    for wrong, draws in ((model, few), (often, P1.draws(4)), (short, P1.draws(4))):
        with pytest.raises(OutOfRange) as by_core:
            simulate(wrong, draws)
        with pytest.raises(OutOfRange) as by_twin:
            simulate_plain(wrong, draws)
        assert str(by_core.value) == str(by_twin.value)


def test_the_first_failing_replication_speaks_for_all_on_any_number_of_threads():
    model = replace(workloads.pour(P1, 1), acceptance=replace(workloads.pour(P1, 1).acceptance, longest_age_min=46.0))
    draws = hashed_draws(5, 400, 44, P1.nx)
    with pytest.raises(OutOfRange) as expected:
        simulate(model, draws)
    for threads in (2, 5):
        with pytest.raises(OutOfRange) as got:
            simulate(model, draws, threads=threads)
        assert str(got.value) == str(expected.value)


@pytest.mark.parametrize("name", ["batching_z", "up_e", "finishing_z", "wastage_z"])
def test_a_table_of_draws_of_uneven_width_is_refused(name):
    draws = P1.draws(5)
    cut = replace(draws, **{name: getattr(draws, name)[:3]})
    with pytest.raises(InvalidInput, match="draws"):
        simulate(workloads.pour(P1, 1), cut)


@pytest.mark.parametrize(
    "draws", [P1.draws(900), SeededDraws(seed=4, count=900, loads_count=78, strips_count=30)], ids=type
)
def test_threads_and_splits_change_no_bit(draws):
    model = workloads.pour(P1, 1)
    whole = simulate(model, draws)
    for threads in (2, 3, 7):
        assert_same(simulate(model, draws, threads=threads), whole, tolerance=0)
    part = simulate(model, draws, slice(250, 700))
    for column in fields(Replications):
        assert np.array_equal(getattr(part, column.name), getattr(whole, column.name)[250:700]), column.name


def levels() -> list[int]:
    """Of instructions that this processor has; 0 is every processor's."""
    return list(range(load().level + 1))


@pytest.mark.parametrize(
    "on", [set(), {"wastage"}, {"panels", "two plants"}], ids=lambda on: " and ".join(sorted(on)) or "none"
)
def test_instructions_of_the_processor_change_no_bit(monkeypatch, on):
    """A plan worked out on one machine is the same on another."""
    for model in (workloads.pour(P1, 1), small_pour(3, on)):
        strips = len(model.finishing.strip_min)
        for draws in (
            hashed_draws(4, 60, 120, strips),
            SeededDraws(seed=4, count=60, loads_count=120, strips_count=strips),
        ):
            by_level = []
            for level in levels():
                library = replace(load(), level=level)
                monkeypatch.setattr(prepared, "chosen", lambda library=library: library)
                by_level.append(simulate(model, draws))
            for got in by_level[1:]:
                assert_same(got, by_level[0], tolerance=0)


@pytest.mark.parametrize("level", levels())
def test_numbers_hashed_in_the_core_are_those_of_the_table(level):
    """Normal, exponential and uniform streams of `hashed_draws`, to 1e-13."""
    library, table = load(), hashed_draws(2**63 + 12345, 3, 50, 20, first_replication=7)
    for number, name in enumerate(STREAMS):
        expected = getattr(table, name)
        got = np.empty_like(expected)
        for row in range(3):
            library.hashed(
                2**63 + 12345,
                7 + row,
                number,
                expected.shape[1],
                name[-1].encode(),
                level,
                quantile_table().ctypes.data,
                got[row].ctypes.data,
            )
        assert np.allclose(got, expected, rtol=1e-13, atol=1e-13), name


def test_quantile_table_agrees_with_the_normal_quantile():
    """In every part of every octave, both tails."""
    rng = np.random.default_rng(1)
    tail = 2.0 ** -rng.uniform(1, 53.9, 20_000)
    table = quantile_table()
    bits = tail.view(np.uint64)
    row = ((bits >> np.uint64(47)) - np.uint64((1023 - 54) << 5)).astype(int)
    x = ((bits << np.uint64(5)) & np.uint64(2**52 - 1) | np.uint64(0x4000000000000000)).view(np.float64) - 3.0
    got = sum(table[row, power] * x**power for power in range(8))
    assert np.allclose(got, -normal_quantile(tail), rtol=1e-13, atol=1e-13)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**64 - 1), on=extensions, first=st.integers(0, 10**6))
def test_seeded_draws_give_what_their_table_gives(seed, on, first):
    model = small_pour(seed % 2**32, on)
    draws = SeededDraws(
        seed=seed, count=2, loads_count=120, strips_count=len(model.finishing.strip_min), first_replication=first
    )
    got, expected = outcome_or_error(simulate, model, draws), outcome_or_error(simulate_plain, model, draws.table())
    if isinstance(expected, Replications):
        assert_same(got, expected)
    else:
        assert got == expected


def test_hashed_draws_of_a_large_pour_are_those_of_its_table():
    """More loads than the core hashes in one go."""
    model, draws = workloads.pour(P2, 1), SeededDraws(seed=6, count=3, loads_count=P2.loads + 40, strips_count=P2.nx)
    assert_same(simulate(model, draws), simulate_plain(model, draws.table()))


def test_many_pours_prepared_together_are_as_each_alone():
    models = [
        workloads.pour(P1, order, trucks=trucks, interval_min=interval)
        for order, trucks, interval in ((0, 4, 9.0), (1, 6, 8.5), (1, 12, 17.0), (2, 5, 11.0), (1, 9, 8.0))
    ] + [small_pour(seed, {"panels", "two plants", "wastage"}) for seed in range(3)]
    draws = P1.draws(40)
    outcomes = PreparedPours(models).simulate(draws, slice(10, 40), threads=2)
    again = PreparedPours(models).simulate(draws, slice(10, 40), which=[7, 2], threads=1)
    for number, model in enumerate(models):
        assert_same(outcomes.of(number), simulate_plain(model, draws, slice(10, 40)))
    assert_same(again.of(0), outcomes.of(7), tolerance=0)
    assert_same(again.of(1), outcomes.of(2), tolerance=0)
    assert np.array_equal(outcomes.column("waste_m3")[3], outcomes.of(3).waste_m3)


def test_no_replications_give_empty_columns():
    model = workloads.pour(P1, 1)
    assert_same(simulate(model, P1.draws(3), slice(2, 2)), simulate_plain(model, P1.draws(3), slice(2, 2)))


def test_plain_core_can_be_asked_for_and_says_so(monkeypatch):
    assert core_name() == "compiled"
    monkeypatch.setenv("WETFRONT_CORE", "plain")
    assert core_name() == "plain Python"
    model, draws = workloads.pour(P1, 1), P1.draws(3)
    assert_same(simulate(model, draws), simulate_plain(model, draws), tolerance=0)


def test_the_simulator_starts_without_sheets_and_rule_books():
    """They take as long to load as all else that a first result needs."""
    asked = "import sys, wetfront.placing.core.prepared; print([n for n in sys.modules if n.startswith('wetfront')])"
    done = subprocess.run([sys.executable, "-c", asked], check=True, capture_output=True, text=True)
    assert "wetfront.placing.core.prepared" in done.stdout
    assert not any(name in done.stdout for name in ("wetfront.rules", "wetfront.nouns.sheet", "wetfront.intake"))


def test_a_library_from_other_source_is_not_used(tmp_path):
    """A stale build would silently simulate yesterday's rules."""
    from wetfront.placing.core.build import LIBRARY_NAME, compiler
    from wetfront.placing.core.library import library_path

    assert compiler(), "no C compiler at all"
    stale = tmp_path / LIBRARY_NAME
    content = library_path().read_bytes()
    from wetfront.placing.core.build import source_hash

    stale.write_bytes(content.replace(source_hash().encode(), b"0" * 64))
    assert load(stale) is None
    assert load(tmp_path / "absent.so") is None


@pytest.mark.parametrize("core", ["compiled", "plain"])
def test_replications_that_do_not_end_are_told_apart_and_the_others_are_as_they_are_alone(monkeypatch, core):
    """Of several pours at once: refusals that use up the loads, breakdowns that use up theirs, none of either, all."""
    if core == "plain":
        monkeypatch.setenv("WETFRONT_CORE", "plain")
    model = workloads.pour(P1, 1)
    strict = replace(model, acceptance=replace(model.acceptance, longest_age_min=46.0))
    often = replace(model, site=replace(model.site, pumping_min_between_stops=6.0))
    never = replace(model, acceptance=replace(model.acceptance, longest_age_min=1e-6))
    models, draws = [strict, model, often, never, model], hashed_draws(5, 24, 44, P1.nx)
    found = PreparedPours(models).simulate(draws, carry_on=True)
    for number, one in enumerate(models):
        for row in range(24):
            try:
                alone = simulate_plain(one, draws, slice(row, row + 1))
            except InvalidInput:
                assert not found.ended[number, row]
                continue
            assert found.ended[number, row]
            for column in fields(Replications):
                got, expected = getattr(found.of(number), column.name)[row], getattr(alone, column.name)[0]
                assert np.allclose(got, expected, rtol=0, atol=TOLERANCE), column.name
    share = found.ended.mean(axis=1)
    assert 0 < share[0] < 1 and share[1] == share[4] == 1 and share[3] == 0
