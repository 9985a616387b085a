"""A simulated pour as far as it has come at some moment: what an all-seeing site would have written down."""

from dataclasses import replace

import numpy as np

from wetfront.placing.chance import Chance
from wetfront.placing.model import PourModel, Trace
from wetfront.placing.seen import Seen

NOT_SEEN = np.nan


def seen_at(model: PourModel, pour: Trace, now_min: float) -> Seen:
    """All loads whose batching has begun, each moment up to now, and the cells that are full or begun."""
    loads = pour.loads
    known = np.flatnonzero(loads.batching_min <= now_min)
    ended = loads.end_min[known] <= now_min

    def until_now(column):
        return np.where(column[known] <= now_min, column[known], NOT_SEEN)

    taken = [number for number in known[ended] if loads.refused[number] == 0]
    lead = model.site.priming_m3 + model.site.line_content_m3
    scale = scale_of(pour, model)
    # Cells count as seen with the end of the load that ends them.
    ends = lead + scale * np.cumsum(model.cells.volume_m3)
    position = float(loads.used_m3[taken].sum())
    full = int(np.searchsorted(ends, position + 1e-9, side="right"))
    begun = full < len(ends) and (ends[full - 1] if full else lead) < position - 1e-9
    owned = full + int(begun)
    return Seen(
        now_min=now_min,
        batching_min=loads.batching_min[known],
        batched_min=until_now(loads.batched_min),
        reached_min=until_now(loads.arrival_min),
        start_min=until_now(loads.start_min),
        end_min=until_now(loads.end_min),
        left_min=np.full(len(known), NOT_SEEN),
        volume_m3=loads.volume_m3[known],
        used_m3=np.where(ended, loads.used_m3[known], 0.0),
        refused=np.where(ended, loads.refused[known], 0),
        temperature_c=np.where(ended, loads.temperature_c[known], NOT_SEEN),
        placed_min=pour.cell_placed_min[:full],
        cell_load=pour.cell_load[:owned],
        begun_min=pour.cell_placed_min[:owned] - 0.5,
        rest_of_cell_m3=float((ends[full] - position) / scale) if begun else 0.0,
    )


def scale_of(pour: Trace, model: PourModel) -> float:
    """Gross over net volume in this replication."""
    placed = float(pour.outcome.placed_m3[0])
    return placed / float(model.cells.volume_m3.sum())


def with_stops_seen(pour: Trace, chance: Chance, now_min: float) -> Chance:
    """The breakdowns that are still to come: pumping counts from the begin of the load that is on the pump."""
    loads = pour.loads
    ended = (loads.end_min <= now_min) & (loads.refused == 0)
    stops = [start for start, _ in pour.repairs]
    passed = sum(any(loads.start_min[k] <= stop <= loads.end_min[k] for k in np.flatnonzero(ended)) for stop in stops)
    pumped = 0.0
    lost = pour.repairs[:passed]
    for number in np.flatnonzero(ended):
        pumped += loads.end_min[number] - loads.start_min[number]
    pumped -= sum(duration for _, duration in lost)
    up = chance.up_min[:, passed:].copy()
    up[:, 0] -= pumped - chance.up_min[0, :passed].sum()
    repair = chance.repair_min[:, passed:]
    pad = np.full((len(up), passed), 1e9)
    return replace(chance, up_min=np.hstack([up, pad]), repair_min=np.hstack([repair, np.ones_like(pad)]))
