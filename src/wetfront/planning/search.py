"""The search over a pour's decisions: in blocks, each a race on the same draws, then one last race of the best.

Order of placing, then rate, loads, interval, trucks and mix, then the start, the logistics again at that start, then
small steps round the best. Where the sheet opens more (pumps, vibrators, gangs, cooler concrete, patterns of the
interval), the best are tried with each of these, at other starts, and the logistics once more with those that did well.
A full search over all combinations would take hours and find the same: the order decides how long an edge waits, and
depends little on the quarter hour of the start. On small problems the two agree (a test keeps it).
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import asdict, dataclass, field, replace
from typing import TypeVar

from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate, OrderChoice
from wetfront.planning.candidates import logistics, neighbours, nominal, placing_orders, start_times
from wetfront.planning.carried import Carried
from wetfront.planning.judge import evaluate, risk_limits, run
from wetfront.planning.means import opened_means, patterns, plain_means, steps_of_means, with_means
from wetfront.planning.race import (
    BENEFIT_OF_DOUBT,
    RaceResult,
    Rounds,
    Sample,
    planned_replications,
    race,
    violation,
)
from wetfront.planning.rule_of_thumb import rule_of_thumb
from wetfront.planning.situation import Situation

Task = TypeVar("Task")
Result = TypeVar("Result")
Progress = Callable[[int, int, str], None]
ORDER_ROUNDS: Rounds = ((16, 60),)
ORDERS_KEPT = 3
LOGISTICS_ROUNDS: Rounds = ((8, 60), (24, 40))
START_ROUNDS: Rounds = ((8, 50), (24, 12))
BEST_KEPT, OF_EACH_KIND = 6, 2
FINAL_ROUNDS: Rounds = ((32, 24), (120, 6), (400, 2))
LOOK_FIRST = 120
"""Replications on which most plans turn out not to matter before they are simulated in full."""
CHUNKS = 16
"""Pieces into which a round is cut for the workers; fixed, so that nothing depends on their number."""


@dataclass(slots=True)
class Bench:
    """Evaluates candidates on one situation and seed, remembers what it has, and says how far it is."""

    situation: Situation
    seed: int
    executor: Executor | None = None
    progress: Progress | None = None
    samples: dict[Candidate, Sample] = field(default_factory=dict)
    done: int = 0
    planned: int = 0
    carries_on_alone: bool = True
    """Where the executor's workers are all lost, the rest is done in this process; else `BrokenExecutor` is raised."""

    def plan_for(self, replications: int) -> None:
        """Replications that are to come; only for telling how far the work is."""
        self.planned += replications

    def sample(self, candidates: Sequence[Candidate], first: int, count: int) -> list[Sample]:
        """Replications `first` to `first + count` of each candidate; what is remembered is not done again."""
        missing = [
            candidate
            for candidate in dict.fromkeys(candidates)
            if candidate not in self.samples or self.samples[candidate].count < first + count
        ]
        by_have: dict[int, list[Candidate]] = {}
        for candidate in missing:
            have = self.samples[candidate].count if candidate in self.samples else 0
            by_have.setdefault(have, []).append(candidate)
        for have, group in sorted(by_have.items()):
            for candidate, found in zip(group, self._evaluated(group, have, first + count - have), strict=True):
                known = self.samples.get(candidate)
                self.samples[candidate] = found if known is None else known.joined(found)
        return [self.samples[candidate].part(first, first + count) for candidate in candidates]

    def outcomes(self, candidates: Sequence[Candidate], count: int) -> list[Carried | None]:
        """The first replications of each candidate in full."""
        tasks = [(self.situation, candidate, self.seed, 0, count) for candidate in candidates]
        found = list(self._each(_run_one, tasks))
        self._tell(count * len(candidates), f"{len(candidates)} changes on {count} replications")
        return found

    def _evaluated(self, group: Sequence[Candidate], first: int, count: int) -> Iterator[Sample]:
        """A sample for each as they come in, so that what is done stays known when the rest is not."""
        size = max(1, -(-len(group) // CHUNKS))
        chunks = [group[start : start + size] for start in range(0, len(group), size)]
        text = f"{len(group)} candidates, replications {first + 1} to {first + count}"
        tasks = [(self.situation, chunk, self.seed, first, count) for chunk in chunks]
        for chunk, part in zip(chunks, self._each(_evaluate_one, tasks), strict=True):
            yield from part
            self._tell(count * len(chunk), text)

    def _each(self, function: Callable[[Task], Result], tasks: Sequence[Task]) -> Iterator[Result]:
        """The result of each task, in their order, whoever does it."""
        done = 0
        if self.executor is not None:
            try:
                for result in self.executor.map(function, tasks):
                    done += 1
                    yield result
            except BrokenExecutor:
                self.executor = None
                if not self.carries_on_alone:
                    raise
        yield from map(function, tasks[done:])

    def _tell(self, replications: int, text: str) -> None:
        self.done += replications
        if self.progress is not None:
            self.progress(min(self.done, self.planned), max(self.planned, 1), text)


def _evaluate_one(task: tuple[Situation, Sequence[Candidate], int, int, int]) -> list[Sample]:
    return evaluate(*task)


def _run_one(task: tuple[Situation, Candidate, int, int, int]) -> Carried | None:
    return run(*task)


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What the search found: candidates of the last race best first, and all that it tried."""

    ranking: tuple[Candidate, ...]
    race: RaceResult
    bench: Bench
    limits: Floats
    cut_short: str = ""
    """Why the search ended before its end and this is only the best so far; empty where it did not."""

    @property
    def winner(self) -> Candidate:
        """The best."""
        return self.ranking[0]

    @property
    def sample(self) -> Sample:
        """The winner's sample as the race left it; the bench may know more of it later."""
        return self.race.samples[self.race.winner]

    @property
    def candidates_count(self) -> int:
        """All that were tried."""
        return len(self.bench.samples)


def race_of(bench: Bench, candidates: Sequence[Candidate], limits: Floats, rounds: Rounds) -> RaceResult:
    """A race of these candidates on the bench."""
    return race(
        len(candidates),
        lambda running, first, count: bench.sample([candidates[number] for number in running], first, count),
        limits,
        rounds,
    )


def search(situation: Situation, bench: Bench, final_rounds: Rounds = FINAL_ROUNDS) -> Found | None:
    """The best candidate of a situation; None where no placing rate is permitted at all."""
    limits = risk_limits(situation.sheet.risk_limits)
    means, pattern = plain_means(situation), patterns(situation)[:1]
    middling = [
        candidate
        for order in placing_orders(situation)
        if (candidate := nominal(situation, order, means[0], pattern[0]))
    ]
    if not middling:
        return None
    bench.plan_for(planned_replications(len(middling), ORDER_ROUNDS) + _planned_blocks(final_rounds))
    orders = _unlike(bench, _raced(bench, middling, limits, ORDER_ROUNDS))[:ORDERS_KEPT]
    # What a site would do without a search: no plan shall be worse.
    rule = [candidate for candidate in [rule_of_thumb(situation)] if candidate]
    tried = list(dict.fromkeys(candidate.order for candidate in [*orders, *rule]))
    ways = logistics(situation, tried, orders[0].start_min, means, pattern)
    ranking = _unlike(bench, _raced(bench, list(dict.fromkeys([*orders, *rule, *ways])), limits, LOGISTICS_ROUNDS))
    starts = [
        replace(candidate, start_min=start)
        for candidate in _varied(ranking)
        for start in coarse_starts(situation, candidate)
    ]
    best = _unlike(bench, _raced(bench, list(dict.fromkeys([*ranking[:8], *starts])), limits, START_ROUNDS))
    again = [
        way
        for candidate in best[:2]
        for way in logistics(situation, [candidate.order], candidate.start_min, [candidate.means], pattern)
    ]
    best = _unlike(bench, _raced(bench, list(dict.fromkeys([*best, *again])), limits, LOGISTICS_ROUNDS))
    near = [step for candidate in best[:5] for step in neighbours(situation, candidate)]
    pool = list(dict.fromkeys([*best, *near, *rule, *_with_opened(bench, best, tried, limits)]))
    last = race_of(bench, pool, limits, final_rounds)
    return second_look(Found(tuple(pool[number] for number in last.ranking), last, bench, limits))


def second_look(found: Found) -> Found:
    """What was tried, may keep every limit and seems cheaper is simulated in full before the winner stands.

    On the few replications of an early round a plan that keeps a limit narrowly can seem to break it, and be dropped:
    all plans meet the same days, and a few bad ones among the first speak against every plan at once. Where the winner
    breaks a limit, whatever may keep them all is looked at; where none does, the best is the one that is least over.
    """
    bench, limits, count = found.bench, found.limits, found.sample.count
    keeps = violation(found.sample, limits) == 0
    for replications in (min(LOOK_FIRST, count), count):
        likely = [
            candidate
            for candidate, sample in bench.samples.items()
            if sample.count >= LOGISTICS_ROUNDS[-1][0]
            and violation(sample, limits, BENEFIT_OF_DOUBT) == 0
            and not (keeps and _is_dearer(sample, found.sample))
        ]
        in_full = bench.sample(likely, 0, replications)
    keeping = [way for way, sample in zip(likely, in_full, strict=True) if violation(sample, limits) == 0]
    if keeps and not keeping:
        return found
    pool = list(dict.fromkeys([*found.ranking, *keeping] if keeps else keeping or [*found.ranking, *likely]))
    last = race_of(bench, pool, limits, ((count, len(pool)),))
    return Found(tuple(pool[number] for number in last.ranking), last, bench, limits)


def _is_dearer(sample: Sample, than: Sample) -> bool:
    """On the replications that both have."""
    count = min(sample.count, than.count)
    return bool(sample.cost[:count].mean() >= than.cost[:count].mean())


def _raced(bench: Bench, candidates: Sequence[Candidate], limits: Floats, rounds: Rounds) -> list[Candidate]:
    """The candidates that are left after a race, best first."""
    return [candidates[number] for number in race_of(bench, candidates, limits, rounds).ranking]


def _with_opened(
    bench: Bench, best: Sequence[Candidate], orders: Sequence[OrderChoice], limits: Floats
) -> list[Candidate]:
    """The best with whatever else the sheet opens; nothing where it opens no more than the search has looked at."""
    situation = bench.situation
    means, of_patterns = opened_means(situation), patterns(situation)
    if means == plain_means(situation) and len(of_patterns) == 1:
        return []
    seeds = _both_ways(bench, best, limits)[:4]
    other = [way for candidate in seeds for to in means for way in with_means(situation, candidate, to)]
    ways = [replace(way, pattern=pattern) for way in dict.fromkeys(other) for pattern in of_patterns]
    ranking = _both_ways(bench, _raced(bench, list(dict.fromkeys([*seeds, *ways])), limits, LOGISTICS_ROUNDS), limits)
    starts = [
        replace(candidate, start_min=start)
        for candidate in best_of_each(ranking)
        for start in coarse_starts(situation, candidate)
    ]
    at_starts = _raced(bench, list(dict.fromkeys([*ranking[:8], *starts])), limits, START_ROUNDS)
    ranking = _both_ways(bench, at_starts, limits)
    again = [
        way
        for candidate in ranking[:4]
        for way in logistics(
            situation,
            list(dict.fromkeys([candidate.order, *orders[:1]])),
            candidate.start_min,
            [candidate.means],
            of_patterns,
        )
    ]
    last = _raced(bench, list(dict.fromkeys([*ranking, *again])), limits, LOGISTICS_ROUNDS)
    ranking = _both_ways(bench, last, limits)
    steps = [
        step
        for candidate in ranking[:6]
        for step in (*neighbours(situation, candidate), *steps_of_means(situation, candidate))
    ]
    return [*ranking, *steps]


def _both_ways(bench: Bench, ranking: Sequence[Candidate], limits: Floats) -> list[Candidate]:
    """A ranking without doubles, by turns as it stands and with the benefit of the doubt.

    On few replications a risk near its limit seems broken as often as kept: neither order alone begins with the best.
    """
    unlike = _unlike(bench, ranking)

    def doubted(candidate: Candidate) -> tuple[float, float]:
        sample = bench.samples[candidate]
        return (round(violation(sample, limits, BENEFIT_OF_DOUBT), 9), float(sample.cost.mean()))

    pairs = zip(unlike, sorted(unlike, key=doubted), strict=True)
    return list(dict.fromkeys(candidate for pair in pairs for candidate in pair))


def best_of_each(ranking: Sequence[Candidate]) -> list[Candidate]:
    """The first few, and the best with every value of every opened decision: another start may suit it better."""
    found = list(ranking[:BEST_KEPT])
    seen: set[tuple[str, object]] = set()
    for candidate in ranking:
        means = candidate.means
        values = {*asdict(means).items(), ("pattern", candidate.pattern)}
        if values - seen:
            found.append(candidate)
        seen |= values
    return list(dict.fromkeys(found))


def _varied(ranking: Sequence[Candidate]) -> list[Candidate]:
    """The first few, and the best of every load size and mix option: another start may suit them better."""
    found = list(ranking[:BEST_KEPT])
    seen: dict[tuple[float, str], int] = {}
    for candidate in ranking:
        kind = (candidate.load_m3, candidate.mix_option)
        seen[kind] = seen.get(kind, 0) + 1
        if seen[kind] <= OF_EACH_KIND:
            found.append(candidate)
    return list(dict.fromkeys(found))


def coarse_starts(situation: Situation, candidate: Candidate) -> list[float]:
    """The earliest start, the pencilled one, and every three quarters of an hour."""
    times = start_times(situation, candidate.rate_m3_per_h)
    planned = [time for time in times if time == situation.planned_start_min]
    return sorted({times[0], *planned, *times[1::3]})


def _unlike(bench: Bench, ranking: Sequence[Candidate]) -> list[Candidate]:
    """The ranking without those that do exactly as one before them: a mirrored order, a truck that never runs."""
    found: list[Candidate] = []
    seen: set[bytes] = set()
    for candidate in ranking:
        sample = bench.samples[candidate]
        print_of = sample.cost.tobytes() + sample.failed.tobytes()
        if print_of not in seen:
            seen.add(print_of)
            found.append(candidate)
    return found


def full_search(bench: Bench, candidates: Sequence[Candidate], limits: Floats, replications: int) -> int:
    """Number of the best candidate when all get all replications: what a race is held against."""
    return race_of(bench, candidates, limits, ((replications, 1),)).winner


def _planned_blocks(final_rounds: Rounds) -> int:
    blocks = ((300, LOGISTICS_ROUNDS), (150, START_ROUNDS), (100, LOGISTICS_ROUNDS), (50, final_rounds))
    return sum(planned_replications(count, rounds) for count, rounds in blocks)
