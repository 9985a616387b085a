"""What-ifs: one decision changed, all else kept, on the same draws."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wetfront.nouns.element import DeckSlab, GroundSlab, MassBlock, Slab
from wetfront.nouns.plan import Change
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.candidates import STRIP_WIDTHS_M
from wetfront.planning.carried import Carried
from wetfront.planning.cooler import takes
from wetfront.planning.gangs import finishers_are_priced
from wetfront.planning.judge import RISK_KEYS, judged
from wetfront.planning.means import steps_of_means
from wetfront.planning.race import Sample, paired_difference, violation
from wetfront.planning.search import Bench
from wetfront.planning.situation import Situation
from wetfront.planning.words import difference_words, hours_words, percent, risk_words, unended_words

SHOWN_FROM = 0.001
"""Changes of a probability by a tenth of a percent or more are shown."""
REPLICATIONS = 200
FARTHEST_SHARE = 2.0
"""Of a limit: a larger change of the worst risk counts and is drawn as this, or the rest would vanish beside it."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A what-if with its candidate and what has to be said about it."""

    title: str
    candidate: Candidate
    comment: str = ""


def asked_changes(situation: Situation, winner: Candidate) -> tuple[Asked, ...]:
    """The what-ifs that a site engineer asks."""
    found = [*_trucks(situation, winner), *_rates(situation, winner), *_starts(situation, winner)]
    found += [
        Asked("one degree cooler concrete", replace(winner, cooler_by_c=winner.cooler_by_c + 1), takes(situation, 1)),
        Asked("five degrees cooler concrete", replace(winner, cooler_by_c=winner.cooler_by_c + 5), takes(situation, 5)),
        Asked("one degree warmer concrete", replace(winner, cooler_by_c=winner.cooler_by_c - 1)),
    ]
    if situation.sheet.site_mixer is None:
        closer = replace(winner, interval_min=max(0.5, winner.interval_min - 1))
        found.append(Asked("call-off one minute closer", closer))
        found.append(Asked("call-off one minute wider", replace(winner, interval_min=winner.interval_min + 1)))
    if situation.sheet.specification.finish != "none":
        more = winner.more_finishing_crews
        blocks = situation.gang_blocks(winner.gang)
        said = "" if finishers_are_priced(blocks) else CREW_NOT_PRICED
        found.append(Asked("one finishing crew more", replace(winner, more_finishing_crews=more + 1), said))
        if max(block.finishing_crews_count for block in blocks) + more > 1:
            found.append(Asked("one finishing crew less", replace(winner, more_finishing_crews=more - 1), said))
    for option in situation.mix_options:
        if option != winner.mix_option:
            title = f"mix option {option}" if option else "the mix without its option"
            found.append(within_rise(situation, Asked(title, replace(winner, mix_option=option))))
    found += _widths(situation, winner)
    found += [Asked(difference_words(situation, winner, step), step) for step in steps_of_means(situation, winner)]
    if situation.planned_start_min is not None and situation.planned_start_min != winner.start_min:
        planned = replace(winner, start_min=situation.planned_start_min)
        found.append(Asked(f"the pencilled start {situation.day.clock(planned.start_min)}", planned))
    unique: dict[Candidate, Asked] = {}
    for asked in found:
        if asked.candidate != winner:
            unique.setdefault(asked.candidate, asked)
    return tuple(unique.values())


CREW_NOT_PRICED = "not in the cost: the sheet has no finishers in crew.people, or no price of the gang"


def within_rise(situation: Situation, asked: Asked) -> Asked:
    """The same with its rate taken down to what the forms permit with this concrete: never offered faster."""
    highest, who = situation.highest_rate(asked.candidate.means)
    if asked.candidate.rate_m3_per_h <= highest + 1e-9:
        return asked
    slower = replace(asked.candidate, rate_m3_per_h=highest)
    return Asked(asked.title, slower, f"only {highest:.1f} m³/h by {who}; {asked.comment}".rstrip("; "))


def _trucks(situation: Situation, winner: Candidate) -> list[Asked]:
    found: list[Asked] = []
    if situation.sheet.site_mixer is not None:
        return found
    if winner.trucks_count < situation.sheet.trucks.count_in_fleet:
        promised = winner.trucks_count < situation.sheet.trucks.count_promised
        comment = "" if promised else "beyond the trucks promised: ask the plant"
        found.append(Asked("one truck more", replace(winner, trucks_count=winner.trucks_count + 1), comment))
    if winner.trucks_count > 1:
        found.append(Asked("one truck less", replace(winner, trucks_count=winner.trucks_count - 1)))
    return found


def _rates(situation: Situation, winner: Candidate) -> list[Asked]:
    found = []
    more = winner.vibrators_count + 1
    by_crew, _ = situation.highest_rate(replace(winner.means, vibrators_count=more))
    now, _ = situation.highest_rate(winner.means)
    if by_crew > now * 1.01 and situation.sheet.vibrator:
        faster = replace(winner, vibrators_count=more, rate_m3_per_h=by_crew)
        found.append(Asked(f"one vibrator more, {by_crew:g} m³/h", faster))
    highest, who = situation.highest_rate(winner.means)
    if highest > winner.rate_m3_per_h * 1.01:
        faster = replace(winner, rate_m3_per_h=highest)
        found.append(Asked(f"placing at {highest:g} m³/h, all that {who} allows", faster))
    slower = round(winner.rate_m3_per_h * 0.9, 1)
    found.append(Asked(f"placing at {slower:g} m³/h", replace(winner, rate_m3_per_h=slower)))
    return found


