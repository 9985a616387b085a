"""What a person should see first of a day's deliveries, in sentences, the worst first."""

from collections.abc import Iterator

from wetfront.nouns.delivery import Reading, RowState
from wetfront.nouns.delivery_day import DeliveryDay, EdgeWait, Finding, LoadOfDay, Stop

NEAR_LIMIT_MIN = 15.0
"""Own rule, as for a load still on the road: from here on an age is near its limit."""


def findings_of(day: DeliveryDay, reading: Reading, currency: str) -> tuple[Finding, ...]:
    """All findings of the day, worst first; within a rank in the order in which things happened."""
    found = [
        *_rows(day, reading),
        *_verdicts(day),
        *_remembered(day),
        *_edges(day),
        *_water(day),
        *_ages(day),
        *_stops(day, currency),
        *_refused(day, currency),
        *_queue(day, currency),
        *_arrivals(day),
        *_sampling(day),
    ]
    return tuple(sorted(found, key=lambda each: each.rank))


def _rows(day: DeliveryDay, reading: Reading) -> Iterator[Finding]:
    wrong = reading.count(RowState.IN_ERROR)
    if wrong:
        text = (
            f"{_counted(wrong, 'row')} in error and counted nowhere: put {'it' if wrong == 1 else 'them'} right first"
        )
        yield Finding(rank=1, about="rows", text=text)
    told: set[str] = set()
    for load in day.loads:
        if load.state is RowState.HELD and load.ticket_number not in told:
            told.add(load.ticket_number)
            why = next((row.reason for row in reading.rows if row.line == load.line), "")
            text = f"{load.ticket_number} held: {why}; a person must decide"
            yield Finding(rank=1, about="held", text=text, tickets=(load.ticket_number,))


def _verdicts(day: DeliveryDay) -> Iterator[Finding]:
    """Where limits and site say different things about a load, and what the limits say of one that is held."""
    for load in day.loads:
        if not load.differs:
            continue
        number, rank = load.ticket_number, 2 if load.decision == "accept" else 5
        text = f"{number} {load.in_words}"
        if load.verdict_reasons:
            more = len(load.verdict_reasons) - 1
            text += f": {load.verdict_reasons[0]}{f' (and {more} more)' if more else ''}"
        yield Finding(rank=rank, about="differs", text=text, tickets=(number,))


def _remembered(day: DeliveryDay) -> Iterator[Finding]:
    tickets = tuple(load.ticket_number for load in day.loads if load.rests_on_memory)
    if tickets:
        text = f"by remembered limit, check the standard: the verdicts on {_counted(len(tickets), 'load')}"
        yield Finding(rank=4, about="limits", text=text, tickets=tickets)


def _edges(day: DeliveryDay) -> Iterator[Finding]:
    over_set = [edge for edge in day.edges if edge.within_set is False]
    over = [edge for edge in day.edges if edge.within_limit is False and edge.within_set is not False]
    for edge in over_set:
        text = (
            f"edge {edge.name}: its oldest concrete was {edge.age_when_covered_min:.0f} min old when covered, past its "
            f"initial set at about {edge.initial_set_min:.0f} min: a cold joint is likely, show it to the designer"
        )
        yield Finding(rank=2, about="edges", text=text)
    if over:
        listed = "; ".join(_edge_words(edge) for edge in over)
        sets = [edge for edge in over if edge.within_set]
        within = " Not past initial set" if len(sets) == len(over) else ""
        after = (
            f".{within}: a departure to record and show to the designer, not by itself a cold joint"
            if within
            else ". A departure to record and show to the designer"
        )
        yield Finding(rank=3, about="edges", text=f"over the specification: {listed}{after}")


def _edge_words(edge: EdgeWait) -> str:
    if edge.temperature_c is None:
        warm = "no temperature measured"
    else:
        warm = f"{edge.temperature_c:g} °C, {edge.temperature_from}"
    return f"{edge.name} {edge.longest_min:.0f} of {edge.limit_min:g} min ({warm})"


def _water(day: DeliveryDay) -> Iterator[Finding]:
    for load in day.loads:
        ratio, number = load.water_ratio, load.ticket_number
        if ratio is None:
            continue
        limit = "no limit in the sheet" if ratio.limit is None else f"limit {ratio.limit:.2f}"
        over = ratio.limit is not None and ratio.after_addition > ratio.limit + 1e-9
        text = (
            f"{number}: {load.water_added_l:g} l of water added on site to {load.volume_m3:g} m³: w/c "
            f"{ratio.as_designed:.3f} to {ratio.after_addition:.3f}, {limit}; {_slumps(load)}{_agreed(load)}"
        )
        if load.sample_id:
            text += f"; sample {load.sample_id} is of this load"
        yield Finding(rank=2 if over else 4, about="water", text=text, tickets=(number,))
    for load in day.loads:
        if load.admixture_added_l:
            added = f"{load.admixture_added_l:g} l of admixture added on site"
            text = f"{load.ticket_number}: {added}; {_slumps(load)}{_agreed(load)}"
            yield Finding(rank=7, about="admixture", text=text, tickets=(load.ticket_number,))


def _agreed(load: LoadOfDay) -> str:
    return f"; agreed by {load.addition_agreed_by} (day log)" if load.addition_agreed_by else ""


def _slumps(load: LoadOfDay) -> str:
    if load.slump_mm is None:
        return "no slump before it"
    if load.slump_retest_mm is None:
        return f"slump {load.slump_mm:g} mm before, none after"
    return f"slump {load.slump_mm:g}, then {load.slump_retest_mm:g} mm"


