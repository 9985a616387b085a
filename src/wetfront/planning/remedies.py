"""Where nothing keeps the limits: the nearest changes that do, each simulated, never guessed.

A remedy is something that people have to agree to: narrower strips than the sheet fixes, a finishing crew, a retarder,
a second pump, a stop at an agreed joint. With each of them the free decisions (trucks, interval, rate, load, start) are
searched again, since they cost nothing to change. One remedy first, then two together, then three of those that help
most.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from wetfront.materials.admixture_classes import admixture_classes
from wetfront.nouns.element import DeckSlab, GroundSlab, MassBlock, Slab
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.candidates import STRIP_WIDTHS_M, intervals, load_sizes
from wetfront.planning.changes import Asked, within_rise, worst_risk
from wetfront.planning.gangs import finishers_are_priced
from wetfront.planning.judge import RISK_KEYS
from wetfront.planning.means import with_means
from wetfront.planning.race import Rounds, Sample, ranked, violation
from wetfront.planning.search import Bench
from wetfront.planning.situation import Situation
from wetfront.planning.splits import part_of, parts_at
from wetfront.planning.words import difference_words, money, percent, risk_words

INNER_ROUNDS: Rounds = ((8, 6), (40, 2), (160, 1))
CONFIRMED = 400
HELPFUL_COUNT = 9
MOST_SHOWN = 4
MOST_TOGETHER = 3
MOST_CONFIRMED = 20
FIRST_DOUBT = 0.25
"""Standard errors that a group may seem over a limit at the first look."""
RETARDER_STEPS = (1.1, 1.2, 1.3, 1.4, 1.5, 1.75, 2.0)
COOLER_BY_C = (2.0, 4.0)
START_STEPS_MIN = (0.0, 60.0, 120.0, 180.0)

_RETARDER = admixture_classes()["retarder"].standards
Step = Callable[[Candidate], Candidate]


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change by name. `kind`: two of the same kind are not taken together."""

    kind: str
    title: str
    step: Step
    size: float = 1.0
    """How big a change it is beside others of its kind: the smaller one is nearer."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A group of remedies with the best of the free decisions."""

    over: float
    """By how much the limits are broken, added up."""
    cost: float
    group: tuple[Remedy, ...]
    candidate: Candidate

    @property
    def rank(self) -> tuple[float, int, float, float]:
        """Least broken, fewest remedies, smallest, cheapest."""
        return (round(self.over, 6), len(self.group), sum(remedy.size for remedy in self.group), self.cost)


def nearest_changes(bench: Bench, winner: Candidate, limits: Floats) -> tuple[str, ...]:
    """Changes that keep every limit, the fewest and cheapest first; else what comes nearest as well."""
    tried = _tried(bench, winner, limits, [(remedy,) for remedy in remedies(bench, winner, limits)])
    kept = _confirmed(bench, winner, limits, tried)
    in_one_go = bool(kept)
    kept += _splits(bench, winner, limits)
    helpful = _helpful(tried)
    for size in range(2, MOST_TOGETHER + 1):
        if in_one_go:
            break
        groups = [
            group for group in itertools.combinations(helpful, size) if len({remedy.kind for remedy in group}) == size
        ]
        together = _tried(bench, winner, limits, groups)
        more = _confirmed(bench, winner, limits, together)
        in_one_go = bool(more)
        kept += more
        tried += together
    if not in_one_go:
        kept += _nearest_words(bench, winner, limits, sorted(tried, key=lambda entry: entry.rank))
    return tuple(kept[:MOST_SHOWN])


def _confirmed(bench: Bench, winner: Candidate, limits: Floats, tried: Sequence[Tried]) -> list[str]:
    """Those that keep the limits on many replications, in words."""
    kept: list[str] = []
    shown: set[tuple[str, ...]] = set()
    for entry in tried[:MOST_CONFIRMED]:
        if entry.over > 0:
            break
        kinds = tuple(remedy.kind for remedy in entry.group)
        if kinds in shown or len(kept) == MOST_SHOWN:
            continue
        sample = bench.sample([entry.candidate], 0, CONFIRMED)[0]
        if violation(sample, limits) == 0:
            shown.add(kinds)
            kept.append(_words(bench, winner, limits, entry, sample))
    return kept


