"""What to order: net volume, wastage, line content, call-off step, full loads and the balance load.

A concrete order is called in decimal steps, so it is worked out in decimal arithmetic: 100 m³ + 7 % is 107.00 m³ and
not a step more. Source of the method: common practice of the trade.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext

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
