"""What to order: net volume, wastage, line content, call-off step, full loads and the balance load.

A concrete order is called in decimal steps, so it is worked out in decimal arithmetic: 100 m³ + 7 % is 107.00 m³ and
not a step more. Source of the method: common practice of the trade; the probability rule is our own.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext
from statistics import NormalDist

from wetfront.errors import InvalidInput

CALL_OFF_STEPS_M3 = (0.1, 0.25, 0.5, 1.0)
"""Steps in which plants take an order (common practice)."""
SMALL_LAST_LOAD_M3 = 1.0
"""Under this, a last load is better shared with the one before (own rule)."""
MOST_LOADS = 100_000
_GUARD = Decimal("1e-9")


@dataclass(frozen=True, slots=True)
class Order:
    """A quantity to call off and its loads: all full but the last."""

    gross_volume_m3: float
    order_volume_m3: float
    loads_count: int
    load_m3: float
    last_load_m3: float

    @property
    def full_loads_count(self) -> int:
        """Loads that can be called without measuring what is left."""
        return self.loads_count - 1

    @property
    def last_two_loads_m3(self) -> float | None:
        """Size of each of the last two loads where the last alone would be under 1 m³; None else."""
        if self.loads_count < 2 or self.last_load_m3 >= SMALL_LAST_LOAD_M3:
            return None
        return (self.load_m3 + self.last_load_m3) / 2


def _decimal(value: float) -> Decimal:
    """The decimal number that a person reads in `value`."""
    return Decimal(repr(float(value)))


def rounded_up_to_step(volume_m3: float | Decimal, rounding_step_m3: float) -> float:
    """The next multiple of the step, the volume itself where it is one [m³]; at least one step.

    >>> rounded_up_to_step(107.00000000000001, 0.25)
    107.0
    """
    exact = volume_m3 if isinstance(volume_m3, Decimal) else _decimal(volume_m3)
    step = _decimal(rounding_step_m3)
    with localcontext(prec=60):
        steps = (exact / step - _GUARD).to_integral_value(ROUND_CEILING)
        return float(max(steps, Decimal(1)) * step)


def order_quantity(
    net_volume_m3: float,
    wastage_percent: float,
    pipeline_content_m3: float,
    rounding_step_m3: float,
    load_m3: float,
) -> Order:
    """Net × (1 + wastage) + what stays in the line, rounded up to the call-off step, cut into loads.

    InvalidInput for a step that no plant takes, or a load so small that there would be over 100 000.

    >>> order_quantity(100, 7, 0, 0.25, 8).order_volume_m3
    107.0
    """
    with localcontext(prec=60):
        gross = _decimal(net_volume_m3) * (1 + _decimal(wastage_percent) / 100) + _decimal(pipeline_content_m3)
    return in_loads(gross, rounding_step_m3, load_m3)


def in_loads(gross_volume_m3: float | Decimal, rounding_step_m3: float, load_m3: float) -> Order:
    """A gross volume rounded up to the step and cut into full loads and a last one, which is never 0."""
    if rounding_step_m3 not in CALL_OFF_STEPS_M3:
        allowed = ", ".join(f"{step:g}" for step in CALL_OFF_STEPS_M3)
        raise InvalidInput("rounding_step_m3", f"rounding_step_m3 is {rounding_step_m3:g}; allowed is one of {allowed}")
    ordered = rounded_up_to_step(gross_volume_m3, rounding_step_m3)
    if ordered / load_m3 > MOST_LOADS:
        raise InvalidInput("load_m3", f"load_m3 is {load_m3:g}; {ordered:g} m³ would take over {MOST_LOADS} loads")
    order, load = _decimal(ordered), _decimal(load_m3)
    with localcontext(prec=60):
        loads = max(int((order / load - _GUARD).to_integral_value(ROUND_CEILING)), 1)
        last = order - (loads - 1) * load
    return Order(float(gross_volume_m3), ordered, loads, load_m3, float(last))


@dataclass(frozen=True, slots=True)
class Wastage:
    """Volume used beyond the net one, as a share of it: mean and standard deviation [%].

    It may fall below zero: drawings and forms err both ways. Learned from finished pours where there are some.
    """

    mean_percent: float
    spread_percent: float


@dataclass(frozen=True, slots=True)
class ChosenOrder:
    """An order at a chosen probability of not running short, with what it costs on both sides."""

    order: Order
    probability_enough: float
    """Of the rounded order; at least the chosen one."""
    mean_left_over_m3: float
    mean_short_m3: float


def order_for_probability(
    net_volume_m3: float,
    wastage: Wastage,
    pipeline_content_m3: float,
    rounding_step_m3: float,
    load_m3: float,
    probability: float,
) -> ChosenOrder:
    """The smallest order on the step that is enough with at least `probability` (over 0, under 1).

    Need is taken as normal: net × (1 + wastage) + line content (own rule). InvalidInput names what is out of range.
    """
    if not 0 < probability < 1:
        raise InvalidInput("probability", f"probability is {probability:g}; allowed is over 0 and under 1")
    if wastage.spread_percent < 0:
        raise InvalidInput("spread_percent", f"spread_percent is {wastage.spread_percent:g}; allowed is 0 or more")
    mean = net_volume_m3 * (1 + wastage.mean_percent / 100) + pipeline_content_m3
    spread = net_volume_m3 * wastage.spread_percent / 100
    wanted = mean if spread == 0 else NormalDist(mean, spread).inv_cdf(probability)
    if wanted <= 0:
        raise InvalidInput("spread_percent", "the spread of the wastage is larger than the volume itself")
    order = in_loads(wanted, rounding_step_m3, load_m3)
    surplus = order.order_volume_m3 - mean
    if spread == 0:
        # The guard of the rounding may leave the order 1e-9 of a step under the need: that is not short.
        return ChosenOrder(order, 1.0, max(surplus, 0.0), 0.0)
    normal = NormalDist()
    z = surplus / spread
    left_over = surplus * normal.cdf(z) + spread * normal.pdf(z)
    return ChosenOrder(order, normal.cdf(z), left_over, max(left_over - surplus, 0.0))


@dataclass(frozen=True, slots=True)
class BalanceCall:
    """When to say how large the last load is to be."""

    call_after_h: float
    """Hours from the start of placing; 0 where it has to be said before the start."""
    placed_at_call_m3: float
    left_at_call_m3: float
    """To be measured on the spot at that time, against the loads under way."""
    measured_before_call: bool
    """False where the call comes before anything is placed: the balance load is then a guess."""


def balance_call(order: Order, placing_rate_m3_per_h: float, notice_min: float) -> BalanceCall:
    """Latest call for the balance load so that it arrives when the last full load is empty.

    `notice_min` is the time from the call to the first concrete out of that truck: plant's notice, batching, drive,
    positioning. Source: definition, steady placing rate.
    """
    full_m3 = order.full_loads_count * order.load_m3
    call_h = full_m3 / placing_rate_m3_per_h - notice_min / 60
    placed = max(call_h, 0.0) * placing_rate_m3_per_h
    return BalanceCall(max(call_h, 0.0), placed, order.order_volume_m3 - placed, call_h > 0)


def loads_of(order: Order) -> tuple[float, ...]:
    """Size of each load in turn [m³]; a last load under 1 m³ is shared over the last two."""
    shared = order.last_two_loads_m3
    if shared is not None:
        return (order.load_m3,) * (order.loads_count - 2) + (shared, shared)
    return (order.load_m3,) * order.full_loads_count + (order.last_load_m3,)


def loads_surely_needed(
    net_volume_m3: float, wastage: Wastage, pipeline_content_m3: float, load_m3: float, probability: float
) -> int:
    """Full loads needed with at least `probability`: these can be called without waiting for a measurement."""
    mean = net_volume_m3 * (1 + wastage.mean_percent / 100) + pipeline_content_m3
    spread = net_volume_m3 * wastage.spread_percent / 100
    least = mean if spread == 0 else NormalDist(mean, spread).inv_cdf(1 - probability)
    return max(math.floor(least / load_m3 + 1e-9), 0)
