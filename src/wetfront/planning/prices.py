"""What each accepted risk costs: the cheapest plan under a looser and under a tighter limit, among those tried.

No new plan is looked for. Plans that a race left early are first simulated on as many pours as the chosen one, so that
a lucky few do not set a price.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.nouns.plan import LimitPrice
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.explain import ENOUGH
from wetfront.planning.judge import RISK_KEYS, UNWORKABLE_CU
from wetfront.planning.race import BENEFIT_OF_DOUBT, Sample, paired_difference, violation
from wetfront.planning.search import Found
from wetfront.planning.situation import Situation
from wetfront.planning.words import RISK_TITLES, difference_words, money

STEP = 1.5
"""A limit is made looser and tighter by this factor (own rule)."""
AT_ONCE = 6
"""Plans simulated in full at once, the cheapest first, until no other may be cheaper than the best of them."""
HALFWAY = 120
"""Replications after which a plan that can no longer be what is looked for is dropped."""
WORTH = 0.0005
"""Share of the plan's cost under which a difference is no price."""


@dataclass(frozen=True, slots=True)
class _Rival:
    """Another plan: by how much dearer, its standard error, and in what it differs."""

    dearer_cu: float
    error_cu: float
    words: str


def tried_enough(found: Found) -> list[Candidate]:
    """Candidates that have been seen on enough replications to be believed, in the order in which they were tried."""
    return [
        candidate
        for candidate, sample in found.bench.samples.items()
        if sample.count >= ENOUGH and sample.cost.mean() < UNWORKABLE_CU / 2
    ]


def limit_prices(situation: Situation, found: Found) -> tuple[LimitPrice, ...]:
    """The price of each limit that holds the plan back, dearest first; none where the plan breaks a limit."""
    if violation(found.sample, found.limits) > 0:
        return ()
    tried = tried_enough(found)
    priced = [
        price for number in range(len(RISK_KEYS)) if (price := _price(situation, found, tried, number)) is not None
    ]
    return tuple(sorted(priced, key=_dearest_first))


def _dearest_first(price: LimitPrice) -> tuple[bool, float]:
    amounts = (price.relaxed_saves_cu, price.tightened_costs_cu or 0.0)
    return (price.tightened_costs_cu is not None, -max(amounts))


def _price(situation: Situation, found: Found, tried: Sequence[Candidate], number: int) -> LimitPrice | None:
    """The price of one limit; None where it neither rules out a cheaper plan nor would soon change the plan."""
    limit = float(found.limits[number])
    if limit <= 0:
        return None
    looser, tighter = found.limits.copy(), found.limits.copy()
    looser[number], tighter[number] = min(1.0, STEP * limit), limit / STEP
    least = WORTH * float(found.sample.cost.mean())
    cheaper = _cheapest(situation, found, tried, looser, number) if limit < 1.0 else None
    if cheaper is not None and -cheaper.dearer_cu <= least:
        cheaper = None
    keeps = violation(found.sample, tighter) == 0
    if keeps and cheaper is None:
        return None
    dearer = None if keeps else _cheapest(situation, found, tried, tighter)
    return LimitPrice(
        key=RISK_KEYS[number],
        title=RISK_TITLES[RISK_KEYS[number]],
        limit=limit,
        relaxed_limit=float(looser[number]) if limit < 1.0 else None,
        relaxed_saves_cu=-cheaper.dearer_cu if cheaper else 0.0,
        relaxed_error_cu=cheaper.error_cu if cheaper else 0.0,
        relaxed_plan=cheaper.words if cheaper else "",
        tightened_limit=float(tighter[number]),
        tightened_costs_cu=0.0 if keeps else dearer.dearer_cu if dearer else None,
        tightened_error_cu=dearer.error_cu if dearer else 0.0,
        tightened_plan=dearer.words if dearer else "",
        text=_text(situation, number, looser if limit < 1.0 else None, tighter, limit, cheaper, keeps, dearer),
    )


