"""The base model of P1 and P2 as processes in plain Python, load by load: the baseline of the compiled core.

Leaner than `tests/process_pour.py` (which pumps cell by cell and knows every extension): trucks, plant and pump are
processes, a discharge is one wait unless the pump fails, and each output is worked out once at the end. Nothing is done
twice that could be done once; durations are drawn beforehand.
"""

import heapq

import simpy

from wetfront.placing.chance import chance_of
from wetfront.placing.draws import Draws
from wetfront.placing.model import PourModel


class Inputs:
    """One model's columns as plain lists, and the durations of its replications."""

    def __init__(self, model: PourModel, draws: Draws):
        self.model = model
        self.plant = model.supply.plants[0]
        self.durations = chance_of(model, draws)
        self.rows = [
            tuple(
                column[row].tolist()
                for column in (
                    *(self.durations.batching_min, self.durations.haul_min, self.durations.return_min),
                    *(self.durations.speed, self.durations.set_factor, self.durations.up_min),
                    *(self.durations.repair_min, self.durations.finishing_min),
                )
            )
            for row in range(draws.count)
        ]
        joints, cells = model.joints, model.cells
        self.pairs = list(zip(joints.first.tolist(), joints.later.tolist(), joints.area_m2.tolist(), strict=True))
        self.cells_count = len(cells.volume_m3)
        self.cells_in_load = round(model.supply.load_m3 / float(cells.volume_m3[0]))
        self.loads_count = -(-self.cells_count // self.cells_in_load)
        self.full_work_min = 60 * model.supply.load_m3 / float(cells.rate_m3_per_h[0])
        self.total = model.concrete.clock_min.tolist()
        self.step = model.concrete.clock_step_min
        strip = cells.strip.tolist()
        self.last_cell = [max(c for c, s in enumerate(strip) if s == number) for number in range(max(strip) + 1)]


class Pour:
    """One replication."""

    def __init__(self, inputs: Inputs, row: int):
        self.inputs, self.model = inputs, inputs.model
        self.batching, self.haul, self.back, self.speed, self.set_factor, *others = inputs.rows[row]
        self.up, self.repair, self.finishing = others
        self.env = simpy.Environment(initial_time=self.model.supply.first_batching_min)
        self.trucks = simpy.Store(self.env)
        self.trucks.items.extend(range(inputs.plant.trucks_count))
        self.places = simpy.Resource(self.env, self.model.site.discharge_places_count)
        self.pump = simpy.Resource(self.env, 1)
        self.ordered, self.more = inputs.loads_count, None
        self.accepted: list[tuple] = []
        self.stops, self.up_left = 0, self.up[0]
        self.longest_wait = self.longest_gap = self.waste = 0.0
        self.last_end = None
        self.accepted_count = 0

    def run(self) -> tuple[float, ...]:
        """End of pour, longest wait, longest gap, least margin, cold area, waste, finishing end, late strips."""
        self.env.process(self._plant())
        self.env.run()
        return (self.last_end, self.longest_wait, self.longest_gap, *self._joints(), self.waste, *self._finish())

    def _plant(self):
        env, begin, interval = self.env, self.model.supply.first_batching_min, self.model.supply.interval_min
        number = 0
        while True:
            if number >= self.ordered:
                if self.accepted_count == self.inputs.loads_count:
                    return
                self.more = env.event()
                yield self.more
            due = begin + number * interval
            if due > env.now:
                yield env.timeout(due - env.now)
            yield self.trucks.get()
            yield env.timeout(self.batching[number])
            env.process(self._load(number))
            number += 1

    def _load(self, number: int):
        env, site = self.env, self.model.site
        batched = env.now
        yield env.timeout(self.haul[number])
        arrival = env.now
        with self.places.request() as place:
            yield place
            yield env.timeout(site.position_min)
            with self.pump.request() as pump:
                yield pump
                start = env.now
                self.longest_wait = max(self.longest_wait, start - arrival)
                if start - batched > self.model.acceptance.longest_age_min:
                    self._refuse()
                else:
                    yield from self._discharge(number, start)
        yield env.timeout(site.wash_min + self.back[number])
        self.trucks.put(number)

    def _refuse(self) -> None:
        self.waste += self.model.supply.load_m3
        self.ordered += 1
        if self.more is not None:
            event, self.more = self.more, None
            event.succeed()

    def _discharge(self, number: int, start: float):
        inputs, env = self.inputs, self.env
        if self.last_end is not None:
            self.longest_gap = max(self.longest_gap, start - self.last_end)
        from_cell = self.accepted_count * inputs.cells_in_load
        cells = min(inputs.cells_in_load, inputs.cells_count - from_cell)
        self.accepted_count += 1
        full = inputs.full_work_min / self.speed[number]
        work = full * cells / inputs.cells_in_load
        self.waste += self.model.supply.load_m3 * (1 - cells / inputs.cells_in_load)
        left, repairs = work, []
        while self.up_left < left:
            yield env.timeout(self.up_left)
            left -= self.up_left
            duration = self.repair[self.stops]
            repairs.append((work - left, duration))
            self.longest_gap = max(self.longest_gap, duration)
            self.stops += 1
            self.up_left = self.up[self.stops]
            yield env.timeout(duration)
        self.up_left -= left
        yield env.timeout(left)
        self.last_end = env.now
        self.accepted.append((number, start, full, cells, repairs))

    def _clock(self, time: float) -> float:
        place = time / self.inputs.step
        before = int(place)
        below, above = self.inputs.total[before : before + 2]
        return below + (place - before) * (above - below)

    def _joints(self) -> tuple[float, float]:
        self.clocks, self.factors, self.times = [], [], []
        for number, start, full, cells, repairs in self.accepted:
            factor = self.set_factor[number]
            for cell in range(1, cells + 1):
                offset = full * cell / self.inputs.cells_in_load
                time = start + offset
                for begun, duration in repairs:
                    if begun < offset:
                        time += duration
                self.times.append(time)
                self.clocks.append(self._clock(time))
                self.factors.append(factor)
        limit, clocks, factors = self.model.concrete.set_limit_min, self.clocks, self.factors
        least, cold = float("inf"), 0.0
        for first, later, area in self.inputs.pairs:
            margin = limit - factors[first] * (clocks[later] - clocks[first])
            if margin < least:
                least = margin
            if margin < 0:
                cold += area
        return least, cold

    def _when(self, total: float) -> float:
        table = self.inputs.total
        low, high = 0, len(table) - 1
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if table[middle] <= total else (low, middle)
        return self.inputs.step * (low + (total - table[low]) / (table[high] - table[low]))

    def _finish(self) -> tuple[float, int]:
        work = self.model.finishing
        ready = sorted(
            (self._when(self.clocks[cell] + work.ready_clock_min / self.factors[cell]), strip)
            for strip, cell in enumerate(self.inputs.last_cell)
        )
        crews, last, late = [0.0] * work.crews_count, 0.0, 0
        for time, strip in ready:
            end = max(time, crews[0]) + self.finishing[strip]
            heapq.heapreplace(crews, end)
            last = max(last, end)
            cell = self.inputs.last_cell[strip]
            late += self.factors[cell] * (self._clock(end) - self.clocks[cell]) > work.latest_clock_min
        return last, late
