"""Which loads are sampled for strength: drawn by seed before the pour, and asked load by load during it."""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.sheet import Sampling

AT_RANDOM = Source("EN 12350-1 and ASTM C172: loads chosen at random, before they arrive", Provenance.MEMORY)
IN_EQUAL_PARTS = Source("one load drawn in each equal part of the pour, never the last load alone", Provenance.OWN_RULE)


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingPlan:
    """What was settled before the pour. Loads count from 1, in the order in which they are taken."""

    drawn: frozenset[int]
    seed: int
    loads_count: int
    """Loads that were planned."""
    required_count: int
    """Fewest samples of the whole pour, by specification or rule book."""
    required_by: str
    one_sample_per_m3: float | None = None
    every_load: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSoFar:
    """A load that came before."""

    volume_m3: float
    taken: bool
    sampled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleDue:
    """Whether the load in hand is sampled, and why or why not."""

    due: bool
    why: tuple[str, ...]


def samples_specified(sampling: Sampling, volume_m3: float, loads_count: int) -> int:
    """Number of samples that the specification asks for; at least one (own rule), at most one a load."""
    if sampling.one_sample_per_load:
        return loads_count
    if sampling.one_sample_per_m3 is None:
        return min(1, loads_count)
    return min(loads_count, max(1, math.ceil(volume_m3 / sampling.one_sample_per_m3 - 1e-9)))


def sampling_plan(
    sampling: Sampling, order_m3: float, loads_count: int, seed: int, *, book_count: int = 0, book_says: str = ""
) -> SamplingPlan:
    """Draw the loads to be sampled: as many as the specification or the rule book asks for, the larger number.

    `book_count` with `book_says`: samples that the rule book in force asks for, and the clause. The same seed draws
    the same loads. Source: AT_RANDOM, IN_EQUAL_PARTS.
    """
    own = samples_specified(sampling, order_m3, loads_count)
    count = min(loads_count, max(own, book_count))
    by = "the specification" if own >= book_count else book_says or "the rule book"
    return SamplingPlan(
        drawn=drawn_loads(count, loads_count, seed),
        seed=seed,
        loads_count=loads_count,
        required_count=count,
        required_by=by,
        one_sample_per_m3=sampling.one_sample_per_m3,
        every_load=sampling.one_sample_per_load,
    )


def drawn_loads(samples_count: int, loads_count: int, seed: int) -> frozenset[int]:
    """Loads, counted from 1: one drawn in each of so many equal parts; the last load only where every load is drawn."""
    among = loads_count - 1 if loads_count > samples_count else loads_count
    draws = random.Random(seed)  # repeatable by seed on every version of Python; no secret hangs on it
    ends = [number * among // samples_count for number in range(samples_count + 1)] if samples_count else []
    return frozenset(first + 1 + math.floor(draws.random() * (end - first)) for first, end in pairwise(ends))


def sample_due(plan: SamplingPlan, before: Sequence[LoadSoFar], volume_m3: float) -> SampleDue:
    """Say whether the load in hand, if it is taken, is sampled.

    It is when it was drawn; when a drawn load before it was missed; when the specification's volume for one sample is
    full without one; when only as many loads are left as samples are missing. A refused load counts for nothing: the
    next one steps into its place. Pure: the same loads give the same answer.
    """
    taken = [load for load in before if load.taken]
    number, samples = len(taken) + 1, sum(load.sampled for load in taken)
    placed = math.fsum(load.volume_m3 for load in taken) + volume_m3
    why = []
    if plan.every_load:
        why.append("every load is sampled by the specification")
    if number in plan.drawn:
        why.append(f"load {number} was drawn before the pour")
    drawn_before = sum(1 for one in plan.drawn if one < number)
    if samples < drawn_before:
        why.append(f"{drawn_before} loads before it were drawn and {samples} sampled: one was missed")
    if plan.one_sample_per_m3 is not None:
        full = math.floor(placed / plan.one_sample_per_m3 + 1e-9)
        if samples < full:
            why.append(f"{placed:g} m³ with it, {samples} samples: one for each {plan.one_sample_per_m3:g} m³ is due")
    missing, left = plan.required_count - samples, max(0, plan.loads_count - number) + 1
    if 0 < left <= missing:
        why.append(f"{missing} samples are missing by {plan.required_by} and {left} loads are left, with this one")
    if why:
        return SampleDue(due=True, why=tuple(why))
    return SampleDue(due=False, why=(f"load {number} was not drawn, and {samples} samples keep the frequency",))
