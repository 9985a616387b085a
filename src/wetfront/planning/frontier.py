"""Expected cost against the worst risk, over the plans that were tried: what safety costs."""

from collections.abc import Sequence

import numpy as np

from wetfront.nouns.plan import Frontier, FrontierPoint, LimitPrice
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.changes import SHOWN_FROM, shares, worst_share
from wetfront.planning.judge import RISK_KEYS
from wetfront.planning.prices import HALFWAY, limit_prices, tried_enough
from wetfront.planning.race import Sample, paired_difference
from wetfront.planning.search import Found
from wetfront.planning.situation import Situation
from wetfront.planning.words import RISK_TITLES, difference_words, money

FARTHEST = 3.0
"""Of a limit: plans with more risk are no choice for anyone and are left out, unless the chosen one has more."""
THIS_PLAN = "this plan"

_Estimate = tuple[float, float]
"""Cost and worst share."""


def prices_and_frontier(situation: Situation, found: Found) -> tuple[tuple[LimitPrice, ...], Frontier]:
    """The price of each limit and cost against risk, both on all that either of them simulated in full."""
    frontier(situation, found)
    prices = limit_prices(situation, found)
    return prices, frontier(situation, found)


def frontier(situation: Situation, found: Found) -> Frontier:
    """The plans to which no other one tried is both cheaper and at less risk, each on the chosen plan's replications.

    Plans that seem to be among them on fewer replications are simulated in full, until all that are left have been.
    """
    count = found.sample.count
    chosen = _point(found, found.sample, THIS_PLAN)
    farthest = max(FARTHEST, chosen.worst_share)
    tried = tried_enough(found)
    while True:
        seen = {candidate: _estimate(found, candidate) for candidate in tried}
        front = not_beaten([candidate for candidate in tried if seen[candidate][1] <= farthest], seen)
        short = [candidate for candidate in front if found.bench.samples[candidate].count < count]
        if not short:
            break
        few = [candidate for candidate in short if found.bench.samples[candidate].count < HALFWAY]
        found.bench.sample(few or short, 0, min(HALFWAY, count) if few else count)
    points = tuple(
        _point(
            found,
            found.bench.samples[candidate].part(0, count),
            THIS_PLAN if candidate == found.winner else difference_words(situation, found.winner, candidate),
        )
        for candidate in front
    )
    return Frontier(
        points=points,
        chosen=chosen,
        candidates_count=len(tried),
        replications_count=count,
        sentence=_sentence(situation, chosen, points),
    )


def not_beaten(candidates: Sequence[Candidate], seen: dict[Candidate, _Estimate]) -> list[Candidate]:
    """Candidates to which no other is at least as good in both and better in one; twins once. Safest first."""
    front: list[Candidate] = []
    cheapest = np.inf
    for candidate in sorted(candidates, key=lambda candidate: (seen[candidate][1], seen[candidate][0])):
        if seen[candidate][0] < cheapest - 1e-9:
            front.append(candidate)
            cheapest = seen[candidate][0]
    return front


def _estimate(found: Found, candidate: Candidate) -> _Estimate:
    """Cost by its difference from the chosen plan on the same draws, so that few replications mislead least."""
    if candidate == found.winner:
        return float(found.sample.cost.mean()), worst_share(found.sample, found.limits)
    sample = found.bench.samples[candidate].part(0, found.sample.count)
    dearer, _ = paired_difference(sample, found.sample)
    return float(found.sample.cost.mean()) + dearer, worst_share(sample, found.limits)


def _point(found: Found, sample: Sample, label: str) -> FrontierPoint:
    dearer, error = paired_difference(sample, found.sample)
    risks = shares(sample, found.limits)
    worst = int(risks.argmax())
    return FrontierPoint(
        cost_cu=float(found.sample.cost.mean()) + dearer,
        cost_error_cu=error,
        worst_share=float(risks[worst]),
        worst_share_error=float(sample.standard_errors()[worst] / max(float(found.limits[worst]), SHOWN_FROM)),
        worst_risk=RISK_KEYS[worst],
        any_failure=any_failure(sample),
        label=label,
    )


def any_failure(sample: Sample) -> float:
    """Probability that at least one failure happens; rain, a probability in each replication, counts as independent."""
    none: Floats = np.prod(1.0 - sample.failed, axis=1)
    return float(1.0 - none.mean())


def _sentence(situation: Situation, chosen: FrontierPoint, points: Sequence[FrontierPoint]) -> str:
    currency = situation.sheet.project.currency
    safer = [each for each in points if each.worst_share < chosen.worst_share and each.cost_cu > chosen.cost_cu]
    cheaper = [each for each in points if each.cost_cu < chosen.cost_cu and each.worst_share > chosen.worst_share]
    better = [each for each in points if each.cost_cu < chosen.cost_cu and each.worst_share <= chosen.worst_share]
    parts = [
        f"this plan {money(chosen.cost_cu, currency)}, worst risk at {_percent(chosen.worst_share)} of its limit "
        f"({RISK_TITLES[chosen.worst_risk]}), some failure in {_percent(chosen.any_failure)} of the pours",
        f"least risk: {_against(safer[0], chosen, currency)}" if safer else "none tried has less risk",
        f"the next cheaper {_against(cheaper[0], chosen, currency)}" if cheaper else "none with more risk is cheaper",
    ]
    if better and chosen.worst_share <= 1.0:
        parts.append(
            f"cheaper at no more risk: {_against(better[-1], chosen, currency)}, left by the race on fewer pours"
        )
    return "; ".join(parts)


def _against(point: FrontierPoint, chosen: FrontierPoint, currency: str) -> str:
    change = point.cost_cu - chosen.cost_cu
    sign = "+" if change >= 0 else "−"
    return (
        f"{sign}{money(abs(change), currency)} (± {money(point.cost_error_cu, currency)}) "
        f"at {_percent(point.worst_share)} by {point.label}"
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
