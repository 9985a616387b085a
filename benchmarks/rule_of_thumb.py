"""A hundred generated pours planned by the usual site rule and by the search, both judged on the same fresh draws."""

import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import reduce

import numpy as np

from benchmarks.generated_pours import COUNT, SEED, generated_pour
from benchmarks.measure import Measure
from wetfront.placing.core.library import core_name
from wetfront.planning.candidate import Candidate
from wetfront.planning.judge import RISK_KEYS, finishing_deadline_min, judged, risk_limits, run_all
from wetfront.planning.race import BENEFIT_OF_DOUBT, Floats, Sample, violation
from wetfront.planning.rule_of_thumb import rule_of_thumb
from wetfront.planning.search import FINAL_ROUNDS, Bench, search
from wetfront.planning.situation import Situation

WORKERS = 2
SEARCH_SEED, JUDGE_SEED = 20_270_617, 7_019
"""Both plans are judged on draws that the search has never seen."""
REPLICATIONS, BLOCK = 1000, 50
DOUBT = BENEFIT_OF_DOUBT * (1 + REPLICATIONS / FINAL_ROUNDS[-1][0]) ** 0.5
"""A limit that the search's own replications and these can tell apart only by this many standard errors of these."""
STANDARD_ERRORS = 2.0
"""A difference counts when it is over this many of its paired standard errors."""
SEARCH, RULE, EVEN = "search", "rule", "even"
JUST_OVER = "only the rule keeps the limits, the search is over by less than the noise of its replications"
QUARTILES = (0, 25, 50, 75, 100)


@dataclass(frozen=True)
class Judged:
    """One plan on the fresh draws."""

    plan: Candidate
    cost_cu: float
    probabilities: tuple[float, ...]
    """In the order of RISK_KEYS."""
    hours_over: float
    """Mean of what placing or finishing, whichever is more, goes on after its permitted end."""
    endless_percent: float
    """Days on which the pour is not carried to its end: more loads refused than the plant could replace."""
    over_limits: float
    """By how much risks are over their limits, added up; 0 where every limit is kept."""
    over_beyond_doubt: float
    """The same, of those that are over by more than DOUBT standard errors."""

    @property
    def keeps(self) -> bool:
        """Whether every limit is kept, as it stands."""
        return self.over_limits == 0


@dataclass(frozen=True)
class Compared:
    """One pour, planned twice."""

    number: int
    kind: str
    net_m3: float
    rule: Judged
    search: Judged
    saved_percent: float
    """Of the rule's cost."""
    error_percent: float
    """Standard error of that, paired."""
    better: str
    """SEARCH, RULE or EVEN."""
    why: str
    seconds: float
    """Of the search."""


def compare(number: int) -> Compared:
    """Plan one pour by rule and by search and judge both; the seconds aside, a function of the number alone."""
    pour = generated_pour(number)
    situation = pour.situation
    rule = rule_of_thumb(situation)
    begin = time.perf_counter()
    found = search(situation, Bench(situation, SEARCH_SEED))
    seconds = time.perf_counter() - begin
    assert rule is not None and found is not None
    limits = risk_limits(situation.sheet.risk_limits)
    drawn = [fresh_days(situation, plan) for plan in (rule, found.winner)]
    samples = [sample for sample, _ in drawn]
    of_rule, of_search = (
        _judged(plan, sample, hours, limits) for plan, (sample, hours) in zip((rule, found.winner), drawn, strict=True)
    )
    saved = samples[0].cost - samples[1].cost
    saved = saved[np.isfinite(saved)]
    error = float(saved.std(ddof=1)) / len(saved) ** 0.5
    better, why = verdict(of_rule, of_search, float(saved.mean()), error, _error_over(samples, limits))
    percent = 100 / of_rule.cost_cu
    return Compared(
        number=number,
        kind=pour.kind,
        net_m3=pour.net_m3,
        rule=of_rule,
        search=of_search,
        saved_percent=float(saved.mean()) * percent,
        error_percent=error * percent,
        better=better,
        why=why,
        seconds=seconds,
    )


