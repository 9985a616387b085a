"""The pour simulator, plain and readable: what a compiled core is held against."""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import fields
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.placing.chance import Chance, chance_of
from wetfront.placing.check import check_model
from wetfront.placing.draws import Draws
from wetfront.placing.front import (
    Clock,
    Finished,
    Front,
    finish,
    front_of,
    highest_evaporation,
    highest_rise,
    joint_due,
    joint_margins,
    least_by_edge,
)
from wetfront.placing.loads import (
    ACCEPTED,
    TOO_OLD,
    WRONG_CONSISTENCE,
    WRONG_TEMPERATURE,
    Load,
    LoadLog,
    LoadRun,
    Repair,
)
from wetfront.placing.model import Ints, LoadTable, PourModel, Replications, Trace
from wetfront.placing.stream import Stream, plan_stream
from wetfront.placing.times import AirTable

Floats = NDArray[np.float64]
Row = dict[str, float | Floats]
"""One replication's outcome by the names of `Replications`."""


def simulate(model: PourModel, draws: Draws | Chance, replications: slice | None = None) -> Replications:
    """The outcome of each replication in the table of draws, or of some of them; or of the minutes that they mean.

    A replication depends only on its own row of draws: any split into parts gives the same numbers.
    Errors: `InvalidInput` for a model that contradicts itself or a table of draws without the columns that it needs,
    `OutOfRange` where a pour runs beyond the tables of clock, air or draws.
    """
    draws = draws if replications is None else draws.part(replications)
    check_model(model, draws)
    rows = list(_outcomes(model, draws))
    return _as_table(rows) if rows else blank(model, 0)


def _outcomes(model: PourModel, draws: Draws | Chance) -> Iterator[Row]:
    """Replication by replication, each in its own weather."""
    if model.members is None:
        desk = _Desk(model, draws)
        yield from (desk.outcome(*desk.run(replication)) for replication in range(draws.count))
        return
    for replication in range(draws.count):
        desk = _desk_of_one(model, draws, replication)
        yield desk.outcome(*desk.run(0))


def _desk_of_one(model: PourModel, draws: Draws | Chance, replication: int) -> "_Desk":
    """A desk for one row of the draws, in the weather that it meets."""
    met = model.met_by(draws.first_replication + replication)
    return _Desk(met, draws.part(slice(replication, replication + 1)))


def trace(model: PourModel, draws: Draws | Chance, replication: int) -> Trace:
    """One replication in full: loads, cells, joints, finishing."""
    check_model(model, draws)
    desk = _desk_of_one(model, draws, replication)
    model = desk.model
    log, front, finished = desk.run(0)
    by_clock, by_minutes = joint_margins(model.concrete, model.joints, front)
    return Trace(
        loads=_load_table(log.loads),
        repairs=tuple((_repair_start(log, repair), repair.duration_min) for repair in log.repairs),
        breaks_taken=tuple(log.breaks_taken),
        cell_placed_min=front.placed_min,
        cell_load=front.load,
        joint_set_margin_min=by_clock,
        joint_specified_margin_min=by_minutes,
        joint_due_min=joint_due(model.concrete, model.joints, front, desk.clock),
        strip_ready_min=finished.ready_min,
        strip_start_min=finished.start_min,
        strip_end_min=finished.end_min,
        strip_late=finished.late,
        outcome=_as_table([desk.outcome(log, front, finished)]),
    )


def joined(parts: list[Replications]) -> Replications:
    """The replications of several parts, one after the other."""
    return Replications(
        **{
            column.name: np.concatenate([getattr(part, column.name) for part in parts])
            for column in fields(Replications)
        }
    )


