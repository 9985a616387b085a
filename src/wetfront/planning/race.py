"""Racing search: few replications for all candidates, many for the best, the same draws for everyone.

Because candidates share their draws, a difference between two of them is seen far sooner than either's own mean. The
result depends on the candidates and the seed alone, never on the number of workers: work is cut and put together again
in a fixed order.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Progress = Callable[[int, int, str], None]
"""Called with what is done, what there is to do, and what is being done."""

Rounds = Sequence[tuple[int, int]]
ROUNDS: Rounds = ((8, 120), (32, 30), (120, 6), (400, 2))
"""Replications of each candidate still in the race, and how many candidates stay after them."""
BENEFIT_OF_DOUBT = 1.645
"""Standard errors by which a risk may seem too high before a candidate falls behind: 5 %, one side (own rule)."""
SAFE_PART, STANDING_PART = 3, 6
"""One place in three is kept for those within the limits beyond doubt, one in six for those within as it stands."""


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """What replications showed for one candidate."""

    cost: Floats
    failed: Floats
    """(replications, risks): 1 failed, 0 not; between where a replication only fixes a probability, as for rain."""

    @property
    def count(self) -> int:
        """Replications."""
        return len(self.cost)

    def probabilities(self) -> Floats:
        """Of each risk."""
        mean: Floats = self.failed.mean(axis=0)
        return mean

    def standard_errors(self) -> Floats:
        """Of each probability; never 0 for a counted one, since none seen is not none there (Agresti and Coull)."""
        smoothed = (self.failed.sum(axis=0) + 2.0) / (self.count + 4.0)
        counted = np.sqrt(smoothed * (1.0 - smoothed) / (self.count + 4.0))
        is_counted = ((self.failed == 0) | (self.failed == 1)).all(axis=0)
        errors: Floats = np.where(is_counted, counted, self.failed.std(axis=0) / math.sqrt(self.count))
        return errors

    def joined(self, more: "Sample") -> "Sample":
        """This sample and further replications of the same candidate."""
        return Sample(np.concatenate([self.cost, more.cost]), np.concatenate([self.failed, more.failed]))

    def part(self, first: int, until: int) -> "Sample":
        """Some of the replications."""
        return Sample(self.cost[first:until], self.failed[first:until])


Evaluate = Callable[[Sequence[int], int, int], Sequence[Sample]]
"""(candidates, first replication, number of replications) -> a sample for each candidate, in the same order."""


@dataclass(frozen=True, slots=True, eq=False)
class RaceResult:
    """Who won, on what."""

    ranking: tuple[int, ...]
    """The candidates of the last round, best first."""
    samples: dict[int, Sample]
    """Of every candidate, on as many replications as it got."""
    total_replications_count: int
    chance_best: float
    """Probability that the winner is the best of those in the last round but one, by paired differences."""
    possible_loss: float
    """Expected loss of cost if another one is better."""

    @property
    def winner(self) -> int:
        """The best candidate."""
        return self.ranking[0]


def violation(sample: Sample, limits: Floats, doubt: float = 0.0) -> float:
    """By how much the risks are over their limits, added up; 0 when all hold.

    With `doubt`, only what is over by more than that many standard errors counts.
    """
    over = sample.probabilities() - limits - doubt * sample.standard_errors()
    return float(np.maximum(over, 0.0).sum())


def paired_difference(sample: Sample, base: Sample) -> tuple[float, float]:
    """By how much dearer `sample` is than `base`, with its standard error, on the replications that both have."""
    count = min(sample.count, base.count)
    difference = sample.cost[:count] - base.cost[:count]
    return float(difference.mean()), float(difference.std(ddof=1)) / math.sqrt(count) if count > 1 else 0.0


def ranked(samples: dict[int, Sample], limits: Floats, doubt: float = 0.0) -> list[int]:
    """Candidates best first: those within the limits by cost, then the others by how far they are over."""

    def key(candidate: int) -> tuple[float, float, int]:
        sample = samples[candidate]
        return (round(violation(sample, limits, doubt), 9), float(sample.cost.mean()), candidate)

    return sorted(samples, key=key)


def race(
    candidates_count: int,
    evaluate: Evaluate,
    limits: Floats,
    rounds: Rounds = ROUNDS,
    progress: Progress | None = None,
) -> RaceResult:
    """Race all candidates. `rounds` has rising replications and falling numbers kept; the last number is shown."""
    running = list(range(candidates_count))
    samples: dict[int, Sample] = {}
    done, planned = 0, planned_replications(candidates_count, rounds)
    total, before = 0, 0
    contenders: list[int] = running
    for number, (replications, kept) in enumerate(rounds):
        last = number == len(rounds) - 1
        more = replications - before
        found = evaluate(running, before, more)
        for candidate, sample in zip(running, found, strict=True):
            samples[candidate] = samples[candidate].joined(sample) if candidate in samples else sample
        total += more * len(running)
        done += more * len(running)
        if progress is not None:
            progress(min(done, planned), planned, f"{len(running)} candidates on {replications} replications")
        contenders = running
        racing = {candidate: samples[candidate] for candidate in running}
        running = ranked(racing, limits) if last else _kept(racing, limits, max(1, kept))
        before = replications
    chance, loss = _confidence(running, contenders, samples, limits)
    return RaceResult(tuple(running), samples, total, chance, loss)


def _kept(samples: dict[int, Sample], limits: Floats, count: int) -> list[int]:
    """Those that stay: most with the benefit of the doubt, and for certain the best that keep the limits without it.

    Else the places would all go to the cheapest of those that only seem to keep a limit, and none that does be left.
    """
    safe = ranked(samples, limits, -BENEFIT_OF_DOUBT)[: count // SAFE_PART]
    as_it_stands = ranked(samples, limits)[: count // STANDING_PART]
    order = ranked(samples, limits, BENEFIT_OF_DOUBT)
    chosen = {*safe, *as_it_stands}
    for candidate in order:
        if len(chosen) >= count:
            break
        chosen.add(candidate)
    return [candidate for candidate in order if candidate in chosen]


def planned_replications(candidates_count: int, rounds: Rounds) -> int:
    """Replications of a race from its start to its end."""
    total, running, before = 0, candidates_count, 0
    for replications, kept in rounds:
        total += (replications - before) * running
        running, before = min(running, kept), replications
    return total


def _confidence(
    ranking: Sequence[int], contenders: Sequence[int], samples: dict[int, Sample], limits: Floats
) -> tuple[float, float]:
    """Chance that the first is best, and expected loss, from paired differences of cost on the same draws.

    Rivals count as independent, which understates the chance where they are alike (own rule). Only rivals within the
    limits count where the winner is within them.
    """
    winner = samples[ranking[0]]
    feasible = violation(winner, limits) == 0
    chance, loss = 1.0, 0.0
    for rival in contenders:
        if rival == ranking[0] or (feasible and violation(samples[rival], limits) > 0):
            continue
        count = min(winner.count, samples[rival].count)
        difference = samples[rival].cost[:count] - winner.cost[:count]
        better, expected = _paired(difference)
        chance *= better
        loss = max(loss, expected)
    return chance, loss


def _paired(difference: Floats) -> tuple[float, float]:
    """Probability that the mean difference is above 0, and expected size of it where it is below."""
    mean = float(difference.mean())
    if len(difference) < 2:
        return (0.5 if mean == 0 else float(mean > 0)), max(0.0, -mean)
    error = float(difference.std(ddof=1)) / math.sqrt(len(difference))
    if error == 0:
        return (1.0 if mean >= 0 else 0.0), max(0.0, -mean)
    normal = NormalDist()
    z = mean / error
    return normal.cdf(z), error * normal.pdf(z) - mean * normal.cdf(-z)