def fresh_days(situation: Situation, plan: Candidate) -> tuple[Sample, Floats]:
    """The plan on the fresh draws: cost and failures, and the hours after the permitted end.

    A day on which the pour cannot be carried to its end fails every limit; what it costs is not known (NaN).
    """
    samples, hours = [], []
    for first in range(0, REPLICATIONS, BLOCK):
        outcome = run_all(situation, [plan], JUDGE_SEED, first, BLOCK)[0]
        if outcome is None:
            samples.append(Sample(np.full(BLOCK, np.nan), np.ones((BLOCK, len(RISK_KEYS)))))
            hours.append(np.full(BLOCK, np.nan))
            continue
        sample = judged(situation, plan, outcome, BLOCK, first)
        samples.append(Sample(np.where(outcome.ended, sample.cost, np.nan), sample.failed))
        placing = outcome.end_of_pour_min - situation.day.closes_min
        finishing = outcome.finishing_end_min - finishing_deadline_min(situation)
        over = np.maximum(0.0, np.maximum(placing, finishing)) / 60
        hours.append(np.where(outcome.ended, over, np.nan))
    return reduce(Sample.joined, samples), np.concatenate(hours)


def _judged(plan: Candidate, sample: Sample, hours_over: Floats, limits: Floats) -> Judged:
    return Judged(
        plan=plan,
        cost_cu=float(np.nanmean(sample.cost)),
        probabilities=tuple(sample.probabilities().tolist()),
        hours_over=float(np.nanmean(hours_over)),
        endless_percent=100 * float(np.isnan(sample.cost).mean()),
        over_limits=violation(sample, limits),
        over_beyond_doubt=violation(sample, limits, DOUBT),
    )


def _error_over(samples: Sequence[Sample], limits: Floats) -> float:
    """Standard error of the difference of what two plans are over their limits, paired by draw."""
    over = [sample.failed[:, sample.probabilities() > limits].sum(axis=1) for sample in samples]
    return float((over[0] - over[1]).std(ddof=1)) / REPLICATIONS**0.5


def verdict(rule: Judged, found: Judged, saved_cu: float, error_cu: float, error_over: float) -> tuple[str, str]:
    """Who is better, in the planner's own order: limits first, then money; and by what."""
    if rule.keeps and found.keeps:
        if abs(saved_cu) <= STANDARD_ERRORS * error_cu or saved_cu == 0:
            return EVEN, "the same plan" if rule.plan == found.plan else "cost the same within its error"
        return (SEARCH if saved_cu > 0 else RULE), "both keep the limits: cost"
    if rule.keeps or found.keeps:
        other = found if rule.keeps else rule
        if other.over_beyond_doubt == 0 and rule.keeps:
            return EVEN, JUST_OVER
        return (RULE if rule.keeps else SEARCH), "only one keeps the limits"
    apart = rule.over_limits - found.over_limits
    if abs(apart) <= STANDARD_ERRORS * error_over:
        return EVEN, "neither keeps the limits: equally far over"
    return (SEARCH if apart > 0 else RULE), "neither keeps the limits: how far over"


def compared(numbers: Iterable[int], workers: int = WORKERS) -> list[Compared]:
    """All pours, in their order; the number of workers changes nothing but the time."""
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(compare, numbers))


def run() -> Iterator[Measure]:
    """The sizes first, then the comparison."""
    sizes = [generated_pour(number).net_m3 for number in range(COUNT)]
    yield Measure(
        "pours, slabs, rafts and walls", COUNT, "pours", f"{min(sizes):.0f} to {max(sizes):,.0f} m³, seed {SEED}"
    )
    if core_name() != "compiled":
        raise SystemExit("the compiled core is not built: run `make core`")
    yield from summary(compared(range(COUNT)))


