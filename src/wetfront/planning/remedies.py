"""Where nothing keeps the limits: the nearest changes that do, each simulated, never guessed.

One change first, then two together, then three, of those that help most. Changes that the sheet does not offer (narrower
strips than it fixes, a finishing crew, a retarder) are named as such: a person has to agree to them.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from wetfront.nouns.element import DeckSlab, GroundSlab, MassBlock, Slab
from wetfront.nouns.sheet import Joint
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.candidates import STRIP_WIDTHS_M, intervals
from wetfront.planning.changes import Asked, within_rise
from wetfront.planning.judge import RISK_KEYS
from wetfront.planning.race import Sample, violation
from wetfront.planning.search import Bench
from wetfront.planning.situation import Situation
from wetfront.planning.words import money, percent, risk_words

FIRST_LOOK, CONFIRMED = 80, 400
HELPFUL_COUNT = 10
MOST_SHOWN = 4
RETARDER_STEPS = (1.1, 1.2, 1.3, 1.4, 1.5, 1.75, 2.0)
MOST_COOLER_C = 5

Step = Callable[[Candidate], Candidate]


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change by name. `kind`: two of the same kind are not taken together."""

    kind: str
    title: str
    step: Step


def nearest_changes(bench: Bench, winner: Candidate, limits: Floats) -> tuple[str, ...]:
    """Changes that keep every limit, the fewest and cheapest first; else what comes nearest."""
    situation = bench.situation
    singles = [(remedy,) for remedy in remedies(situation, winner, limits, bench.samples[winner])]
    # The start and the interval may move along with a remedy: both cost nothing to change.
    looked = _look(bench, winner, limits, singles)
    kept = [entry for entry in looked if entry[0] == 0]
    helpful = _helpful(looked)
    for size in (2, 3):
        # A split of the pour always helps; people will want to know what else does.
        if any(remedy.kind != "joint" for _, _, names in kept for remedy in names):
            break
        together = [
            group
            for group in itertools.combinations(helpful, size)
            if len({remedy.kind for remedy in group}) == size and all(remedy.kind != "joint" for remedy in group)
        ]
        more = _look(bench, winner, limits, together)
        kept += [entry for entry in more if entry[0] == 0]
        looked = sorted([*looked, *more], key=_order)
    if not kept:
        return _nearest_words(bench, winner, limits, looked)
    confirmed = [words for entry in kept[: 2 * MOST_SHOWN] if (words := _confirmed(bench, winner, limits, entry))]
    return tuple(confirmed[:MOST_SHOWN]) or _nearest_words(bench, winner, limits, looked)


def _helpful(looked: Sequence["Looked"]) -> list[Remedy]:
    """The best two of each kind, as many as are worth trying together."""
    found: list[Remedy] = []
    for _, _, names in looked:
        if sum(remedy.kind == names[0].kind for remedy in found) < 2:
            found.append(names[0])
    return found[:HELPFUL_COUNT]


Looked = tuple[float, float, tuple[Remedy, ...]]
"""Violation, cost, what was changed."""


def _order(entry: Looked) -> tuple[float, int, float]:
    return (round(entry[0], 6), len(entry[2]), entry[1])


def _look(bench: Bench, winner: Candidate, limits: Floats, groups: Sequence[tuple[Remedy, ...]]) -> list[Looked]:
    """First look at groups of remedies, best first."""
    candidates = [with_remedies(bench.situation, winner, group) for group in groups]
    samples = bench.sample(candidates, 0, FIRST_LOOK)
    found = [
        (violation(sample, limits), float(sample.cost.mean()), group)
        for sample, group in zip(samples, groups, strict=True)
    ]
    return sorted(found, key=_order)


def with_remedies(situation: Situation, winner: Candidate, group: Sequence[Remedy]) -> Candidate:
    """The winner with all of a group's changes, never faster than the forms permit."""
    changed = winner
    for remedy in group:
        changed = remedy.step(changed)
    return within_rise(situation, Asked("", changed)).candidate


