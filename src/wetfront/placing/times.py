"""Times that loads go by: due call-offs, pumping by the gang that is there, times that are barred, air on the way."""

from math import inf

from wetfront.errors import OutOfRange
from wetfront.placing.model import Interval, SiteWork, Supply


def due_min(supply: Supply, number: int) -> float:
    """Load `number` is batched not before this."""
    due = supply.due_min
    if not due:
        return supply.first_batching_min + number * supply.interval_min
    return due[number] if number < len(due) else due[-1] + (number - len(due) + 1) * supply.interval_min


def pumping_min(site: SiteWork, start_min: float, used_m3: float, work_min: float, speed: float) -> float:
    """Pumping time of a load: `work_min` at the cells' own rates, or what the gangs need that are there meanwhile."""
    capacity, following = inf, []
    for begin, rate in site.gang_hours:
        if begin <= start_min:
            capacity = rate
        else:
            following.append((begin, rate))
    at, left = start_min, 1.0
    for begin, rate in following:
        whole = max(work_min, 60.0 * used_m3 / capacity) / speed
        if at + left * whole <= begin:
            break
        left -= (begin - at) / whole
        at, capacity = begin, rate
    return at - start_min + left * (max(work_min, 60.0 * used_m3 / capacity) / speed)


def after_intervals(time_min: float, intervals: tuple[Interval, ...]) -> float:
    """This time, or the end of the interval that it falls in; intervals are rising and apart."""
    for begin, end in intervals:
        if begin <= time_min < end:
            time_min = end
    return time_min


class AirTable:
    """Air temperature on equally spaced points from midnight, linear between."""

    def __init__(self, temperature_c: list[float], step_min: float):
        self.temperature_c, self.step_min = temperature_c, step_min

    def at(self, time_min: float) -> float:
        """Air temperature at this time; an error outside the table."""
        place = time_min / self.step_min
        before = int(place)
        if not 0 <= place <= len(self.temperature_c) - 1:
            end = (len(self.temperature_c) - 1) * self.step_min
            raise OutOfRange("air_temperature_c", time_min, f"0 to {end:g} min", "the table of air temperatures")
        if before == len(self.temperature_c) - 1:
            return self.temperature_c[-1]
        share = place - before
        return self.temperature_c[before] * (1 - share) + self.temperature_c[before + 1] * share