def _tried(bench: Bench, winner: Candidate, limits: Floats, groups: Sequence[tuple[Remedy, ...]]) -> list[Tried]:
    """Each group with its best free decisions, best group first; all groups race side by side."""
    pools = [free_decisions(bench.situation, with_remedies(bench.situation, winner, group)) for group in groups]
    for replications, kept in INNER_ROUNDS:
        bench.sample([candidate for pool in pools for candidate in pool], 0, replications)
        pools = [_best(bench, pool, limits, replications)[:kept] for pool in pools]
    found = []
    for group, (best,) in zip(groups, pools, strict=True):
        sample = bench.samples[best]
        found.append(Tried(violation(sample, limits, FIRST_DOUBT), float(sample.cost.mean()), group, best))
    return sorted(found, key=lambda entry: entry.rank)


def _best(bench: Bench, pool: Sequence[Candidate], limits: Floats, replications: int) -> list[Candidate]:
    """The pool best first, on its first replications."""
    samples = dict(enumerate(bench.sample(pool, 0, replications)))
    return [pool[number] for number in ranked(samples, limits, FIRST_DOUBT)]


def free_decisions(situation: Situation, candidate: Candidate) -> list[Candidate]:
    """The candidate with other trucks, intervals, loads and starts; it comes first itself."""
    fewest, most = situation.sheet.choices.trucks_between or (1, situation.sheet.trucks.count_in_fleet)
    most = min(most, situation.sheet.trucks.count_in_fleet)
    low, high = situation.start_between_min
    starts = {candidate.start_min, *(low + step for step in START_STEPS_MIN if low + step <= high)}
    found = [candidate]
    for load in load_sizes(situation):
        for interval in intervals(situation, load, candidate.rate_m3_per_h):
            found += [
                replace(candidate, load_m3=load, interval_min=interval, trucks_count=trucks)
                for trucks in range(candidate.trucks_count - 2, candidate.trucks_count + 2)
                if fewest <= trucks <= most
            ]
    found += [replace(candidate, start_min=start) for start in sorted(starts)]
    found += [
        replace(candidate, start_min=start, trucks_count=candidate.trucks_count - 1)
        for start in sorted(starts)
        if candidate.trucks_count - 1 >= fewest
    ]
    found += [
        replace(candidate, start_min=start, load_m3=load) for start in sorted(starts) for load in load_sizes(situation)
    ]
    return list(dict.fromkeys(found))


def with_remedies(situation: Situation, winner: Candidate, group: Sequence[Remedy]) -> Candidate:
    """The winner with all of a group's changes, never faster than the forms permit."""
    changed = winner
    for remedy in group:
        changed = remedy.step(changed)
    return within_rise(situation, Asked("", changed)).candidate


def _helpful(tried: Sequence[Tried]) -> list[Remedy]:
    """The best two of each kind, as many as are worth trying together."""
    found: list[Remedy] = []
    for entry in tried:
        remedy = entry.group[0]
        if sum(other.kind == remedy.kind for other in found) < 2:
            found.append(remedy)
    return found[:HELPFUL_COUNT]


def _words(bench: Bench, winner: Candidate, limits: Floats, entry: Tried, sample: Sample) -> str:
    base = bench.sample([winner], 0, sample.count)[0]
    then = _then(bench, winner, limits, sample)
    cost = float(sample.cost.mean() - base.cost.mean())
    price = f"{money(abs(cost), bench.situation.sheet.project.currency)} {'more' if cost >= 0 else 'less'}"
    title = " and ".join(remedy.title for remedy in entry.group)
    plain = with_remedies(bench.situation, winner, entry.group)
    free = difference_words(bench.situation, plain, entry.candidate) if plain != entry.candidate else ""
    return f"{title}{f', with {free}' if free else ''}: {then}; {price}; on {sample.count} replications"