def _confirmed(bench: Bench, winner: Candidate, limits: Floats, entry: Looked) -> str:
    """In words, if it still keeps the limits on many replications."""
    _, _, group = entry
    candidate = with_remedies(bench.situation, winner, group)
    sample = bench.sample([candidate], 0, CONFIRMED)[0]
    if violation(sample, limits) > 0:
        return ""
    base = bench.sample([winner], 0, CONFIRMED)[0]
    return _words(bench, group, sample, base, limits, winner)


def _words(
    bench: Bench, group: Sequence[Remedy], sample: Sample, base: Sample, limits: Floats, winner: Candidate
) -> str:
    currency = bench.situation.sheet.project.currency
    was_over = [number for number, probability in enumerate(base.probabilities()) if probability > limits[number]]
    then = ", ".join(
        risk_words(RISK_KEYS[number], float(sample.probabilities()[number]), float(limits[number]))
        for number in was_over
    )
    cost = float(sample.cost.mean() - base.cost.mean())
    price = f"{money(abs(cost), currency)} {'more' if cost >= 0 else 'less'}"
    title = " and ".join(remedy.title for remedy in group)
    return f"{title}: {then}; {price}; on {sample.count} replications"


def _nearest_words(bench: Bench, winner: Candidate, limits: Floats, looked: Sequence[Looked]) -> tuple[str, ...]:
    base = bench.sample([winner], 0, FIRST_LOOK)[0]
    if not looked:
        return ("nothing was found that this program could change",)
    _, _, group = looked[0]
    sample = bench.sample([with_remedies(bench.situation, winner, group)], 0, FIRST_LOOK)[0]
    return (
        f"none of the changes tried, one to three together, keeps every limit; nearest comes "
        f"{_words(bench, group, sample, base, limits, winner)}",
    )


def remedies(situation: Situation, winner: Candidate, limits: Floats, sample: Sample) -> tuple[Remedy, ...]:
    """Changes that could help against the limits that are broken."""
    over = {
        key
        for key, probability, limit in zip(RISK_KEYS, sample.probabilities(), limits, strict=True)
        if probability > limit
    }
    found = [
        *_of_mix(situation, winner, over),
        *_of_edges(situation, winner, over),
        *_of_hours(situation, winner, over),
    ]
    return (*found, *_of_supply(situation, winner, over), *_of_joints(situation, winner))


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
                f"a retarder of at least +{(factor - 1) * 100:.0f} % on the setting time, not offered in the sheet",
                _set(longer_set_factor=factor),
            )
            for factor in RETARDER_STEPS
        ]
    if over & {"cold_joint", "specified_edge_exceeded"}:
        found += [
            Remedy("cooler", f"concrete {degrees} °C cooler at the plant", _set(cooler_by_c=float(degrees)))
            for degrees in range(1, MOST_COOLER_C + 1)
        ]
    return found


def _of_edges(situation: Situation, winner: Candidate, over: set[str]) -> list[Remedy]:
    if not over & {"cold_joint", "specified_edge_exceeded"}:
        return []
    found = []
    if any(isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock) for element in situation.elements):
        offered = situation.sheet.choices.strip_widths_m
        for width in (2.0, *STRIP_WIDTHS_M):
            if width < winner.order.strip_width_m - 1e-9:
                fixed = f" in place of the sheet's {winner.order.strip_width_m:g} m" if offered else ""
                found.append(Remedy("strips", f"strips {width:g} m wide{fixed}", _order_with(strip_width_m=width)))
    if winner.order.layers == "whole" and situation.sheet.choices.layer_orders == ("whole",):
        found.append(Remedy("layers", "layers as a stepped front", _order_with(layers="stepped")))
    return found


