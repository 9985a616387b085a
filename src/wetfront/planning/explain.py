"""Why this plan: what binds, and why the runner-up lost."""

import numpy as np

from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.judge import RISK_KEYS
from wetfront.planning.race import Sample, violation
from wetfront.planning.search import Found
from wetfront.planning.site_mixing import lasting_rate_m3_per_h
from wetfront.planning.situation import Situation
from wetfront.planning.words import (
    RISK_TITLES,
    decision_words,
    difference_words,
    mixers_words,
    money,
    percent,
    risk_words,
    trucks_words,
)

ENOUGH = 24
"""Replications on which a dropped candidate is still believed."""
NEAR_LIMIT = 0.7
"""A risk at this share of its limit or more binds, too."""


def binding(situation: Situation, found: Found) -> tuple[str, ...]:
    """What holds the plan back: limits that rule out cheaper plans, risks near their limit, decisions at their end."""
    winner, limits = found.winner, found.limits
    sample = found.sample
    return (*_ruled_out(situation, found, sample), *_near(sample, limits), *_at_their_end(situation, winner))


def _ruled_out(situation: Situation, found: Found, sample: Sample) -> list[str]:
    """For each limit the cheapest plan that it alone rules out."""
    if violation(sample, found.limits) > 0:
        return []
    best: dict[str, tuple[float, Candidate, float]] = {}
    for candidate, other in found.bench.samples.items():
        if other.count < ENOUGH:
            continue
        count = min(other.count, sample.count)
        saved = float(sample.cost[:count].mean() - other.cost[:count].mean())
        over = np.flatnonzero(other.probabilities() > found.limits)
        if saved <= 0.0005 * float(sample.cost.mean()) or len(over) != 1:
            continue
        key = RISK_KEYS[int(over[0])]
        if key not in best or saved > best[key][0]:
            best[key] = (saved, candidate, float(other.probabilities()[over[0]]))
    currency = situation.sheet.project.currency
    return [
        f"the limit on {RISK_TITLES[key]} rules out {difference_words(situation, found.winner, candidate)}: "
        f"{money(saved, currency)} cheaper, but {percent(probability)} against {percent(_limit(found.limits, key))}"
        for key, (saved, candidate, probability) in sorted(best.items(), key=lambda entry: -entry[1][0])
    ]


def _limit(limits: Floats, key: str) -> float:
    return float(limits[RISK_KEYS.index(key)])


def _near(sample: Sample, limits: Floats) -> list[str]:
    over, near = [], []
    for key, probability, limit in zip(RISK_KEYS, sample.probabilities(), limits, strict=True):
        if probability > limit:
            over.append(f"over its limit: {risk_words(key, float(probability), float(limit))}")
        elif limit > 0 and probability >= NEAR_LIMIT * limit:
            near.append(f"near its limit: {risk_words(key, float(probability), float(limit))}")
    return [*over, *near]


def _at_their_end(situation: Situation, winner: Candidate) -> list[str]:
    found = []
    highest, who = situation.highest_rate(winner.means)
    lasting, mixer = lasting_rate_m3_per_h(situation, winner), situation.sheet.site_mixer
    if mixer is not None and lasting < winner.rate_m3_per_h:
        mixers = f"{mixers_words(mixer.mixers_count)} with a cycle of {mixer.cycle_min:g} min"
        found.append(f"{lasting:.3g} m³/h: {mixers} cannot give more")
    elif winner.rate_m3_per_h >= highest * 0.999:
        found.append(f"placing rate {winner.rate_m3_per_h:g} m³/h: {who} allows no more")
    low, _ = situation.start_between_min
    if winner.start_min <= low + 15:
        opens = situation.day.clock(situation.day.opens_min)
        nobody = "no truck comes in" if situation.sheet.site_mixer is None else "no mixer starts"
        found.append(f"start {situation.day.clock(winner.start_min)}: {nobody} before {opens}")
    if situation.sheet.site_mixer is not None:
        return found
    if winner.trucks_count == situation.sheet.trucks.count_promised:
        found.append(f"{trucks_words(winner.trucks_count)}: all that are promised")
    if winner.trucks_count == situation.sheet.trucks.count_in_fleet:
        found.append(f"{trucks_words(winner.trucks_count)}: the whole fleet")
    return found


def runner_up(situation: Situation, found: Found) -> str:
    """The best plan that does something else, and why it lost."""
    winner = found.sample
    shown = zip(found.ranking[1:], found.race.ranking[1:], strict=True)
    rivals = [(candidate, found.race.samples[number]) for candidate, number in shown]
    rivals = [(candidate, sample) for candidate, sample in rivals if not _same(winner, sample)]
    if not rivals:
        return "no other plan of the last round does anything else"
    rival, other = rivals[0]
    difference = other.cost - winner.cost
    dearer, error = float(difference.mean()), float(difference.std() / np.sqrt(other.count))
    over = [
        risk_words(key, float(probability), float(limit))
        for key, probability, limit in zip(RISK_KEYS, other.probabilities(), found.limits, strict=True)
        if probability > limit
    ]
    currency = situation.sheet.project.currency
    price = f"{money(abs(dearer), currency)} {'dearer' if dearer >= 0 else 'cheaper'} (± {money(error, currency)})"
    text = f"{difference_words(situation, found.winner, rival)}: {price}"
    if over:
        text += f"; it lost on {', '.join(over)}"
    return f"{text}; in full: {decision_words(situation, rival)}"


def _same(one: Sample, other: Sample) -> bool:
    count = min(one.count, other.count)
    return bool(np.allclose(one.cost[:count], other.cost[:count], rtol=0.0, atol=0.5))