def _splits(bench: Bench, winner: Candidate, limits: Floats) -> list[str]:
    """Agreed joints at which the part placed first keeps every limit today, in words; the rest goes another day."""
    situation, found = bench.situation, []
    for joint in situation.sheet.joint:
        sides = parts_at(situation, joint, winner.order.element_order) if joint.agreed_emergency else ((), ())
        if not all(sides):
            continue
        parts = [_part(bench, winner, limits, joint.id, elements) for elements in sides]
        (first, way, sample), (_, _, other) = parts
        if violation(sample, limits) > 0:
            continue
        kept = violation(other, limits) == 0
        said = "keeps every limit too" if kept else f"does not keep every limit: {worst_risk(other, limits)}"
        own = replace(winner, order=way.order)
        free = f", with {difference_words(first, own, way)}" if own != way else ""
        found.append(
            f"stop at the agreed joint {joint.id}: {', '.join(sides[0])} today, {', '.join(sides[1])} another day (the "
            f"rest by itself, on a day like this, {said}){free}: {_then(bench, winner, limits, sample)}; on "
            f"{sample.count} replications"
        )
    return found


def _part(
    bench: Bench, winner: Candidate, limits: Floats, joint: str, elements: tuple[str, ...]
) -> tuple[Situation, Candidate, Sample]:
    """One part of a split as a pour of its own: the winner's decision for it, the free decisions searched again."""
    part = part_of(bench.situation, joint, elements)
    own = Bench(part, bench.seed, bench.executor)
    pool = free_decisions(part, replace(winner, order=replace(winner.order, element_order=elements)))
    for replications, kept in INNER_ROUNDS:
        own.sample(pool, 0, replications)
        pool = _best(own, pool, limits, replications)[:kept]
    return part, pool[0], own.sample(pool[:1], 0, CONFIRMED)[0]


def _then(bench: Bench, winner: Candidate, limits: Floats, sample: Sample) -> str:
    """The risks over their limits with the winner, as they are then."""
    base = bench.sample([winner], 0, sample.count)[0]
    return ", ".join(
        risk_words(RISK_KEYS[number], float(sample.probabilities()[number]), float(limits[number]))
        for number, probability in enumerate(base.probabilities())
        if probability > limits[number]
    )


def _nearest_words(bench: Bench, winner: Candidate, limits: Floats, tried: Sequence[Tried]) -> tuple[str, ...]:
    if not tried:
        return ("nothing was found that this program could change",)
    sample = bench.sample([tried[0].candidate], 0, CONFIRMED)[0]
    if violation(sample, limits) >= violation(bench.sample([winner], 0, CONFIRMED)[0], limits):
        return ("placed in one go, none of the changes tried brings it nearer to the limits",)
    return (
        f"placed in one go, none of the changes tried, one to {MOST_TOGETHER} together, keeps every limit; nearest "
        f"comes {_words(bench, winner, limits, tried[0], sample)}",
    )


def remedies(bench: Bench, winner: Candidate, limits: Floats) -> tuple[Remedy, ...]:
    """Changes that could help against the limits that are broken."""
    situation, sample = bench.situation, bench.samples[winner]
    over = {
        key
        for key, probability, limit in zip(RISK_KEYS, sample.probabilities(), limits, strict=True)
        if probability > limit
    }
    return (
        *_of_mix(situation, winner, over),
        *_of_order(situation, winner, over),
        *_of_crews(situation, winner, over),
        *_of_plant(situation, winner),
    )


def _of_mix(situation: Situation, winner: Candidate, over: set[str]) -> list[Remedy]:
    found = [
        Remedy("mix", f"mix option {option}" if option else "the mix without its option", _set(mix_option=option))
        for option in situation.mix_options
        if option != winner.mix_option
    ]
    if "cold_joint" in over:
        found += [
            Remedy(
                "mix",
                f"a retarder of at least +{(factor - 1) * 100:.0f} % on the setting time, not in the sheet (ask "
                f"the producer for {_RETARDER}; trial mix first)",
                _set(longer_set_factor=factor),
                size=10 * (factor - 1),
            )
            for factor in RETARDER_STEPS
        ]
    if over & {"cold_joint", "specified_edge_exceeded"}:
        found += [
            Remedy(
                "cooler", f"concrete {degrees:g} °C cooler at the plant", _set(cooler_by_c=degrees), size=degrees / 2
            )
            for degrees in COOLER_BY_C
        ]
    return found


