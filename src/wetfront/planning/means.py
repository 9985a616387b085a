"""Mix, pumps, vibrators, gang, cooler concrete: what the sheet opens, and one decision with other means."""

import itertools
from dataclasses import replace

from wetfront.nouns.sheet import Choices
from wetfront.planning.candidate import Candidate, Means, Pattern
from wetfront.planning.candidates import (
    interval_near,
    permitted_trucks,
    placing_rates,
    steady_interval_min,
    trucks_needed,
)
from wetfront.planning.gangs import CREW
from wetfront.planning.situation import Situation

MOST_VIBRATOR_COUNTS = 5
"""Numbers of vibrators tried at first, spread over those that the sheet opens; steps of one follow round the best."""


def pumps_counts(situation: Situation) -> tuple[int, ...]:
    """Numbers of pumps that may work at once, each with a truck beside it; carriers of a site mixer count as one."""
    if situation.sheet.site_mixer is not None:
        return (1,)
    low, high = situation.sheet.choices.pumps_between or (1, 1)
    return tuple(range(low, max(low, min(high, situation.sheet.trucks.discharge_places_count)) + 1))


def gangs(choices: Choices) -> tuple[str, ...]:
    """The gang of `crew` and the sheet's other ways to man the pour, by id."""
    return (CREW, *(gang.id for gang in choices.gang))


def coolers(choices: Choices) -> tuple[float, ...]:
    """Degrees by which the plant may cool the concrete, fewest first."""
    return tuple(sorted(set(choices.cooler_by_c))) or (0.0,)


def vibrators_counts(situation: Situation) -> tuple[int, ...]:
    """Numbers of vibrators to try, the pour's own first where the sheet permits it."""
    own = situation.vibrators_count
    low, high = situation.sheet.choices.vibrators_between or (own, own)
    steps = min(high - low, MOST_VIBRATOR_COUNTS - 1)
    spread = {low + round(step * (high - low) / steps) for step in range(steps + 1)} if steps else {low}
    return tuple(sorted({*spread, min(max(own, low), high)}, key=lambda count: (count != own, count)))


def opened_means(situation: Situation) -> tuple[Means, ...]:
    """All combinations that the sheet opens; those that it fixes anyway, with each mix option, come first."""
    choices = situation.sheet.choices
    others = itertools.product(pumps_counts(situation), vibrators_counts(situation), gangs(choices), coolers(choices))
    return tuple(
        Means(mix_option=option, pumps_count=pumps, vibrators_count=vibrators, gang=gang, cooler_by_c=cooler)
        for pumps, vibrators, gang, cooler in others
        for option in situation.mix_options
    )


def fastest(situation: Situation) -> tuple[float, str]:
    """Highest placing rate with any of the opened means, and who limits it."""
    return max((situation.highest_rate(means) for means in opened_means(situation)), key=lambda cap: cap[0])


def patterns(situation: Situation) -> tuple[Pattern, ...]:
    """Patterns of the interval that the sheet opens."""
    if situation.sheet.site_mixer is not None:
        return ("constant",)  # nobody calls the batches off
    return tuple(dict.fromkeys(situation.sheet.choices.interval_patterns)) or ("constant",)


def plain_means(situation: Situation) -> tuple[Means, ...]:
    """The first of each opened decision with every mix option: what a search looks at before it opens them."""
    return opened_means(situation)[: len(situation.mix_options)]


def with_means(situation: Situation, candidate: Candidate, means: Means) -> tuple[Candidate, ...]:
    """The same decision with other means: at the same share of the highest rate, and at its own rate where permitted.

    Interval and trucks follow the rate as they did before.
    """
    highest, _ = situation.highest_rate(means)
    before, _ = situation.highest_rate(candidate.means)
    if highest <= 0 or before <= 0:
        return ()
    share = candidate.rate_m3_per_h / before
    rates = placing_rates(situation, means)
    at_share = [min(rates, key=lambda rate: (abs(rate - share * highest), -rate))] if rates else []
    own = [candidate.rate_m3_per_h] if candidate.rate_m3_per_h <= highest + 1e-9 else []
    return tuple(
        at_rate(
            situation,
            replace(
                candidate,
                mix_option=means.mix_option,
                pumps_count=means.pumps_count,
                vibrators_count=means.vibrators_count,
                gang=means.gang,
                cooler_by_c=means.cooler_by_c,
            ),
            rate,
        )
        for rate in dict.fromkeys([*at_share, *own])
    )


def at_rate(situation: Situation, candidate: Candidate, rate_m3_per_h: float) -> Candidate:
    """The same decision at another rate: the interval as long beside the steady one, and as many trucks to spare."""
    load = candidate.load_m3
    if rate_m3_per_h == candidate.rate_m3_per_h:
        return candidate
    if situation.sheet.site_mixer is not None:
        return replace(candidate, rate_m3_per_h=rate_m3_per_h)
    share = candidate.interval_min / steady_interval_min(situation, load, candidate.rate_m3_per_h)
    spare = candidate.trucks_count - trucks_needed(situation, load, candidate.interval_min, candidate.rate_m3_per_h)
    interval = interval_near(situation, steady_interval_min(situation, load, rate_m3_per_h), share)
    trucks = trucks_needed(situation, load, interval, rate_m3_per_h) + spare
    return replace(
        candidate,
        rate_m3_per_h=rate_m3_per_h,
        interval_min=interval,
        trucks_count=permitted_trucks(situation, load, max(1, trucks)),
    )


def steps_of_means(situation: Situation, candidate: Candidate) -> tuple[Candidate, ...]:
    """One opened decision changed by a step or to another of its values; one more or one less vibrator as well."""
    choices, means = situation.sheet.choices, candidate.means
    low, high = choices.vibrators_between or (means.vibrators_count, means.vibrators_count)
    changed = [replace(means, pumps_count=count) for count in pumps_counts(situation)]
    changed += [
        replace(means, vibrators_count=count)
        for count in (means.vibrators_count - 1, means.vibrators_count + 1)
        if low <= count <= high
    ]
    changed += [replace(means, gang=gang) for gang in gangs(choices)]
    changed += [replace(means, cooler_by_c=degrees) for degrees in coolers(choices)]
    found = [other for to in changed if to != means for other in with_means(situation, candidate, to)]
    found += [replace(candidate, pattern=pattern) for pattern in patterns(situation) if pattern != candidate.pattern]
    return tuple(dict.fromkeys(found))
