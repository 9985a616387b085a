"""The placing model once more, as processes on a general-purpose discrete-event library.

Written from docs/placing-model.md, sharing only the input tables with the simulator: trucks, plants, pump, breaks,
weather, finishers are processes that wait for each other; the pump works cell by cell. Slow, to check the fast one.
"""

import itertools
import math
from dataclasses import dataclass, field

import simpy

GUARD = 1e-9


def lognormal(law, z):
    variance = math.log(1 + law.cv**2)
    return math.exp(math.log(law.mean) - variance / 2 + math.sqrt(variance) * z)


def interpolate(table, step, time):
    """Linear between points; outside is a mistake."""
    place = time / step
    assert 0 <= place <= len(table) - 1, "outside the table"
    before = min(int(place), len(table) - 2)
    return float(table[before]) + (place - before) * float(table[before + 1] - table[before])


def inverse(table, step, value):
    """When a rising table reaches this value, by bisection of its points."""
    low, high = 0, len(table) - 1
    assert value <= table[high], "outside the table"
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if table[middle] <= value else (low, middle)
    return step * (low + (value - float(table[low])) / float(table[high] - table[low]))


@dataclass
class Truckload:
    number: int
    plant: int
    truck: int
    volume: float
    times: dict = field(default_factory=dict)
    temperature: float = 0.0
    refused: int = 0
    used: float = 0.0