def _starts(situation: Situation, winner: Candidate) -> list[Asked]:
    low, _ = situation.start_between_min
    found = [Asked("half an hour later", replace(winner, start_min=winner.start_min + 30))]
    if winner.start_min - 30 >= low:
        found.append(Asked("half an hour earlier", replace(winner, start_min=winner.start_min - 30)))
    if winner.start_min - 60 >= low:
        found.append(Asked("an hour earlier", replace(winner, start_min=winner.start_min - 60)))
    return found


def _widths(situation: Situation, winner: Candidate) -> list[Asked]:
    """Next narrower strips; what the sheet fixes is said."""
    if not any(isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock) for element in situation.elements):
        return []
    narrower = [width for width in STRIP_WIDTHS_M if width < winner.order.strip_width_m - 1e-9]
    if not narrower:
        return []
    width = narrower[-1]
    fixed = situation.sheet.choices.strip_widths_m
    comment = "the sheet does not offer this width" if fixed and width not in fixed else ""
    order = replace(winner.order, strip_width_m=width)
    return [Asked(f"strips {width:g} m wide", replace(winner, order=order), comment)]


def changes(
    bench: Bench, winner: Candidate, outcome: Carried, limits: Floats, asked: Sequence[Asked]
) -> tuple[Change, ...]:
    """Each what-if against the winner, on the winner's first replications; the one that moves most comes first."""
    situation = bench.situation
    count = min(REPLICATIONS, outcome.count)
    base = judged(situation, winner, outcome, outcome.count).part(0, count)
    end = float(outcome.end_of_pour_min[:count].mean())
    found = []
    for what, other in zip(asked, bench.outcomes([what.candidate for what in asked], count), strict=True):
        sample = judged(situation, what.candidate, other, count)
        if other is None:
            found.append(_unworkable(what, base, limits))
            continue
        dearer, error = paired_difference(sample, base)
        later = float(other.end_of_pour_min.mean()) - end
        finished = float(other.finishing_end_min.mean() - outcome.finishing_end_min[:count].mean())
        moved = sample.probabilities() - base.probabilities()
        comment = "; ".join(
            part
            for part in (
                what.comment,
                f"finishing ends {hours_words(finished)}" if abs(finished - later) >= 2 else "",
                _against_rise(situation, what.candidate),
                unended_words(other),
            )
            if part
        )
        found.append(
            Change(
                title=what.title,
                cost_change_cu=dearer,
                cost_error_cu=error,
                worst_share_change=worst_share(sample, limits) - worst_share(base, limits),
                end_change_min=later,
                worst_risk=worst_risk(sample, limits),
                risk_changes=tuple(
                    (key, float(change))
                    for key, change in zip(RISK_KEYS, moved, strict=True)
                    if abs(change) >= SHOWN_FROM - 1e-12
                ),
                keeps_limits=violation(sample, limits) == 0,
                comment=comment,
            )
        )
    return largest_first(found)


def largest_first(found: Sequence[Change]) -> tuple[Change, ...]:
    """By size: the larger of the effects on cost and on the worst risk, each against the largest of the list.

    What cannot be carried to its end has no cost and comes first. Own rule: money and risk have no common unit.
    """
    largest_cost = max((abs(each.cost_change_cu) for each in found), default=0.0) or 1.0
    largest_share = max((_share_size(each) for each in found), default=0.0) or 1.0

    def size(each: Change) -> tuple[float, float]:
        both = (abs(each.cost_change_cu) / largest_cost, _share_size(each) / largest_share)
        return (max(both), sum(both))

    return tuple(sorted(found, key=lambda each: size(each), reverse=True))


def _share_size(change: Change) -> float:
    return min(abs(change.worst_share_change), FARTHEST_SHARE)


def shares(sample: Sample, limits: Floats) -> Floats:
    """Each probability as a share of its limit; a limit of 0 counts as a tenth of a percent."""
    found: Floats = sample.probabilities() / np.maximum(limits, SHOWN_FROM)
    return found


def worst_share(sample: Sample, limits: Floats) -> float:
    """The largest of `shares`: over 1 breaks a limit."""
    return float(shares(sample, limits).max())


def worst_risk(sample: Sample, limits: Floats) -> str:
    """The risk that is nearest to its limit, or farthest over it."""
    probabilities = sample.probabilities()
    worst = int(shares(sample, limits).argmax())
    return risk_words(RISK_KEYS[worst], float(probabilities[worst]), float(limits[worst]))


def _against_rise(situation: Situation, candidate: Candidate) -> str:
    """Colder or slower-setting concrete lowers the permitted rise: the pour is then simulated that much slower."""
    before = situation.form_rates()
    for name, highest in situation.form_rates(candidate.mix_option, candidate.cooler_by_c).items():
        if highest < min(candidate.rate_m3_per_h, before.get(name, highest)) - 1e-9:
            return f"the form of {name} then permits only {highest:.1f} m³/h"
    return ""


def _unworkable(what: Asked, base: Sample, limits: Floats) -> Change:
    moved = 1.0 - base.probabilities()
    return Change(
        title=what.title,
        cost_change_cu=0.0,
        cost_error_cu=0.0,
        worst_share_change=float((1.0 / np.maximum(limits, SHOWN_FROM)).max()) - worst_share(base, limits),
        end_change_min=0.0,
        worst_risk=f"the pour cannot be carried to its end ({percent(1.0)})",
        risk_changes=tuple((key, float(change)) for key, change in zip(RISK_KEYS, moved, strict=True)),
        keeps_limits=False,
        comment="; ".join(part for part in (what.comment, "too many loads are refused: no cost and no end") if part),
    )
