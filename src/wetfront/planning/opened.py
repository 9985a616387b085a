"""Which decisions the sheet opened beyond the usual ones, what was chosen, and what each other value would cost."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from wetfront.nouns.plan import OpenedDecision
from wetfront.planning.candidate import Candidate
from wetfront.planning.explain import ENOUGH
from wetfront.planning.judge import UNWORKABLE_CU
from wetfront.planning.means import coolers, gangs, patterns, pumps_counts
from wetfront.planning.race import BENEFIT_OF_DOUBT, Sample, paired_difference, violation
from wetfront.planning.search import Found
from wetfront.planning.situation import Situation
from wetfront.planning.words import (
    PATTERN_WORDS,
    cooler_words,
    gang_words,
    money,
    over_words,
    percent,
    pumps_words,
    vibrators_words,
)

IN_FULL = 2
"""Plans with another value that are simulated in full before its price is told: the best by what is known."""


@dataclass(frozen=True, slots=True)
class _Opened:
    """A decision of the sheet: its key, its values, and how to read and say one."""

    key: str
    title: str
    values: tuple[object, ...]
    of: Callable[[Candidate], object]
    said: Callable[[object], str]
    unpriced: str
    """Said where the sheet has no price for it; else empty."""


def opened_decisions(situation: Situation, found: Found) -> tuple[OpenedDecision, ...]:
    """Each decision that `choices` opens with more than one value, in the order of its keys."""
    return tuple(_told(situation, found, each) for each in _opened(situation) if len(each.values) > 1)


def _opened(situation: Situation) -> tuple[_Opened, ...]:
    choices, prices = situation.sheet.choices, situation.sheet.prices
    low, high = choices.vibrators_between or (0, 0)
    fewest, most = choices.pumps_between or (1, 1)
    return (
        _Opened(
            "choices.interval_patterns",
            "pattern of the interval",
            patterns(situation),
            lambda candidate: candidate.pattern,
            lambda value: PATTERN_WORDS[str(value)],
            "",
        ),
        _Opened(
            "choices.pumps_between",
            "pumps",
            pumps_counts(situation)[:1] if situation.sheet.site_mixer else tuple(range(fewest, most + 1)),
            lambda candidate: candidate.pumps_count,
            lambda value: pumps_words(_whole(value)),
            "" if prices.pump_cu_per_h else "prices.pump_cu_per_h is 0: a pump more costs nothing here",
        ),
        _Opened(
            "choices.vibrators_between",
            "vibrators",
            tuple(range(low, high + 1)),
            lambda candidate: candidate.vibrators_count,
            lambda value: vibrators_words(_whole(value)),
            "" if prices.vibrator_cu_per_h else "prices.vibrator_cu_per_h is 0: a vibrator more costs nothing here",
        ),
        _Opened(
            "choices.cooler_by_c",
            "cooler concrete",
            coolers(choices),
            lambda candidate: candidate.cooler_by_c,
            lambda value: cooler_words(float(str(value))),
            ""
            if prices.one_degree_cooler_cu_per_m3
            else "prices.one_degree_cooler_cu_per_m3 is 0: cooling costs nothing here",
        ),
        _Opened(
            "choices.gang",
            "gang",
            gangs(choices),
            lambda candidate: candidate.gang,
            lambda value: gang_words(str(value)),
            "",
        ),
    )


def _whole(value: object) -> int:
    return int(str(value))


def _told(situation: Situation, found: Found, decision: _Opened) -> OpenedDecision:
    chosen, may_be = decision.of(found.winner), pumps_counts(situation)
    places = situation.sheet.trucks.discharge_places_count

    def why(value: object) -> str:
        if decision.key == "choices.pumps_between" and value not in may_be:
            return f"not tried, trucks.discharge_places_count is {places}: each pump needs a truck beside it"
        return _beside(situation, found, [rival for rival in _seen(found) if decision.of(rival) == value])

    others = tuple(f"{decision.said(value)}: {why(value)}" for value in decision.values if value != chosen)
    return OpenedDecision(
        key=decision.key,
        title=decision.title,
        values=tuple(decision.said(value) for value in decision.values),
        chosen=decision.said(chosen),
        why=(*others, *((decision.unpriced,) if decision.unpriced else ())),
    )


def _seen(found: Found) -> list[Candidate]:
    return [
        candidate
        for candidate, sample in found.bench.samples.items()
        if sample.count >= ENOUGH and sample.cost.mean() < UNWORKABLE_CU / 2
    ]


def _beside(situation: Situation, found: Found, rivals: Sequence[Candidate]) -> str:
    """The best of these plans against the chosen one, on as many replications."""
    bench, limits, count = found.bench, found.limits, found.sample.count
    if not rivals:
        return "left by the race after a few pours"

    def rank(sample: Sample, doubt: float) -> tuple[float, float]:
        return (round(violation(sample, limits, doubt), 9), paired_difference(sample, found.sample)[0])

    likely = sorted(rivals, key=lambda candidate: rank(bench.samples[candidate], BENEFIT_OF_DOUBT))[:IN_FULL]
    best = min(bench.sample(likely, 0, count), key=lambda sample: rank(sample, 0.0))
    # Only what is not carried to its end breaks every limit; its cost is no money but a mark (`judge.unended_cu`).
    unended = float((best.failed == 1.0).all(axis=1).mean())
    if unended > 0:
        return f"the pour is not carried to its end in {percent(unended)} of the replications"
    dearer, error = paired_difference(best, found.sample)
    currency = situation.sheet.project.currency
    price = f"{money(abs(dearer), currency)} {'dearer' if dearer >= 0 else 'cheaper'} (± {money(error, currency)})"
    over = over_words(best, limits)
    return f"{price}, but {over}" if over else price