def _of_order(situation: Situation, winner: Candidate, over: set[str]) -> list[Remedy]:
    if not over & {"cold_joint", "specified_edge_exceeded", "finishing_out_of_hours"}:
        return []
    found = []
    if any(isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock) for element in situation.elements):
        fixed = f" in place of the sheet's {winner.order.strip_width_m:g} m"
        said = fixed if situation.sheet.choices.strip_widths_m else ""
        found += [
            Remedy(
                "strips",
                f"strips {width:g} m wide{said}",
                _order_with(strip_width_m=width),
                size=winner.order.strip_width_m / width,
            )
            for width in STRIP_WIDTHS_M
            if width < winner.order.strip_width_m - 1e-9
        ]
    if winner.order.layers == "whole" and situation.sheet.choices.layer_orders == ("whole",):
        found.append(Remedy("layers", "layers as a stepped front", _order_with(layers="stepped")))
    return found


def _of_crews(situation: Situation, winner: Candidate, over: set[str]) -> list[Remedy]:
    if "finishing_out_of_hours" not in over:
        return []
    blocks = situation.gang_blocks(winner.gang)
    crews = max(block.finishing_crews_count for block in blocks) + winner.more_finishing_crews
    said = "" if finishers_are_priced(blocks) else " (their wages are not in the cost)"
    return [
        Remedy(
            "crews",
            f"{crews + more} finishing crews in place of {crews}{said}",
            _set(more_finishing_crews=winner.more_finishing_crews + more),
            size=more,
        )
        for more in (1, 2)
    ]


def _of_plant(situation: Situation, winner: Candidate) -> list[Remedy]:
    found: list[Remedy] = []
    if situation.sheet.site_mixer is not None:
        return found
    places = situation.sheet.trucks.discharge_places_count
    if not situation.forms and winner.pumps_count == 1 and places > 1:
        rate, by_whom = situation.highest_rate(replace(winner.means, pumps_count=2))
        # Together with others it takes what these leave: a retarder's form, another vibrator.
        found.append(
            Remedy(
                "pump",
                f"a second pump, {rate:g} m³/h by {by_whom}",
                lambda candidate: with_means(situation, candidate, replace(candidate.means, pumps_count=2))[0],
            )
        )
    for plant in situation.sheet.plant:
        if plant.standby and plant.id not in winner.plants and (not plant.mixes or situation.pour.mix in plant.mixes):
            plants = (*winner.plants, plant.id)
            found.append(Remedy("plant", f"reserve plant {plant.id} as well", _set(plants=plants)))
    return found


def _set(**changed: object) -> Step:
    return lambda candidate: replace(candidate, **changed)  # type: ignore[arg-type]


def _order_with(**changed: object) -> Step:
    return lambda candidate: replace(candidate, order=replace(candidate.order, **changed))  # type: ignore[arg-type]


def other_days_words(kept: Sequence[tuple[str, Sample]], tried: int, limits: Floats) -> tuple[str, ...]:
    """Days of the forecast on which the same decision keeps the limits."""
    found = [
        f"the same plan on {day}: every limit kept (highest {_highest(sample, limits)}); on {sample.count} replications"
        for day, sample in kept
    ]
    if not found and tried:
        return (f"the same plan keeps the limits on none of the {tried} other working days of the forecast",)
    return tuple(found[:2])


def _highest(sample: Sample, limits: Floats) -> str:
    shares = [
        float(sample.probabilities()[number]) / max(float(limits[number]), 1e-3) for number in range(len(RISK_KEYS))
    ]
    worst = shares.index(max(shares))
    return f"{RISK_KEYS[worst].replace('_', ' ')} {percent(float(sample.probabilities()[worst]))}"