def _of_hours(situation: Situation, winner: Candidate, over: set[str]) -> list[Remedy]:
    found = []
    if "finishing_out_of_hours" in over:
        crews = winner.finishing_crews_count
        found += [
            Remedy(
                "crews", f"{crews + more} finishing crews in place of {crews}", _set(finishing_crews_count=crews + more)
            )
            for more in (1, 2)
        ]
    low, high = situation.start_between_min
    if over - {"pressure_over_permitted"}:
        # The bans of the morning, the heat of noon and the end of hours pull the start both ways.
        step = 30.0
        count = int(max(0.0, min(high, low + 360.0) - low) // step)
        found += [
            Remedy("start", f"start {situation.day.clock(low + step * number)}", _set(start_min=low + step * number))
            for number in range(count + 1)
            if abs(low + step * number - winner.start_min) >= step / 2
        ]
    return found


def _of_supply(situation: Situation, winner: Candidate, over: set[str]) -> list[Remedy]:
    found = []
    trucks = situation.sheet.trucks
    for more in (-1, 1, 2):
        count = winner.trucks_count + more
        if 1 <= count <= trucks.count_in_fleet:
            found.append(
                Remedy("trucks", f"{count} trucks in place of {winner.trucks_count}", _set(trucks_count=count))
            )
    wider = [interval for interval in intervals(situation, winner.load_m3, winner.rate_m3_per_h)]
    found += [
        Remedy("interval", f"call-off every {interval:g} min", _set(interval_min=interval))
        for interval in wider
        if interval != winner.interval_min
    ]
    if not situation.forms:
        rate, by_whom = _two_pumps(situation)
        found.append(
            Remedy(
                "pump",
                f"a second pump, {rate:g} m³/h by {by_whom}",
                lambda candidate: replace(
                    candidate,
                    pumps_count=2,
                    rate_m3_per_h=rate,
                    interval_min=max(0.5, round(2 * candidate.load_m3 / rate * 60) / 2),
                    trucks_count=min(trucks.count_in_fleet, candidate.trucks_count + 2),
                ),
            )
        )
    reserve = [plant for plant in situation.sheet.plant if plant.standby and plant.id not in winner.plants]
    for plant in reserve:
        if not plant.mixes or situation.pour.mix in plant.mixes:
            found.append(
                Remedy(
                    "plant",
                    f"reserve plant {plant.id} as well",
                    lambda candidate, name=plant.id: replace(  # type: ignore[misc]
                        candidate,
                        plants=(*candidate.plants, name),
                        trucks_count=min(trucks.count_in_fleet, candidate.trucks_count + 2),
                    ),
                )
            )
    return found


def _two_pumps(situation: Situation) -> tuple[float, str]:
    """Rate of two pumps, limited by gang and vibrators."""
    caps = [("two pumps", 2 * situation.pump.planned_output_m3_per_h)]
    caps += [(who, rate) for who, rate in situation.rate_caps() if not who.startswith("pump ")]
    who, rate = min(caps, key=lambda cap: cap[1])
    return rate, who


def _of_joints(situation: Situation, winner: Candidate) -> list[Remedy]:
    """Splits at agreed joints that lie between elements: the part placed first today, the rest another day."""
    found = []
    for joint in situation.sheet.joint:
        first = part_before(situation, winner, joint) if joint.agreed_emergency else ()
        if first:
            rest = [name for name in winner.order.element_order if name not in first]
            title = f"stop at the agreed joint {joint.id}: {', '.join(first)} today, {', '.join(rest)} another day"
            found.append(
                Remedy(
                    "joint",
                    title,
                    lambda candidate, names=first, name=joint.id: replace(  # type: ignore[misc]
                        candidate, joint=name, order=replace(candidate.order, element_order=names)
                    ),
                )
            )
    return found


def part_before(situation: Situation, winner: Candidate, joint: Joint) -> tuple[str, ...]:
    """Elements on the side of the joint that is placed first; empty where the joint cuts an element or divides nothing."""
    axis = 0 if joint.x_m is not None else 1
    at = joint.x_m if joint.x_m is not None else joint.y_m
    if at is None or set(situation.outlines) != {element.id for element in situation.elements}:
        return ()
    side = {}
    for name, outlines in situation.outlines.items():
        places = [point[axis] for outline in outlines for point in outline]
        if min(places) >= at - 1e-6:
            side[name] = 1
        elif max(places) <= at + 1e-6:
            side[name] = -1
        else:
            return ()
    if len(set(side.values())) < 2:
        return ()
    order = winner.order.element_order
    return tuple(name for name in order if side[name] == side[order[0]])


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
    worst = max(range(len(RISK_KEYS)), key=lambda number: sample.probabilities()[number] / max(limits[number], 1e-3))
    return f"{RISK_KEYS[worst].replace('_', ' ')} {percent(float(sample.probabilities()[worst]))}"
