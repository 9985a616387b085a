"""A pour split at an agreed joint into two days: each part is a pour of its own, compared with the whole in one go.

Both parts are planned on the day of the whole: the rest is placed another day, on "a day like this". Each part has to
keep every limit by itself; what the split costs is both parts and the second day.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

from wetfront.nouns.plan import OpenedDecision
from wetfront.nouns.sheet import Joint, Pour, PourSheet
from wetfront.planning.cut_short import search_or_best_so_far
from wetfront.planning.race import BENEFIT_OF_DOUBT, Rounds, Sample, violation
from wetfront.planning.search import Bench, Found
from wetfront.planning.situation import Situation, situation_of
from wetfront.planning.words import decision_words, money, over_words

IN_ONE_GO = "in one go"


def parts_at(
    situation: Situation, joint: Joint, element_order: Sequence[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Elements before and behind a joint, the side that the order begins with first.

    Both are empty where the joint cuts an element or divides nothing.
    """
    axis = 0 if joint.x_m is not None else 1
    at = joint.x_m if joint.x_m is not None else joint.y_m
    if at is None or set(situation.outlines) != {element.id for element in situation.elements}:
        return (), ()
    side = {}
    for name, outlines in situation.outlines.items():
        places = [point[axis] for outline in outlines for point in outline]
        if min(places) >= at - 1e-6:
            side[name] = 1
        elif max(places) <= at + 1e-6:
            side[name] = -1
        else:
            return (), ()
    if len(set(side.values())) < 2:
        return (), ()
    first = tuple(name for name in element_order if side[name] == side[element_order[0]])
    return first, tuple(name for name in element_order if name not in first)


def part_of(situation: Situation, joint: str, elements: Sequence[str]) -> Situation:
    """The situation of a part as a pour of its own, with its share of the sheet's measured extras."""
    sheet, part = split_sheet(situation.sheet, situation.pour, elements)
    return replace(situation_of(sheet, part, situation.day, situation.weather), split_at=joint)


def split_sheet(sheet: PourSheet, pour: Pour, elements: Sequence[str]) -> tuple[PourSheet, Pour]:
    """The sheet with a pour in two, and the part that has these elements, by its title too; both keep the pour's id."""
    rest = tuple(name for name in pour.elements if name not in elements)
    kept = tuple(name for name in pour.elements if name in elements)
    part = replace(pour, elements=kept, title=f"{pour.title}: only {', '.join(kept)}")
    others = [other for other in sheet.pour if other.id != pour.id]
    return replace(sheet, pour=(*others, part, replace(pour, elements=rest))), part


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """A pour in two parts, each with what its search found; the first is placed on the day of the whole."""

    joint: str
    parts: tuple[Found, Found]

    @property
    def over(self) -> float:
        """By how much the limits are broken, added up over both parts."""
        return sum(violation(found.sample, found.limits) for found in self.parts)

    @property
    def cost_cu(self) -> float:
        """Of both parts and the second day."""
        second_day = self.parts[0].bench.situation.sheet.prices.split_cu
        return sum(float(found.sample.cost.mean()) for found in self.parts) + second_day


@dataclass(frozen=True, slots=True, eq=False)
class Splits:
    """The whole pour beside its splits."""

    whole: Found
    tried: tuple[Split, ...]
    chosen: Split | None
    """None: in one go."""
    cut_short: str = ""


def search_splits(whole: Found, bench_of: Callable[[Situation], Bench], final_rounds: Rounds) -> Splits:
    """Search both parts of every split that the sheet opens and the pour allows, and choose.

    A search that is cut short ends it with the whole pour: a part that was not searched to its end proves nothing.
    """
    situation = whole.bench.situation
    tried: list[Split] = []
    for joint in situation.sheet.joint:
        sides = parts_at(situation, joint, whole.winner.order.element_order)
        if joint.id not in situation.sheet.choices.splits or not all(sides):
            continue
        found = []
        for elements in sides:
            part = part_of(situation, joint.id, elements)
            result = search_or_best_so_far(part, bench_of(part), final_rounds)
            if result is not None and result.cut_short:
                return Splits(whole, tuple(tried), None, result.cut_short)
            found += [result] if result is not None else []
        if len(found) == len(sides):
            tried.append(Split(joint.id, (found[0], found[1])))
    return Splits(whole, tuple(tried), _chosen(whole, tried))


def _chosen(whole: Found, tried: Sequence[Split]) -> Split | None:
    """The best split where it keeps more limits than the whole, or is cheaper beyond doubt (own rule, as for days)."""
    over = violation(whole.sample, whole.limits)
    best = min(tried, key=lambda split: (round(split.over, 9), split.cost_cu), default=None)
    if best is None or round(best.over, 9) > round(over, 9):
        return None
    if round(best.over, 9) < round(over, 9):
        return best
    dearer, error = dearer_than_whole(whole, best)
    return best if -dearer > BENEFIT_OF_DOUBT * error else None