def _ages(day: DeliveryDay) -> Iterator[Finding]:
    if day.oldest_age_min is not None:
        over = day.oldest_age_min > day.age_limit_min + 1e-9
        near = day.oldest_age_min > day.age_limit_min - NEAR_LIMIT_MIN
        text = (
            f"oldest at the end of discharge: {_listed(day.oldest)}, {day.oldest_age_min:.0f} min of "
            f"{day.age_limit_min:g} ({day.age_limit_from})"
        )
        yield Finding(rank=2 if over else 6 if near else 9, about="age", text=text, tickets=day.oldest)
    for load in day.loads:
        if load.age is not None and load.age.at_least and not load.differs:
            over = load.age.min > day.age_limit_min + 1e-9
            text = (
                f"{load.ticket_number}: batching time missing, at least {load.age.min:.0f} min old at the end of "
                f"discharge, limit {day.age_limit_min:g}"
            )
            yield Finding(rank=2 if over else 4, about="age", text=text, tickets=(load.ticket_number,))


def _stops(day: DeliveryDay, currency: str) -> Iterator[Finding]:
    for stop in day.stops:
        yield Finding(rank=5, about="stop", text=stop_words(stop, currency), tickets=stop.tickets)


def stop_words(stop: Stop, currency: str) -> str:
    """One stop in a sentence."""
    times = f"{stop.start:%H:%M} to {stop.end:%H:%M}"
    when = f"{times}, {stop.gap_min:.0f} min" if stop.exact else f"about {stop.gap_min:.0f} min between {times}"
    cost = f"; pump and crew idle: {stop.cost_cu:.0f} {currency}" if stop.cost_cu else ""
    return f"nothing placed {when}: {stop.kind.value} {_listed(stop.tickets)}{cost}"


def _refused(day: DeliveryDay, currency: str) -> Iterator[Finding]:
    refused = [load for load in day.loads if load.state is RowState.REFUSED]
    if not refused:
        return
    parts = []
    for load in refused:
        agrees = "the limits say otherwise" if load.differs else "the limits say the same"
        slumps = [f"{each:g}" for each in (load.slump_mm, load.slump_retest_mm) if each is not None]
        slump = f"slump {' and '.join(slumps)} mm; " if slumps else ""
        parts.append(f"{load.ticket_number} ({slump}{agrees})")
    cost = f"; {day.volumes.rejected_cu:.0f} {currency}" if day.volumes.rejected_cu else ""
    text = f"{', '.join(parts)}, {day.volumes.rejected_m3:g} m³{cost}"
    yield Finding(rank=6, about="sent back", text=text, tickets=tuple(load.ticket_number for load in refused))


def _queue(day: DeliveryDay, currency: str) -> Iterator[Finding]:
    queue = day.queue
    if queue.most_from is not None and queue.most_until is not None:
        over = queue.most_waiting > queue.waiting_places
        text = (
            f"most trucks on site at once: {queue.most_on_site} ({queue.most_from:%H:%M} to {queue.most_until:%H:%M}); "
            f"most waiting {queue.most_waiting}, places {queue.waiting_places}"
        )
        if over:
            text += f", too many for {queue.over_places_min:.0f} min"
        yield Finding(rank=6 if over else 9, about="queue", text=text)
    if queue.waiting_min:
        text = f"waiting beyond {queue.free_min:g} free min a load: {queue.waiting_min:.0f} min"
        text += f", {queue.waiting_cu:.0f} {currency}" if queue.waiting_cu else ""
        yield Finding(rank=7, about="waiting", text=text)


def _arrivals(day: DeliveryDay) -> Iterator[Finding]:
    for load in day.loads:
        if load.ticket_number in day.late:
            text = f"{load.ticket_number} late: {load.on_the_road_min:.0f} min on the road"
            yield Finding(rank=6, about="late", text=text, tickets=(load.ticket_number,))
    for plant in dict.fromkeys(plant for _, plant in day.road_not_judged):
        tickets = tuple(number for number, named in day.road_not_judged if named == plant)
        which = f"plant {plant!r} is not in the sheet" if plant else "no plant named, several supply"
        text = f"{which}: {_listed(tickets)}; whether late on the road is not judged"
        yield Finding(rank=4 if plant else 8, about="plant", text=text, tickets=tickets)
    if day.in_ban:
        text = f"arrived while the sheet lets no truck arrive: {_listed(day.in_ban)}"
        yield Finding(rank=5, about="ban", text=text, tickets=day.in_ban)
    for truck, earlier, later in day.truck_clashes:
        text = f"{truck} is on {later} before it has left the site with {earlier}: one of the tickets is wrong"
        yield Finding(rank=3, about="trucks", text=text, tickets=(earlier, later))
    if day.out_of_order:
        text = f"arrived out of the order of their tickets: {_listed(day.out_of_order)}"
        yield Finding(rank=8, about="order", text=text, tickets=day.out_of_order)


def _sampling(day: DeliveryDay) -> Iterator[Finding]:
    check = day.sampling
    short = len(check.taken) < check.needed_count
    text = f"{_counted(len(check.taken), 'sample')} of {check.needed_count} ({check.rule})"
    if check.missing:
        text += f"; without one: {_listed(check.missing)}"
    yield Finding(rank=5 if short else 8 if check.missing else 10, about="samples", text=text)


def _listed(names: tuple[str, ...]) -> str:
    if len(names) > 8:
        return f"{', '.join(names[:8])} and {len(names) - 8} more"
    return ", ".join(names)


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"
