"""Single loads: how old, how long on the road, in what order."""

import datetime as dt
import re
from bisect import bisect_right
from collections.abc import Mapping, Sequence

from wetfront.nouns.delivery import DeliveryRow, RowState
from wetfront.nouns.delivery_day import Age, WaterRatio

LITRES_OF_1_KG_WATER = 1.0
"""Water 1000 kg/m³, as in the mix reference (definition of the unit used)."""


def minutes(start: dt.datetime, end: dt.datetime) -> float:
    """Real minutes between two moments with offset."""
    return (end - start).total_seconds() / 60


def age_at_end(row: DeliveryRow) -> Age | None:
    """Age at the end of discharge; a lower bound where the batching time is missing; None where nothing tells it.

    The bound counts from the first later time on the ticket: the load was batched before that. Own rule.
    """
    end, ticket = row.load.discharge_end, row.load.ticket
    if end is None:
        return None
    if ticket.batched is not None:
        return Age(min=minutes(ticket.batched, end))
    first = ticket.left_plant or row.load.arrived or row.load.discharge_start
    return None if first is None else Age(min=minutes(first, end), at_least=True)


def road_min(row: DeliveryRow) -> float | None:
    """From leaving the plant to arriving."""
    left, arrived = row.load.ticket.left_plant, row.load.arrived
    return None if left is None or arrived is None else minutes(left, arrived)


def on_site_min(row: DeliveryRow) -> float | None:
    """From arriving to leaving the site."""
    return None if row.load.arrived is None or row.left_site is None else minutes(row.load.arrived, row.left_site)


def late(rows: Sequence[DeliveryRow], longest_road_min: Mapping[str, float]) -> tuple[str, ...]:
    """Tickets of loads that were on the road for longer than the plant's high travel time.

    `longest_road_min`: by plant; "" for a ticket that names none. A plant that is not in it is not judged.
    """
    found = []
    for row in rows:
        road, most = road_min(row), longest_road_min.get(row.load.ticket.plant)
        if road is not None and most is not None and road > most:
            found.append(row.number)
    return tuple(found)


def road_not_judged(rows: Sequence[DeliveryRow], longest_road_min: Mapping[str, float]) -> tuple[tuple[str, str], ...]:
    """(ticket, plant) of loads whose plant has no travel time to compare with; plant "" where the ticket names none."""
    plants = ((row.number, row.load.ticket.plant) for row in rows)
    return tuple((number, plant) for number, plant in plants if plant not in longest_road_min)


def out_of_order(rows: Sequence[DeliveryRow]) -> tuple[str, ...]:
    """The fewest tickets to leave out so that the others arrived in the order of their numbers.

    Numbers are compared as people count them: 9 before 10. Loads without arrival are left out of the comparison.
    """
    came = sorted((row for row in rows if row.load.arrived is not None), key=lambda row: (row.load.arrived, row.line))
    keys = [_counted(row.number) for row in came]
    kept = _longest_rising(keys)
    return tuple(row.number for place, row in enumerate(came) if place not in kept)


def _counted(number: str) -> tuple[tuple[int, int, str], ...]:
    parts = re.findall(r"\d+|\D+", number)
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts)


def _longest_rising(keys: Sequence[tuple[tuple[int, int, str], ...]]) -> set[int]:
    """Places of one longest run of keys that never falls."""
    ends: list[int] = []
    before: dict[int, int | None] = {}
    for place, key in enumerate(keys):
        at = bisect_right([keys[end] for end in ends], key)
        before[place] = ends[at - 1] if at else None
        ends[at:] = [place, *ends[at + 1 :]]
    kept: set[int] = set()
    place_or_none = ends[-1] if ends else None
    while place_or_none is not None:
        kept.add(place_or_none)
        place_or_none = before[place_or_none]
    return kept


def truck_clashes(rows: Sequence[DeliveryRow]) -> tuple[tuple[str, str, str], ...]:
    """Truck and two tickets that cannot both be right: loaded again before it had left the site. A slip of the pen."""
    found = []
    last: dict[str, DeliveryRow] = {}
    for row in sorted((row for row in rows if row.moments), key=lambda row: (row.moments[0], row.line)):
        truck = row.load.ticket.truck
        before = last.get(truck)
        if truck and before is not None and row.moments[0] < before.moments[-1]:
            found.append((truck, before.number, row.number))
        last[truck] = row
    return tuple(found)


def water_ratio(
    water_kg_per_m3: float, cement_kg_per_m3: float, added_l: float, load_m3: float, limit: float | None
) -> WaterRatio:
    """Water/cement ratio as designed and after water was added to the whole load on site.

    Source: definition, free water over cement; the added litres spread over the load as delivered.
    >>> found = water_ratio(172, 330, 20, 8, 0.55)
    >>> round(found.as_designed, 3), round(found.after_addition, 3)
    (0.521, 0.529)
    """
    after = water_kg_per_m3 + added_l / LITRES_OF_1_KG_WATER / load_m3
    return WaterRatio(
        as_designed=water_kg_per_m3 / cement_kg_per_m3, after_addition=after / cement_kg_per_m3, limit=limit
    )


def volumes(rows: Sequence[DeliveryRow]) -> tuple[float, float, float]:
    """Accepted, rejected and held m³. A number that stands there with two contents counts once, with the larger."""
    sums = {RowState.TAKEN: 0.0, RowState.REFUSED: 0.0}
    held: dict[str, float] = {}
    for row in rows:
        if row.state is RowState.HELD:
            held[row.number] = max(held.get(row.number, 0.0), row.volume_m3)
        else:
            sums[row.state] += row.volume_m3
    return sums[RowState.TAKEN], sums[RowState.REFUSED], sum(held.values())