class Pour:
    """One replication; `run()` fills the public attributes."""

    def __init__(self, model, draws, replication):
        self.model, self.row = model, replication
        self.draws = draws
        self.env = simpy.Environment()
        self.loads, self.repairs, self.breaks_taken = [], [], []
        supply, site, cells = model.supply, model.site, model.cells
        self.scale = 1 + max(0.0, site.wastage + site.wastage_sd * draws.wastage_z[replication, 0])
        # The stream as pieces still to be pumped: [volume left, rate, cell or None].
        lead = site.priming_m3 + site.line_content_m3
        self.pieces = [[lead, float(cells.rate_m3_per_h[0]), None]] if lead > 0 else []
        self.pieces += [
            [float(volume) * self.scale, float(rate), cell]
            for cell, (volume, rate) in enumerate(zip(cells.volume_m3, cells.rate_m3_per_h, strict=True))
        ]
        self.pieces.reverse()
        self.moved = [False] * len(cells.volume_m3)
        self.needed = sum(piece[0] for piece in self.pieces)
        self.pumped = self.called = self.sent_back = 0.0
        self.cell_time = [None] * len(cells.volume_m3)
        self.cell_load = [None] * len(cells.volume_m3)
        self.cell_work = [None] * len(cells.volume_m3)
        self.failures = 0
        self.up_left = site.pumping_min_between_stops * draws.up_e[replication, 0]
        self.gap, self.last_end = 0.0, None
        self.waiting = self.on_site = self.most_waiting = self.most_on_site = 0
        self.queue_number = 0

        env = self.env
        self.news = env.event()
        self.plant_gate = [simpy.Resource(env, 1) for _ in supply.plants]
        self.fleet = [simpy.Store(env) for _ in supply.plants]
        self.places = simpy.Resource(env, site.discharge_places_count)
        self.pump = simpy.PriorityResource(env, 1)
        self.ban_over = [env.event() for _ in supply.bans]
        self.stop_over = [env.event() for _ in site.weather_stops]

    def run(self):
        env, supply, site = self.env, self.model.supply, self.model.site
        for number, (_, end) in enumerate(supply.bans):
            env.process(self.announce(end, self.ban_over[number]))
        for number, (_, end) in enumerate(site.weather_stops):
            env.process(self.announce(end, self.stop_over[number]))
        for planned, duration in site.breaks:
            env.process(self.crew_break(planned, duration))
        env.process(self.dispatcher())
        env.run()
        assert self.needed - self.pumped < GUARD, "the pour was not finished"
        return self

    # Waiting

    def until(self, time):
        """An event at exactly this time, or now if it is past."""
        return self.env.timeout(max(0.0, time - self.env.now))

    def announce(self, time, event):
        yield self.until(time)
        event.succeed()

    def end_of_instant(self):
        """An event after everything else that happens at this moment."""
        event = self.env.event()
        event._ok, event._value = True, None
        self.env.schedule(event, priority=1000)
        return event

    def tell(self):
        self.news.succeed()
        self.news = self.env.event()

    # Call-off

    def missing(self):
        return self.needed - self.called + self.sent_back

    def may_call(self):
        if self.missing() <= GUARD:
            return False
        is_last = self.missing() <= self.model.supply.load_m3 + GUARD
        before_is_open = self.loads and "start" not in self.loads[-1].times
        return not (self.model.supply.balance_after_measuring and is_last and before_is_open)

    def dispatcher(self):
        supply = self.model.supply
        for plant, source in enumerate(supply.plants):
            for truck in range(source.trucks_count):
                self.env.process(self.truck_back(plant, truck, supply.first_batching_min))
        number = 0
        while True:
            plant = supply.plant_of_load[number % len(supply.plant_of_load)]
            source = supply.plants[plant]
            due = list(supply.due_min) or [supply.first_batching_min]
            beyond = max(0, number - len(due) + 1)
            yield self.until(due[min(number, len(due) - 1)] + beyond * supply.interval_min)
            if math.isfinite(source.opens_min):
                yield self.until(source.opens_min)
            truck = yield self.fleet[plant].get()
            request = self.plant_gate[plant].request()
            yield request
            yield self.end_of_instant()
            while not self.may_call():
                yield self.news
                yield self.end_of_instant()
            on_the_way = source.batching_min.mean + source.haul_min.mean
            expected = self.env.now + on_the_way
            moved = expected
            for begin, end in supply.bans:
                if begin <= moved < end:
                    moved = end
            if moved != expected:
                yield self.until(moved - on_the_way)
                yield self.end_of_instant()
            volume = supply.load_m3
            if supply.call_off_step_m3 is not None:
                steps = math.ceil((self.missing() - GUARD) / supply.call_off_step_m3)
                volume = min(volume, max(supply.smallest_load_m3, steps * supply.call_off_step_m3))
            load = Truckload(number, plant, truck, volume)
            self.loads.append(load)
            self.called += volume
            self.env.process(self.truck_round(load, request))
            number += 1

    def truck_back(self, plant, truck, time):
        yield self.until(time)
        yield self.fleet[plant].put(truck)

    # A truck's round

    def truck_round(self, load, plant_request):
        env, site, row, k = self.env, self.model.site, self.row, load.number
        source = self.model.supply.plants[load.plant]
        load.times["batching"] = env.now
        yield env.timeout(lognormal(source.batching_min, self.draws.batching_z[row, k]))
        load.times["batched"] = env.now
        self.plant_gate[load.plant].release(plant_request)
        yield env.timeout(lognormal(source.haul_min, self.draws.haul_z[row, k]))
        load.times["reached"] = env.now
        for number, (begin, end) in enumerate(self.model.supply.bans):
            if begin <= env.now < end:
                yield self.ban_over[number]
        load.times["arrival"] = env.now
        place = self.places.request()
        order = self.queue_number
        self.queue_number += 1
        self.on_site += 1
        self.most_on_site = max(self.most_on_site, self.on_site)
        if not place.triggered:
            self.waiting += 1
            self.most_waiting = max(self.most_waiting, self.waiting)
            yield place
            self.waiting -= 1
        load.times["entered"] = env.now
        yield env.timeout(site.position_min)
        pump = yield from self.get_pump(order)
        load.times["start"] = env.now
        self.judge(load)
        if load.refused:
            if load.refused != 4:
                self.sent_back += load.volume
            self.tell()
        else:
            self.tell()
            yield from self.discharge(load)
        load.times["end"] = env.now
        self.pump.release(pump)
        self.places.release(place)
        yield env.timeout(site.wash_min)
        load.times["left"] = env.now
        self.on_site -= 1
        yield env.timeout(lognormal(source.return_min, self.draws.return_z[row, k]))
        load.times["free"] = env.now
        yield self.fleet[load.plant].put(load.truck)

    def get_pump(self, order):
        """In order of arrival, breaks first, and not in a weather stop (the pump is let go meanwhile)."""
        while True:
            request = self.pump.request(priority=order)
            yield request
            for number, (begin, end) in enumerate(self.model.site.weather_stops):
                # An event "at the end" may come a rounding error early.
                if begin <= self.env.now < end - GUARD:
                    self.pump.release(request)
                    yield self.stop_over[number]
                    break
            else:
                return request

    def crew_break(self, planned, duration):
        yield self.until(planned)
        request = self.pump.request(priority=-1)
        yield request
        self.breaks_taken.append((self.env.now, duration))
        yield self.env.timeout(duration)
        self.pump.release(request)

    # At the pump

    def judge(self, load):
        concrete, limits, now = self.model.concrete, self.model.acceptance, self.env.now
        plant_c = concrete.plant_temperature_c
        plant_c += concrete.plant_temperature_sd_c * self.draws.temperature_z[self.row, load.number]
        load.temperature = plant_c
        if concrete.change_per_h:
            share = concrete.change_per_h * (now - load.times["batched"]) / 60
            air = interpolate(concrete.air_temperature_c, concrete.clock_step_min, now)
            load.temperature = (plant_c + share * air) / (1 + share)
        load.used = min(load.volume, self.needed - self.pumped)
        if load.used <= GUARD:
            load.refused = 4
            return
        judged = now
        if limits.age_judged_at == "expected-end":
            judged += self.expected_minutes(load.used)
        begin = load.times["batching" if limits.age_counted_from == "loading" else "batched"]
        if judged - begin > limits.longest_age_min:
            load.refused = 1
        elif not limits.lowest_c <= load.temperature <= limits.highest_c:
            load.refused = 2
        elif self.draws.consistence_u[self.row, load.number] < limits.consistence_refusal_probability:
            load.refused = 3
        if load.refused:
            load.used = 0.0

    def gang_slows(self, volume, speed):
        """How much longer the gangs need for a load that begins now than its cells' own rates would."""
        if not self.model.site.gang_hours:
            return 1.0
        minutes, left = 0.0, volume
        for piece, rate, _ in reversed(self.pieces):
            minutes += 60 * max(0.0, min(piece, left)) / rate
            left -= piece
        own = volume / minutes
        changes = [(-math.inf, math.inf), *self.model.site.gang_hours, (math.inf, math.inf)]

        def placed_after(duration):
            begin, end, placed = self.env.now, self.env.now + duration, 0.0
            for (since, rate), (until, _) in itertools.pairwise(changes):
                placed += max(0.0, min(end, until) - max(begin, since)) * min(own, rate / 60) * speed
            return placed

        low, high = 0.0, 1e4 * minutes
        for _ in range(200):
            middle = (low + high) / 2
            low, high = (middle, high) if placed_after(middle) < volume else (low, middle)
        return high * speed / minutes

    def expected_minutes(self, volume):
        minutes, slow = 0.0, self.gang_slows(volume, 1.0)
        for left, rate, cell in reversed(self.pieces):
            if volume <= GUARD:
                break
            if cell is not None and not self.moved[cell]:
                minutes += float(self.model.cells.move_min[cell])
            minutes += 60 * min(left, volume) / rate * slow
            volume -= left
        return minutes

    def discharge(self, load):
        env, site = self.env, self.model.site
        if self.last_end is not None:
            self.gap = max(self.gap, env.now - self.last_end)
        speed = lognormal(site.speed, self.draws.speed_z[self.row, load.number])
        if site.rate_is_held:
            speed = min(speed, 1.0)
        speed /= self.gang_slows(load.used, speed)
        left = load.used
        while left > GUARD:
            piece = self.pieces[-1]
            cell = piece[2]
            if cell is not None and not self.moved[cell]:
                self.moved[cell] = True
                self.cell_load[cell] = load.number
                if self.model.cells.move_min[cell] > 0:
                    yield env.timeout(float(self.model.cells.move_min[cell]))
            volume = piece[0] if piece[0] <= left + GUARD else left
            yield from self.work(60 * volume / piece[1] / speed)
            left -= volume
            self.pumped += volume
            piece[0] -= volume
            if piece[0] <= GUARD:
                self.pieces.pop()
                if cell is not None:
                    self.cell_time[cell] = env.now
                    whole = float(self.model.cells.volume_m3[cell]) * self.scale
                    self.cell_work[cell] = 60 * whole / piece[1] / speed
        self.last_end = env.now

    def work(self, minutes):
        """Pump for so many minutes; breakdowns come in between and count pumping time only."""
        env, site, row = self.env, self.model.site, self.row
        while self.up_left < minutes:
            yield env.timeout(self.up_left)
            minutes -= self.up_left
            repair = lognormal(site.repair_min, self.draws.repair_z[row, self.failures])
            self.repairs.append((env.now, repair))
            self.gap = max(self.gap, repair)
            self.failures += 1
            self.up_left = site.pumping_min_between_stops * self.draws.up_e[row, self.failures]
            yield env.timeout(repair)
        self.up_left -= minutes
        yield env.timeout(minutes)

    # After the pour: clocks, joints, rise, finishing

    def equivalent(self, time):
        concrete = self.model.concrete
        return interpolate(concrete.clock_min, concrete.clock_step_min, time)

    def own_rate(self, load):
        concrete = self.model.concrete
        return math.exp(-concrete.activation_temperature_k * (1 / (273.15 + load.temperature) - 1 / 293.15))

    def clock_factor(self, cell):
        concrete = self.model.concrete
        load = self.loads[self.cell_load[cell]]
        factor = math.exp(concrete.set_factor_sd * self.draws.set_z[self.row, load.number])
        if concrete.counts_load_temperature:
            step, table = concrete.clock_step_min, concrete.clock_min
            before = int(load.times["start"] / step)
            factor *= self.own_rate(load) / ((table[before + 1] - table[before]) / step)
        return float(factor)

    def clock_at_placing(self, cell):
        concrete = self.model.concrete
        if not concrete.counts_age:
            return 0.0
        load = self.loads[self.cell_load[cell]]
        g = math.exp(concrete.set_factor_sd * self.draws.set_z[self.row, load.number])
        return g * self.own_rate(load) * (self.cell_time[cell] - load.times["batching"])

    def clock(self, cell, time):
        """What the clock of a cell shows."""
        run = self.equivalent(time) - self.equivalent(self.cell_time[cell])
        return self.clock_at_placing(cell) + self.clock_factor(cell) * run

    def joints(self):
        concrete, pairs = self.model.concrete, self.model.joints
        by_clock, by_minutes = [], []
        for first, later in zip(pairs.first.tolist(), pairs.later.tolist(), strict=True):
            by_clock.append(concrete.set_limit_min - self.clock(first, self.cell_time[later]))
            temperature = self.loads[self.cell_load[first]].temperature
            allowed = math.inf
            for up_to, minutes in concrete.edge_limits:
                allowed = minutes
                if temperature <= up_to:
                    break
            by_minutes.append(allowed - (self.cell_time[later] - self.cell_time[first]))
        return by_clock, by_minutes

    def rises(self):
        """Highest rise rate in each form: every corner of the level's line as begin and as end of a window."""
        cells, window = self.model.cells, self.model.site.rise_window_min
        rates = []
        for panel in range(len(self.model.panel_names)):
            lifts = []
            for cell in range(len(cells.panel)):
                if cells.panel[cell] == panel:
                    begun = self.cell_time[cell] - self.cell_work[cell]
                    if cell > 0:
                        begun = max(begun, self.cell_time[cell - 1])
                    lifts.append((begun, self.cell_time[cell], float(cells.rise_m[cell])))

            def level(time, lifts=lifts):
                return sum(rise * min(1.0, max(0.0, (time - a) / (b - a))) for a, b, rise in lifts)

            corners = [time for a, b, _ in lifts for time in (a, b)]
            most = max(max(level(t + window) - level(t), level(t) - level(t - window)) for t in corners)
            rates.append(most / (window / 60))
        return rates

    def finishing(self):
        """Strips wait for a crew in a day of their own, whose clock starts at midnight."""
        work, concrete = self.model.finishing, self.model.concrete
        env = simpy.Environment()
        steps = [(0.0, work.crews_count), *work.crew_hours]
        busy, waiting, result = set(), [], []

        def take_up():
            """Crews that are there and idle, the lowest number first, take the strips that wait."""
            there = [count for begin, count in steps if begin <= env.now][-1]
            for crew in range(there):
                if waiting and crew not in busy:
                    busy.add(crew)
                    waiting.pop(0).succeed(crew)

        def crews_change(time):
            yield env.timeout(time)
            take_up()

        def cells_of(strip):
            return [cell for cell, of_strip in enumerate(self.model.cells.strip) if of_strip == strip]

        def ready_time(strip):
            last = cells_of(strip)[-1]
            to_run = (work.ready_clock_min - self.clock_at_placing(last)) / self.clock_factor(last)
            at = self.equivalent(self.cell_time[last]) + to_run
            return max(self.cell_time[last], inverse(concrete.clock_min, concrete.clock_step_min, at))

        def ready_together(strips):
            """Strips whose readiness differs by rounding only: by number."""
            yield env.timeout(max(ready for ready, _ in strips))
            for ready, strip in sorted(strips, key=lambda pair: pair[1]):
                env.process(strip_finished(strip, ready, work.strip_min[strip]))

        def strip_finished(strip, ready, mean):
            cells = cells_of(strip)
            last = cells[-1]
            waiting.append(env.event())
            turn = waiting[-1]
            take_up()
            crew = yield turn
            start = env.now
            z = self.draws.finishing_z[self.row, strip]
            variance = math.log(1 + work.strip_cv**2)
            yield env.timeout(mean * math.exp(math.sqrt(variance) * z - variance / 2))
            busy.remove(crew)
            take_up()
            late = self.clock(last, env.now) > work.latest_clock_min
            result.append((strip, ready, start, env.now, late, self.cell_time[cells[0]]))

        by_readiness = sorted((ready_time(strip), strip) for strip in range(len(work.strip_min)))
        together = [[pair] for pair in by_readiness[:1]]
        for pair in by_readiness[1:]:
            if pair[0] - together[-1][-1][0] < 1e-6:
                together[-1].append(pair)
            else:
                together.append([pair])
        for time, _ in work.crew_hours:
            env.process(crews_change(time))
        for strips in together:
            env.process(ready_together(strips))
        env.run()
        return sorted(result)

    def evaporation(self, opened, closed):
        """Highest rate while a strip lies open."""
        rates, step = self.model.finishing.evaporation_kg_per_m2_h, self.model.concrete.clock_step_min
        times = [opened, closed, *(step * n for n in range(len(rates)) if opened < step * n < closed)]
        return max(interpolate(rates, step, time) for time in times)