class _Desk:
    """A model and its draws, with what all replications share."""

    def __init__(self, model: PourModel, draws: Draws | Chance):
        self.model = model
        self.plan = plan_stream(model)
        self.chance = draws if isinstance(draws, Chance) else chance_of(model, draws)
        self.clock = Clock(model.concrete)
        self.air_c = AirTable(model.concrete.air_temperature_c.tolist(), model.concrete.clock_step_min)
        strips = model.cells.strip
        on_top = np.flatnonzero(strips >= 0)
        self.last_cell = np.zeros(len(model.finishing.strip_min), dtype=np.int64)
        np.maximum.at(self.last_cell, strips[on_top], on_top)
        self.first_cell = np.full(len(model.finishing.strip_min), len(strips), dtype=np.int64)
        np.minimum.at(self.first_cell, strips[on_top], on_top)
        self.panels = [np.flatnonzero(model.cells.panel == panel) for panel in range(len(model.panel_names))]

    def run(self, replication: int) -> tuple[LoadLog, Front, Finished]:
        """Loads, then cells, then finishing."""
        stream = Stream(self.plan, 1.0 + float(self.chance.wastage[replication]))
        log = LoadRun(self.model, stream, self.chance, replication, self.air_c).run()
        if not log.accepted:
            raise InvalidInput("supply", "supply: no load is ever placed")
        front = front_of(self.model, log, self.chance.set_factor[replication], self.clock)
        finished = finish(self.model, front, self.last_cell, self.chance.finishing_min[replication], self.clock)
        return log, front, finished

    def outcome(self, log: LoadLog, front: Front, finished: Finished) -> Row:
        """The figures by which plans are compared."""
        values = self._of_loads(log)
        values |= self._of_joints(front)
        values["watched_min"] = front.placed_min[self.model.watched]
        values["highest_rise_m_per_h"] = np.array(
            [
                highest_rise(front, cells, self.model.cells.rise_m, self.model.site.rise_window_min)
                for cells in self.panels
            ]
        )
        values["finishing_end_min"] = (
            float(finished.end_min.max()) if len(finished.end_min) else values["end_of_pour_min"]
        )
        values["late_strips"] = int(finished.late.sum())
        opened = front.placed_min[self.first_cell]
        evaporation = highest_evaporation(self.model, opened, finished.end_min)
        values["highest_evaporation_kg_per_m2_h"] = float(evaporation.max(initial=0.0))
        over = evaporation >= self.model.finishing.evaporation_action_kg_per_m2_h
        values["area_over_evaporation_m2"] = (
            float(self.model.finishing.strip_area_m2[over].sum()) if over.any() else 0.0
        )
        return values

    def _of_joints(self, front: Front) -> Row:
        joints = self.model.joints
        by_clock, by_minutes = joint_margins(self.model.concrete, joints, front)
        return {
            "least_set_margin_min": float(by_clock.min(initial=inf)),
            "cold_joint_area_m2": float(joints.area_m2[by_clock < 0].sum()),
            "least_specified_margin_min": float(by_minutes.min(initial=inf)),
            "area_over_specification_m2": float(joints.area_m2[by_minutes < 0].sum()),
            "edge_set_margin_min": least_by_edge(joints, by_clock),
            "edge_specified_margin_min": least_by_edge(joints, by_minutes),
        }

    def _of_loads(self, log: LoadLog) -> Row:
        site, acceptance, plants = self.model.site, self.model.acceptance, self.model.supply.plants
        loads, accepted = log.served, log.accepted
        # What was seen to its end is known: the figures of waiting are those of what comes.
        coming = [load for load in loads if not load.is_seen]
        used_up = [load for load in accepted if not load.is_seen]
        delivered = sum(load.volume_m3 for load in loads)
        taken = sum(load.used_m3 for load in accepted)
        refusals = [load.refused for load in loads if load.refused != ACCEPTED]
        waits = [load.left_min - load.arrival_min - site.waiting_free_min for load in coming]
        return {
            "end_of_pour_min": accepted[-1].end_min,
            "first_discharge_min": accepted[0].start_min,
            "longest_wait_min": max((load.start_min - load.arrival_min for load in coming), default=0.0),
            "longest_gap_min": log.longest_gap_min,
            "waste_m3": delivered - taken,
            "delivered_m3": delivered,
            "placed_m3": taken - log.stream.plan.lead_m3,
            "loads_count": len(loads),
            "refused_count": len(refusals),
            "refused_age_count": refusals.count(TOO_OLD),
            "refused_temperature_count": refusals.count(WRONG_TEMPERATURE),
            "refused_consistence_count": refusals.count(WRONG_CONSISTENCE),
            "over_age_count": sum(not acceptance.age_is_met(load.age_at_end_min) for load in used_up),
            "oldest_age_min": max((load.age_at_end_min for load in used_up), default=0.0),
            "most_trucks_waiting": _most_at_once(coming, [load.entered_min for load in coming]),
            "most_trucks_on_site": _most_at_once(coming, sorted(load.left_min for load in coming)),
            "paid_waiting_min": sum(wait for wait in waits if wait > 0),
            "lowest_placing_c": min(load.temperature_c for load in accepted),
            "highest_placing_c": max(load.temperature_c for load in accepted),
            "stops_count": len(log.repairs),
            "loads_after_closing": sum(load.batching_min > plants[load.plant].closes_min for load in loads),
        }


def _most_at_once(served: list[Load], gone_min: list[float]) -> int:
    """Most trucks that have arrived and not yet gone; both times rising. One that goes as it arrives does not count."""
    counts = (number + 1 - bisect_right(gone_min, load.arrival_min) for number, load in enumerate(served))
    return max(0, max(counts, default=0))


_COUNTS = frozenset(column.name for column in fields(Replications) if column.type is Ints)


def _as_table(rows: list[Row]) -> Replications:
    columns: dict[str, Any] = {
        name: np.array([row[name] for row in rows], dtype=np.int64 if name in _COUNTS else np.float64)
        for name in rows[0]
    }
    return Replications(**columns)


def blank(model: PourModel, count: int) -> Replications:
    """So many rows of noughts, in the columns of this model."""
    wide = dict.fromkeys(("edge_set_margin_min", "edge_specified_margin_min"), len(model.joints.edge_names))
    wide["highest_rise_m_per_h"] = len(model.panel_names)
    wide["watched_min"] = len(model.watched)
    columns: dict[str, Any] = {
        column.name: np.zeros(
            (count, wide[column.name]) if column.name in wide else count,
            dtype=np.int64 if column.name in _COUNTS else np.float64,
        )
        for column in fields(Replications)
    }
    return Replications(**columns)


def _repair_start(log: LoadLog, repair: Repair) -> float:
    """Clock time of a breakdown: pumping until then, the moves and the earlier breakdowns of the same load."""
    load, stream = repair.load, log.stream
    earlier = sum(
        other.duration_min
        for other in log.repairs
        if other.load is load and other.work_offset_min < repair.work_offset_min
    )
    # Cells of this load whose first concrete the pump had reached: their moves came before.
    work_to_begin = np.concatenate([[stream.plan.lead_min], stream.work_to_cell_ends_min()[:-1]])
    begun = int(np.searchsorted(work_to_begin, load.work_from_min + repair.work_offset_min * load.speed))
    moves = max(0.0, stream.plan.moves_until[begun] - load.moves_before)
    return load.start_min + repair.work_offset_min + moves + earlier


def _load_table(loads: list[Load]) -> LoadTable:
    columns: dict[str, Any] = {
        column.name: np.array(
            [getattr(load, column.name) for load in loads], dtype=np.int64 if column.type is Ints else np.float64
        )
        for column in fields(LoadTable)
    }
    return LoadTable(**columns)