def dearer_than_whole(whole: Found, split: Split) -> tuple[float, float]:
    """By how much dearer the split is than the whole, with its standard error: three pours on days of their own."""
    variances = [_variance_of_mean(found.sample) for found in (whole, *split.parts)]
    return split.cost_cu - float(whole.sample.cost.mean()), math.sqrt(sum(variances))


def _variance_of_mean(sample: Sample) -> float:
    return float(sample.cost.var(ddof=1)) / sample.count if sample.count > 1 else 0.0


def split_reason(splits: Splits) -> str:
    """Why the pour is split, and what the rest will be; empty where it is not."""
    split, whole = splits.chosen, splits.whole
    if split is None:
        return ""
    rest = split.parts[1]
    currency = whole.bench.situation.sheet.project.currency
    named = [", ".join(found.winner.order.element_order) for found in split.parts]
    over = over_words(rest.sample, rest.limits)
    standing = f"breaks a limit by itself: {over}" if over else "keeps every limit by itself on a day like this"
    return (
        f"split at the agreed joint {split.joint}: {named[0]} today, {named[1]} another day; "
        f"{_beside(whole, split)}; the rest {standing}: {decision_words(rest.bench.situation, rest.winner)}, "
        f"{money(float(rest.sample.cost.mean()), currency)}"
    )


def split_measure(split: Split) -> str:
    """What a split needs before the first truck."""
    rest = ", ".join(split.parts[1].winner.order.element_order)
    return (
        f"stop end at joint {split.joint} made and released before the first truck; {rest}: a pour of its own, to be "
        "planned on its day"
    )


def split_opened(splits: Splits) -> tuple[OpenedDecision, ...]:
    """The decision for the plan, joints that divide nothing of this pour as well; none where the sheet opens none."""
    situation = splits.whole.bench.situation
    impossible = _dividing_nothing(situation, splits.whole.winner.order.element_order)
    if not splits.tried and not impossible:
        return ()
    said = {split.joint: f"split at joint {split.joint}" for split in splits.tried}
    others = [split for split in splits.tried if split is not splits.chosen]
    why = [f"{said[split.joint]}: {_standing(splits.whole, split)}" for split in others]
    why += [f"split at joint {joint}: not possible, it does not lie between elements" for joint in impossible]
    if splits.tried and situation.sheet.prices.split_cu == 0:
        why.append("prices.split_cu is 0: stop end, joint and setting up again cost nothing here")
    if splits.chosen is not None:
        over = over_words(splits.whole.sample, splits.whole.limits)
        dearer, error = dearer_than_whole(splits.whole, splits.chosen)
        why.insert(0, f"{IN_ONE_GO}: {_price(splits.whole, -dearer, error)}{f', but {over}' if over else ''}")
    return (
        OpenedDecision(
            key="choices.splits",
            title="split",
            values=(IN_ONE_GO, *said.values()),
            chosen=IN_ONE_GO if splits.chosen is None else said[splits.chosen.joint],
            why=tuple(why),
        ),
    )


def _dividing_nothing(situation: Situation, element_order: Sequence[str]) -> tuple[str, ...]:
    """Joints that the sheet opens, on which this pour cannot be split."""
    opened = [joint for joint in situation.sheet.joint if joint.id in situation.sheet.choices.splits]
    return tuple(joint.id for joint in opened if not all(parts_at(situation, joint, element_order)))


def _standing(whole: Found, split: Split) -> str:
    price = _price(whole, *dearer_than_whole(whole, split))
    over = [
        f"{', '.join(found.winner.order.element_order)}: {words}"
        for found in split.parts
        if (words := over_words(found.sample, found.limits))
    ]
    return f"{price}, but {'; '.join(over)}" if over else price


def _beside(whole: Found, split: Split) -> str:
    """The split against the whole: cost, the chance that it is the cheaper way, and the loss if it is not."""
    dearer, error = dearer_than_whole(whole, split)
    currency = whole.bench.situation.sheet.project.currency
    price = f"with the second day {_price(whole, dearer, error)} than in one go"
    over = over_words(whole.sample, whole.limits)
    if over:
        return f"{price}, which breaks a limit: {over}"
    chance, loss = _confidence(-dearer, error)
    return f"{price}; cheaper with a chance of {100 * chance:.0f} %, expected loss if not {money(loss, currency)}"


def _confidence(saved: float, error: float) -> tuple[float, float]:
    """Chance that the mean saving is above 0, and the expected loss where it is not."""
    if error == 0:
        return float(saved > 0), max(0.0, -saved)
    normal, z = NormalDist(), saved / error
    return normal.cdf(z), error * normal.pdf(z) - saved * normal.cdf(-z)


def _price(whole: Found, dearer: float, error: float) -> str:
    currency = whole.bench.situation.sheet.project.currency
    word = "dearer" if dearer >= 0 else "cheaper"
    return f"{money(abs(dearer), currency)} {word} (± {money(error, currency)})"
