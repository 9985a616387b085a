"""Contract of the calculation about what to order."""

from wetfront.calculations.contract import Calculation, Number, Output
from wetfront.nouns.reason import Answer, Provenance, Source, Step
from wetfront.takeoff.order import CALL_OFF_STEPS_M3, order_quantity

_SOURCE = Source("net + wastage + pipeline content, rounded up to the plant's step", Provenance.COMMON_PRACTICE)
_OWN = Source("a last load under 1 m³ is shared with the one before", Provenance.OWN_RULE)


def _order(
    net_volume_m3: float,
    wastage_percent: float,
    pipeline_content_m3: float,
    rounding_step_m3: float,
    load_m3: float,
) -> Answer:
    order = order_quantity(net_volume_m3, wastage_percent, pipeline_content_m3, rounding_step_m3, load_m3)
    cautions = [
        "Keep back the last load's volume until what is left has been measured on the spot.",
        "Count the content of line and hopper once: here, or as pumped out into the work.",
    ]
    steps = [
        Step("gross = net × (1 + wastage) + pipeline content", order.gross_volume_m3, "m³", _SOURCE),
        Step(f"order = rounded up to {rounding_step_m3:g} m³", order.order_volume_m3, "m³", _SOURCE),
        Step("loads = order / load, rounded up", order.loads_count, "", _SOURCE),
        Step("last load = order − full loads", order.last_load_m3, "m³", _SOURCE),
    ]
    shared = order.last_two_loads_m3
    if shared is not None:
        steps.append(Step("last two loads, if shared", shared, "m³", _OWN))
        cautions.append(f"The last load is under 1 m³: ask for the last two with {shared:.2f} m³ each.")
    if load_m3 > 20:
        cautions.append(f"A load of {load_m3:g} m³ is more than a truck carries.")
    return Answer(
        {
            "gross_volume_m3": order.gross_volume_m3,
            "order_volume_m3": order.order_volume_m3,
            "loads_count": order.loads_count,
            "last_load_m3": order.last_load_m3,
        },
        tuple(steps),
        tuple(cautions),
    )


CALCULATIONS = (
    Calculation(
        name="order-quantity",
        title="Quantity to order and loads",
        method="Gross = net × (1 + wastage) + content of the line; rounded up to the plant's call-off step in decimal "
        "arithmetic; cut into full loads and a last one. Wastage: 5 % for formed work, up to 10 % for ground slabs, "
        "small pours and blinding, 2 to 3 % where thicknesses were measured (common practice).",
        source=_SOURCE,
        inputs=(
            Number(key="net_volume_m3", meaning="net volume", unit="m³", above=0, high=10_000_000),
            Number(
                key="wastage_percent", meaning="volume used beyond the net one", unit="%", low=0, high=30, default=5.0
            ),
            Number(
                key="pipeline_content_m3",
                meaning="left in line and hopper at the end",
                unit="m³",
                low=0,
                high=1000,
                default=0.0,
            ),
            Number(
                key="rounding_step_m3",
                meaning="one of " + ", ".join(f"{step:g}" for step in CALL_OFF_STEPS_M3),
                unit="m³",
                low=CALL_OFF_STEPS_M3[0],
                high=CALL_OFF_STEPS_M3[-1],
                default=0.5,
            ),
            Number(key="load_m3", meaning="what a truck carries", unit="m³", above=0, high=1000),
        ),
        outputs=(
            Output(key="gross_volume_m3", meaning="before rounding", unit="m³"),
            Output(key="order_volume_m3", meaning="rounded up to the step", unit="m³"),
            Output(key="loads_count", meaning="rounded up"),
            Output(key="last_load_m3", meaning="the last load, never 0", unit="m³"),
        ),
        answer=_order,
    ),
)
