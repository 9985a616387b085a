"""Simulated pours whose course is hidden: the record that a site would keep of them, and what came of them."""

from dataclasses import replace

import numpy as np

import workloads
from wetfront.forecast.record import CallOff, Measured, Record, Recorded, Stood, Worked
from wetfront.placing.draws import SPARE_LOADS_COUNT, Draws, hashed_draws
from wetfront.placing.model import PourModel, Trace
from workloads import P1

MEASURED_AFTER_LOADS, MEASURED_SPREAD_M3 = (20, 30), 1.5


def hidden_pour(share: float = 0.3) -> PourModel:
    """P1 with wastage, loads called in steps, levels of the day, and names for its strips."""
    model = workloads.pour(P1, 1)
    names = tuple(f"strip {number + 1}" for number in range(len(model.finishing.strip_min)))
    return replace(
        model,
        finishing=replace(model.finishing, strip_names=names),
        day_share=share,
        site=replace(model.site, wastage=0.02, wastage_sd=0.01),
        supply=replace(model.supply, call_off_step_m3=0.5, smallest_load_m3=1.0),
    )


def draws_of(model: PourModel, seed: int, count: int) -> Draws:
    return hashed_draws(seed, count, P1.loads + SPARE_LOADS_COUNT, len(model.finishing.strip_min))


def record_at(model: PourModel, pour: Trace, now_min: float, remaining: tuple[Measured, ...] = ()) -> Record:
    """What a site has written down by then: arrivals with their tickets, discharges at their end, stops, finishing."""
    loads, found = pour.loads, []
    plants = [plant.name for plant in model.supply.plants]

    def until_now(moment):
        return float(moment) if moment <= now_min else np.nan

    for number in np.argsort(loads.arrival_min, kind="stable"):
        if loads.arrival_min[number] > now_min:
            continue
        refused = loads.refused[number] != 0
        start, end = loads.start_min[number], loads.end_min[number]
        found.append(
            Recorded(
                ticket=f"{number}",
                volume_m3=float(loads.volume_m3[number]),
                batching_min=float(loads.batching_min[number]),
                left_plant_min=float(loads.batched_min[number]),
                arrived_min=float(loads.arrival_min[number]),
                accepted_min=np.nan if refused else until_now(start),
                start_min=np.nan if refused else until_now(start),
                end_min=np.nan if refused else until_now(end),
                left_site_min=until_now(loads.left_min[number]),
                refused_min=until_now(start) if refused else np.nan,
                placed_m3=float(loads.used_m3[number]) if end <= now_min and not refused else 0.0,
                temperature_c=np.nan,
                cells=(),
                plant=plants[loads.plant[number]],
                truck=f"{plants[loads.plant[number]]} {loads.truck[number]}",
            )
        )
    stops = [
        Stood(begin, until_now(begin + lasted), True) for begin, lasted in sorted(pour.repairs) if begin <= now_min
    ]
    called: tuple[CallOff, ...] = ()
    known = tuple(each for each in remaining if each.at_min <= now_min)
    return Record(
        now_min=now_min,
        loads=tuple(found),
        stops=tuple(stops),
        measured=known,
        called=called,
        ended_min=np.nan,
        worked=tuple(
            Worked(model.finishing.strip_names[strip], float(pour.strip_start_min[strip]), until_now(end))
            for strip, end in enumerate(pour.strip_end_min.tolist())
            if pour.strip_start_min[strip] <= now_min
        ),
    )


def after_load(pour: Trace, count: int) -> float:
    """The moment at which so many loads have been placed."""
    ends = np.sort(pour.loads.end_min[pour.loads.refused == 0])
    return float(ends[min(count, len(ends)) - 1])


def needed_m3(model: PourModel, pour: Trace) -> float:
    """What the pump takes in the whole pour."""
    return float(pour.outcome.placed_m3[0]) + model.site.priming_m3 + model.site.line_content_m3


def measured_at(model: PourModel, pour: Trace, number: int) -> tuple[Measured, ...]:
    """What the site measures on the way, as wrong as it says that it may be."""
    noise = np.random.default_rng(number).standard_normal(len(MEASURED_AFTER_LOADS))
    found = []
    for loads, wrong in zip(MEASURED_AFTER_LOADS, noise.tolist(), strict=True):
        at = after_load(pour, loads) + 1e-6
        left = needed_m3(model, pour) - float(pour.loads.used_m3[pour.loads.end_min <= at].sum())
        found.append(Measured(at, max(0.0, left + MEASURED_SPREAD_M3 * wrong), MEASURED_SPREAD_M3))
    return tuple(found)


def two_plants() -> PourModel:
    """The same pour from two plants in turn, one of them farther away."""
    model = hidden_pour()
    near = replace(model.supply.plants[0], name="near", trucks_count=4)
    far = replace(
        near,
        name="far",
        haul_min=replace(near.haul_min, mean=near.haul_min.mean + 8),
        return_min=replace(near.return_min, mean=near.return_min.mean + 8),
    )
    return replace(model, supply=replace(model.supply, plants=(near, far), plant_of_load=(0, 1)))