def summary(rows: Sequence[Compared]) -> Iterator[Measure]:
    """Counts, distributions, and each pour in which the rule is better."""
    for name in (SEARCH, EVEN, RULE):
        some = [row for row in rows if row.better == name]
        reasons = sorted({row.why for row in some}, key=lambda why: -sum(row.why == why for row in some))
        note = "; ".join(f"{sum(row.why == why for row in some)} {why}" for why in reasons)
        yield Measure(f"better: {name}", len(some), "pours", note)
    for name in (RULE, SEARCH):
        kept = sum(getattr(row, name).keeps for row in rows)
        yield Measure(f"keeps every limit: {name}", 100 * kept / len(rows), "%")
    both = [row for row in rows if row.rule.keeps and row.search.keeps]
    yield _spread("saved where both keep the limits", [row.saved_percent for row in both], "% of the rule's cost")
    yield _spread("saved in all pours", [row.saved_percent for row in rows], "% of the rule's cost")
    for key, words in (("cold_joint", "cold joint"), ("specified_edge_exceeded", "edge over the specification")):
        place = RISK_KEYS.index(key)
        for name in (RULE, SEARCH):
            yield _spread(
                f"{words}: {name}", [100 * getattr(row, name).probabilities[place] for row in rows], "% of days"
            )
    for name in (RULE, SEARCH):
        yield _spread(f"after the permitted end: {name}", [getattr(row, name).hours_over for row in rows], "h")
    for name in (RULE, SEARCH):
        yield _spread(f"days not carried to the end: {name}", [getattr(row, name).endless_percent for row in rows], "%")
    yield _spread("the search takes", [row.seconds for row in rows], "s")
    for row in rows:
        if row.better == RULE or row.why == JUST_OVER:
            words = "the rule wins" if row.better == RULE else "within noise:"
            yield Measure(f"{words} pour {row.number}, {row.kind}", row.net_m3, "m³", f"{row.why}: {_apart(row)}")


def _spread(name: str, values: Sequence[float], unit: str) -> Measure:
    if not values:
        return Measure(name, 0, unit, "no pours")
    low, first, middle, third, high = np.percentile(values, QUARTILES).tolist()
    words = f"median of {len(values)}; quartiles {first:,.2f} and {third:,.2f}, from {low:,.2f} to {high:,.2f}"
    return Measure(name, middle, unit, f"{words}, mean {np.mean(values):,.2f}")


def _apart(row: Compared) -> str:
    """What the two plans decide otherwise, and what that does."""
    one, other = (asdict(plan) | asdict(plan.order) for plan in (row.rule.plan, row.search.plan))
    names = [name for name in one if name != "order" and one[name] != other[name]]
    apart = ", ".join(f"{name} {one[name]} against {other[name]}" for name in names)
    limits = [
        f"{key} {100 * before:.0f} % against {100 * after:.0f} %"
        for key, before, after in zip(RISK_KEYS, row.rule.probabilities, row.search.probabilities, strict=True)
        if max(before, after) >= 0.005
    ]
    return f"saved {row.saved_percent:.2f} ± {row.error_percent:.2f} %; {'; '.join(limits)}; {apart}"


def markdown(rows: Sequence[Compared]) -> str:
    """One row a pour."""
    edge, joint = RISK_KEYS.index("specified_edge_exceeded"), RISK_KEYS.index("cold_joint")
    lines = [
        "| pour | kind | m³ | saved % | ± | limits kept, rule / search | cold joint % | edge % | h over | better |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for row in rows:
        both = (row.rule, row.search)
        lines.append(
            f"| {row.number} | {row.kind} | {row.net_m3:,.0f} | {row.saved_percent:.1f} | {row.error_percent:.1f} | "
            f"{' / '.join('yes' if each.keeps else 'no' for each in both)} | "
            f"{' / '.join(f'{100 * each.probabilities[joint]:.0f}' for each in both)} | "
            f"{' / '.join(f'{100 * each.probabilities[edge]:.0f}' for each in both)} | "
            f"{' / '.join(f'{each.hours_over:.1f}' for each in both)} | {row.better}: {row.why} |"
        )
    return "\n".join(lines)


def main() -> int:
    """The two tables of docs/rule-of-thumb.md."""
    begin = time.perf_counter()
    rows = compared(range(COUNT))
    print("| | found | |\n|---|---|---|")
    for measure in summary(rows):
        print(f"| {measure.name} | {measure.value:,.3g} {measure.unit} | {measure.note} |")
    print(f"\n{markdown(rows)}\n\nAll in {time.perf_counter() - begin:.0f} s.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
