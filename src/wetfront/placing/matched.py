"""A call-off that follows the pump: each load is due so that it arrives when the pump is expected to be free for it."""

from math import floor, inf

from wetfront.placing.model import PourModel
from wetfront.placing.stream import VOLUME_GUARD_M3, Stream, plan_stream
from wetfront.placing.times import after_intervals, pumping_min


def matched_due_min(
    model: PourModel, first_start_min: float, stretch: float, way_min: tuple[float, ...]
) -> tuple[float, ...]:
    """When each load is due to be batched [min], by our own rule.

    The first load is expected at the pump at `first_start_min`. Each is placed at the cells' own rates or the gang's of
    the hour, with its moves and the mean wastage, without breakdowns; all of that `stretch` times as long, since chance
    makes a pour slower than its means, or trucks more punctual. The next one is expected when the pump could take it:
    after a break that is due by then, outside weather stops, its arrival in no delivery ban. Each is batched `way_min`
    before it is expected, by plant: batching, haul and positioning; whole minutes after the first, as a table says it.
    """
    supply, site = model.supply, model.site
    stream = Stream(plan_stream(model), 1.0 + max(0.0, site.wastage))
    moves = stream.plan.moves_until
    breaks = list(reversed(site.breaks))
    due: list[float] = []
    expected, position, work_done, begun = first_start_min, 0.0, 0.0, 0
    while stream.total_m3 - position > VOLUME_GUARD_M3:
        plant = supply.plant_of(len(due))
        due.append(max(expected - way_min[plant], due[-1] if due else -inf))
        used = min(supply.load_m3, stream.total_m3 - position)
        position += used
        work, now = stream.work_until_min(position), stream.cells_begun(position)
        pumping = pumping_min(site, expected, used, work - work_done, 1.0)
        free = expected + stretch * (pumping + moves[now] - moves[begun])
        work_done, begun = work, now
        expected = after_intervals(free, site.weather_stops)
        while breaks and expected >= breaks[-1][0]:
            planned, duration = breaks.pop()
            expected = after_intervals(max(planned, free) + duration, site.weather_stops)
        expected = after_intervals(expected - site.position_min, supply.bans) + site.position_min
    return tuple(due[0] + floor(time - due[0] + 0.5) for time in due)
