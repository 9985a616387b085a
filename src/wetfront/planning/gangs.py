"""Who is there at which hour: the gang of `crew`, or one of the sheet's other ways to man the pour."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wetfront.nouns.sheet import PourSheet
from wetfront.nouns.site import GangHours
from wetfront.placing.model import Floats
from wetfront.planning.day import Day

CREW = ""
"""Name of the gang as `crew` has it, all day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GangBlock:
    """The gang from one moment until the next block."""

    from_min: float
    """Minutes from local midnight; -inf for the first block."""
    until_min: float
    capacity_m3_per_h: float
    """Infinite where nothing is said: pump and vibrators decide."""
    finishing_crews_count: int
    works_through_breaks: bool
    price_cu_per_h: float
    share_finishing: float
    """Heads of finishers over all heads: their part of the gang's hourly price after placing (own rule)."""


def gang_blocks(sheet: PourSheet, day: Day, gang_id: str) -> tuple[GangBlock, ...]:
    """A gang by the hour, from long before the pour on; one block for the gang of `crew`."""
    hours = next((gang.hours for gang in sheet.choices.gang if gang.id == gang_id), ())
    begins = [-math.inf, *_begins(day, hours)]
    entries = [GangHours(from_local=sheet.hours[0].start_local), *hours]
    return tuple(
        _block(sheet, entry, begin, until)
        for entry, begin, until in zip(entries, begins, [*begins[1:], math.inf], strict=True)
    )


def _block(sheet: PourSheet, entry: GangHours, begin: float, until: float) -> GangBlock:
    """What an entry leaves out is as `crew` and `prices` say."""
    crew = sheet.crew
    capacity = entry.placing_capacity_m3_per_h or crew.placing_capacity_m3_per_h
    return GangBlock(
        from_min=begin,
        until_min=until,
        capacity_m3_per_h=math.inf if capacity is None else capacity,
        finishing_crews_count=entry.finishing_crews_count or crew.finishing_crews_count,
        works_through_breaks=entry.works_through_breaks,
        price_cu_per_h=sheet.prices.crew_cu_per_h if entry.price_cu_per_h is None else entry.price_cu_per_h,
        share_finishing=_share_finishing(crew.people if entry.people is None else entry.people),
    )


def _begins(day: Day, hours: Sequence[GangHours]) -> list[float]:
    """Moments of the entries: one before the hours open is in the night after, where the hours go on so long."""
    found: list[float] = []
    for entry in hours:
        at, night = day.wall(entry.from_local), day.in_hours(entry.from_local)
        found.append(night if night <= day.trowelling_until_min or (found and at <= found[-1]) else at)
    return found


def _share_finishing(people: Mapping[str, int]) -> float:
    heads = sum(people.values())
    return sum(count for role, count in people.items() if "finisher" in role) / heads if heads else 0.0


def gang_hours(blocks: Sequence[GangBlock], rate_m3_per_h: float) -> tuple[tuple[float, float], ...]:
    """The gang's rates by the hour for the simulator; none where it always follows this rate."""
    if all(block.capacity_m3_per_h >= rate_m3_per_h for block in blocks):
        return ()
    return tuple((block.from_min, block.capacity_m3_per_h) for block in blocks)


def crew_hours(blocks: Sequence[GangBlock], more: int) -> tuple[tuple[float, int], ...]:
    """Finishing crews by the hour for the simulator, so many more than the gang has; none where they never change."""
    counts = [max(1, block.finishing_crews_count + more) for block in blocks]
    if len(set(counts)) == 1:
        return ()
    return tuple((block.from_min, count) for block, count in zip(blocks[1:], counts[1:], strict=True))


def breaks_taken(blocks: Sequence[GangBlock], breaks: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """The planned breaks without those that begin while the gang works through."""
    covered = [(block.from_min, block.until_min) for block in blocks if block.works_through_breaks]
    return tuple(pause for pause in breaks if not any(begin <= pause[0] < until for begin, until in covered))


def gang_cost(blocks: Sequence[GangBlock], from_min: Floats | float, until_min: Floats, of_finishers: bool) -> Floats:
    """Price of the gang, or of its finishers alone, in each replication between two moments."""
    total: Floats = np.zeros(len(until_min))
    for block in blocks:
        hours = np.minimum(until_min, block.until_min) - np.maximum(from_min, block.from_min)
        share = block.share_finishing if of_finishers else 1.0
        total += np.maximum(hours, 0.0) / 60 * (block.price_cu_per_h * share)
    return total


def crews_beyond_cost(blocks: Sequence[GangBlock], more: int, from_min: float, until_min: Floats) -> Floats:
    """Price of so many finishing crews more, or less, in each replication, with the gang until finishing ends.

    A crew more costs what one of the hour's costs: the finishers' part of the gang's price over the crews (own rule).
    """
    total: Floats = np.zeros(len(until_min))
    for block in blocks:
        hours = np.maximum(np.minimum(until_min, block.until_min) - max(from_min, block.from_min), 0.0) / 60
        beyond = max(1, block.finishing_crews_count + more) - block.finishing_crews_count
        total += hours * (block.price_cu_per_h * block.share_finishing / block.finishing_crews_count * beyond)
    return total


def finishers_are_priced(blocks: Sequence[GangBlock]) -> bool:
    """Whether the sheet tells what a finishing crew costs: heads of finishers and the gang's price, in every hour."""
    return all(block.price_cu_per_h * block.share_finishing > 0 for block in blocks)
