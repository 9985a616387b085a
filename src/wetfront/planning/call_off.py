"""The call-off table for the supplier: a calm day at usual times, with samples and the balance load marked."""

from dataclasses import replace

import numpy as np

from wetfront.acceptance import SamplingPlan, sampling_plan
from wetfront.nouns.plan import CalledLoad
from wetfront.nouns.sheet import PourSheet, Sampling
from wetfront.placing.draws import SPARE_LOADS_COUNT, Draws
from wetfront.placing.model import LoadTable, PourModel, Trace
from wetfront.placing.simulate import trace
from wetfront.planning.situation import Situation
from wetfront.planning.steps import Steps
from wetfront.proving.sampling import samples_aci_318, samples_is_456

NEVER = 1e9
_GUARD_M3 = 1e-6
FIRST_LOADS_TESTED = 3


def calm_trace(model: PourModel, loads_count: int) -> Trace:
    """The pour with every time as usual, no breakdown, mean wastage: what is written down for the supplier."""
    width = loads_count + SPARE_LOADS_COUNT
    loads, stops, strips = (1, width), (1, 64), (1, len(model.finishing.strip_min))
    draws = Draws(
        batching_z=np.zeros(loads),
        haul_z=np.zeros(loads),
        return_z=np.zeros(loads),
        speed_z=np.zeros(loads),
        set_z=np.zeros(loads),
        temperature_z=np.zeros(loads),
        consistence_u=np.ones(loads),
        up_e=np.full(stops, NEVER),
        repair_z=np.zeros(stops),
        finishing_z=np.zeros(strips),
        wastage_z=np.zeros((1, 1)),
        day_z=np.zeros((1, 6)),
    )
    even = replace(
        model,
        site=replace(model.site, speed=replace(model.site.speed, cv=0.0)),
        acceptance=replace(model.acceptance, consistence_refusal_probability=0.0),
    )
    return trace(even, draws, 0)


def planned_samples(sheet: PourSheet, order_m3: float, top_area_m2: float, loads_count: int, seed: int) -> SamplingPlan:
    """The samples of a pour with the loads drawn for them: by specification or rule book, whichever asks for more."""
    book = sheet.specification.rule_book
    by_book = None
    if book == "aci":
        by_book = samples_aci_318(order_m3, top_area_m2, 1)
    elif book == "is":
        by_book = samples_is_456(order_m3)
    return sampling_plan(
        sheet.sampling,
        order_m3,
        loads_count,
        seed,
        book_count=0 if by_book is None else by_book.samples_count,
        book_says="" if by_book is None else by_book.counted[0][0].citation,
    )


def specimens_count(sampling: Sampling, samples_count: int) -> int:
    """Specimens with the spare ones of the specification."""
    return samples_count * sampling.specimens_per_sample_count + sampling.spare_specimens_count


def called_loads(
    situation: Situation, model: PourModel, calm: Trace, steps: Steps, seed: int
) -> tuple[CalledLoad, ...]:
    """One row a load."""
    table, day = calm.loads, situation.day
    count = len(table.volume_m3)
    area_m2 = situation.volumes.quantities.top_area_m2
    drawn = planned_samples(situation.sheet, situation.order_m3, area_m2, count, seed).drawn
    return tuple(
        CalledLoad(
            number=load + 1,
            plant=model.supply.plants[int(table.plant[load])].name,
            batch=day.moment(float(table.batching_min[load])),
            on_site=day.moment(float(table.arrival_min[load])),
            discharge=day.moment(float(table.start_min[load])),
            volume_m3=float(table.volume_m3[load]),
            goes_to=_goes_to(model, table, load, steps),
            sample=load + 1 in drawn,
            note=_note(situation, table, load),
        )
        for load in range(count)
    )


def balance_words(situation: Situation, calm: Trace) -> str:
    """When to measure and to call the last load."""
    table, day = calm.loads, situation.day
    last = len(table.volume_m3) - 1
    call = float(table.batching_min[last])
    if last == 0:
        return f"one load: measure forms and sub-base before calling it, by {day.clock(call)}"
    done = [load for load in range(last) if table.end_min[load] <= call - 10.0]
    if not done:
        return f"the last load has to be called by {day.clock(call)}, before any is placed: measure before the start"
    measured = done[-1]
    if situation.sheet.site_mixer is not None:
        return (
            f"measure what is left after batch {measured + 1} (about {day.clock(float(table.end_min[measured]))}) and "
            "mix only what is missing"
        )
    return (
        f"measure what is left after load {measured + 1} (about {day.clock(float(table.end_min[measured]))}) and call "
        f"the balance load by {day.clock(call)}"
    )


def _goes_to(model: PourModel, table: LoadTable, load: int, steps: Steps) -> str:
    """Names of the steps that this load's concrete reaches, in order."""
    net = float(model.cells.volume_m3.sum())
    scale = 1.0 + model.site.wastage
    lead = model.site.priming_m3 + model.site.line_content_m3
    ends = lead + scale * np.cumsum(model.cells.volume_m3)
    begins = np.concatenate([[lead], ends[:-1]])
    low = float(table.stream_from_m3[load])
    high = low + float(table.used_m3[load])
    cells = np.flatnonzero((ends > low + _GUARD_M3) & (begins < high - _GUARD_M3))
    if not len(cells) or net <= 0:
        return "line"
    return ", ".join(dict.fromkeys(steps.names[step] for step in steps.of_cell[cells].tolist()))


def _note(situation: Situation, table: LoadTable, load: int) -> str:
    notes = []
    if load < FIRST_LOADS_TESTED:
        notes.append("slump and temperature before discharge")
    if load == len(table.volume_m3) - 1:
        notes.append("balance load: size by measuring")
    held = float(table.arrival_min[load]) - float(table.reached_min[load])
    if held > 1.0:
        notes.append(f"waits {held:.0f} min outside: no arrival allowed")
    if load > 0:
        gap = float(table.batching_min[load] - table.batching_min[load - 1])
        usual = float(np.median(np.diff(table.batching_min)))
        if gap > usual + 10.0:
            notes.append(f"{gap:.0f} min after the load before")
    return "; ".join(notes)