def _cheapest(
    situation: Situation, found: Found, tried: Sequence[Candidate], limits: Floats, ruled_out_by: int | None = None
) -> _Rival | None:
    """The cheapest plan within `limits`, each judged on as many replications as the chosen one.

    With `ruled_out_by`, only plans that break that limit as the sheet has it, and that are cheaper than the chosen one.
    """
    bench, chosen, count = found.bench, found.sample, found.sample.count

    def fits(sample: Sample, doubt: float) -> bool:
        holds = violation(sample, limits, doubt) == 0
        return holds and (ruled_out_by is None or float(sample.probabilities()[ruled_out_by]) > broken)

    broken = 0.0 if ruled_out_by is None else float(found.limits[ruled_out_by])
    most = math.inf if ruled_out_by is None else 0.0
    # With the benefit of the doubt on cost as well: what was seen on few replications is not passed over.
    likely = sorted(
        (least, place)
        for place, candidate in enumerate(tried)
        if candidate != found.winner
        and fits(bench.samples[candidate], BENEFIT_OF_DOUBT)
        and (least := _least_dearer(bench.samples[candidate], chosen)) < most
    )
    best: tuple[float, float, Candidate] | None = None
    for start in range(0, len(likely), AT_ONCE):
        if best is not None and likely[start][0] >= best[0]:
            break
        dearest = most if best is None else best[0]
        batch = [tried[place] for _, place in likely[start : start + AT_ONCE]]
        bench.sample(batch, 0, min(HALFWAY, count))
        seen = [(candidate, bench.samples[candidate]) for candidate in batch]
        batch = [
            candidate
            for candidate, sample in seen
            if fits(sample, BENEFIT_OF_DOUBT) and _least_dearer(sample, chosen) < dearest
        ]
        for candidate, sample in zip(batch, bench.sample(batch, 0, count), strict=True):
            dearer, error = paired_difference(sample, chosen)
            if fits(sample, 0.0) and dearer < (most if best is None else best[0]):
                best = (dearer, error, candidate)
    if best is None:
        return None
    return _Rival(best[0], best[1], difference_words(situation, found.winner, best[2]))


def _least_dearer(sample: Sample, chosen: Sample) -> float:
    dearer, error = paired_difference(sample, chosen)
    return dearer if sample.count >= chosen.count else dearer - BENEFIT_OF_DOUBT * error


def _text(
    situation: Situation,
    number: int,
    looser: Floats | None,
    tighter: Floats,
    limit: float,
    cheaper: _Rival | None,
    keeps: bool,
    dearer: _Rival | None,
) -> str:
    currency = situation.sheet.project.currency
    parts = []
    if cheaper is not None and looser is not None:
        parts.append(
            f"at {_share(looser[number])} {money(-cheaper.dearer_cu, currency)} cheaper "
            f"(± {money(cheaper.error_cu, currency)}) by {cheaper.words}"
        )
    elif looser is not None:
        parts.append(f"at {_share(looser[number])} nothing cheaper was found")
    if keeps:
        parts.append(f"at {_share(tighter[number])} the plan stays as it is")
    elif dearer is None:
        parts.append(f"at {_share(tighter[number])} no plan that was tried keeps every limit")
    elif dearer.dearer_cu <= 0:
        parts.append(f"at {_share(tighter[number])} no dearer, by {dearer.words}")
    else:
        parts.append(
            f"at {_share(tighter[number])} {money(dearer.dearer_cu, currency)} dearer "
            f"(± {money(dearer.error_cu, currency)}) by {dearer.words}"
        )
    return f"{RISK_TITLES[RISK_KEYS[number]]}, at most {_share(limit)}: {'; '.join(parts)}"


def _share(limit: float) -> str:
    """A limit with the digits that tell its steps apart."""
    return f"{100 * limit:.2g} %"
