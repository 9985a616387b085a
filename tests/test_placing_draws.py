"""The draws: known outputs of the hash, the normal quantile against two libraries, independence of the order of use."""

from statistics import NormalDist

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtri

from wetfront.errors import InvalidInput
from wetfront.hashed import normal_quantile, split
from wetfront.placing.draws import STREAMS, draws_from_generator, hashed_draws


def splitmix64(state):
    """The generator in plain integers, one call one number."""
    while True:
        state = (state + 0x9E3779B97F4A7C15) % 2**64
        mixed = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) % 2**64
        mixed = ((mixed ^ (mixed >> 27)) * 0x94D049BB133111EB) % 2**64
        yield mixed ^ (mixed >> 31)


def test_hash_has_the_known_first_outputs_of_its_generator():
    """Published test vector of SplitMix64 for state 1234567 (from memory)."""
    known = [6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821]
    got = split(np.array([1234567], dtype=np.uint64), np.arange(5, dtype=np.uint64))
    assert got.tolist() == known


def test_a_draw_is_the_hash_of_seed_replication_stream_and_index():
    seed, replication, stream, index = 77, 5, 7, 3  # stream 7: time to the breakdown

    def output(state, number):
        generator = splitmix64(state)
        return [next(generator) for _ in range(number + 1)][-1]

    bits = output(output(output(output(seed, 0), replication), stream), index)
    expected = -np.log(((bits >> 11) + 0.5) * 2.0**-53)
    assert hashed_draws(seed, 8, 10, 2).up_e[replication, index] == pytest.approx(expected, rel=1e-15)


def test_draws_do_not_depend_on_how_many_are_drawn_or_where_the_split_is():
    whole = hashed_draws(3, 40, 30, 9)
    later = hashed_draws(3, 15, 20, 4, first_replication=25)
    part = whole.part(slice(25, 40))
    assert part.first_replication == later.first_replication == 25
    for name in STREAMS:
        one, other = getattr(whole, name), getattr(later, name)
        assert np.array_equal(one[25:, : other.shape[1]], other), name
        assert np.array_equal(getattr(part, name)[:, : other.shape[1]], other)


def test_a_part_of_a_table_is_rows_that_follow_one_another():
    with pytest.raises(InvalidInput, match="follow one another"):
        hashed_draws(3, 10, 3, 0).part(slice(0, 10, 2))


@pytest.mark.parametrize("name", STREAMS)
def test_draws_follow_their_distribution(name):
    """Kolmogorov-Smirnov on 20,000 numbers; a fixed seed, so this either holds or does not."""
    sample = getattr(hashed_draws(12, 2500, 8, 8), name)[:, :8].ravel()
    law = {"z": stats.norm, "e": stats.expon, "u": stats.uniform}[name[-1]]
    assert stats.kstest(sample, law.cdf).pvalue > 0.001


def test_streams_replications_and_loads_are_uncorrelated():
    table = hashed_draws(1, 4000, 6, 6)
    columns = np.column_stack(
        [table.batching_z, table.haul_z, table.return_z, table.repair_z[:, :6], table.finishing_z]
    )
    correlation = np.corrcoef(columns, rowvar=False) - np.eye(columns.shape[1])
    assert np.abs(correlation).max() < 4.5 / np.sqrt(4000)
    assert abs(np.corrcoef(table.batching_z[:-1, 0], table.batching_z[1:, 0])[0, 1]) < 4 / np.sqrt(4000)


def test_normal_quantile_agrees_with_two_libraries():
    half = np.concatenate([10.0 ** np.arange(-16, -1, 0.25), np.linspace(0.01, 0.5, 500)])
    probability = np.concatenate([half, 1 - half[half > 1e-12]])
    got = normal_quantile(probability)
    assert np.allclose(got, ndtri(probability), rtol=1e-13, atol=1e-15)
    assert np.allclose(got, [NormalDist().inv_cdf(p) for p in probability], rtol=1e-14, atol=1e-15)


def test_workload_table_is_the_stated_one():
    """First and last number of P1, seed 11, as the workload states them."""
    table = draws_from_generator(11, 500, 38, 30)
    assert table.loads_count == 78
    # The workload's first entry is a duration: the first normal number is that of its batching.
    first = np.exp(np.log(5) - np.log(1 + 0.2**2) / 2 + np.sqrt(np.log(1 + 0.2**2)) * table.batching_z[0, 0])
    last = np.exp(np.log(14) - np.log(1 + 0.3**2) / 2 + np.sqrt(np.log(1 + 0.3**2)) * table.finishing_z[-1, -1])
    assert first == pytest.approx(4.936216597025266, abs=1e-14)
    assert last == pytest.approx(9.067931424432391, abs=1e-14)


@pytest.mark.parametrize(("seed", "count", "loads"), [(-1, 1, 1), (2**64, 1, 1), (0, 0, 1), (0, 1, 0)])
def test_impossible_tables_are_refused(seed, count, loads):
    with pytest.raises(InvalidInput):
        hashed_draws(seed, count, loads, 1)
