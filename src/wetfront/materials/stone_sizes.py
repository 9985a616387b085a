"""Nominal aggregate sizes: the same stone is 20 mm in a metric series and 19 mm in ACI's tables."""

from wetfront.materials import aci_211, is_10262

SAME_STONE_MM = {10.0: 9.5, 20.0: 19.0, 40.0: 37.5}
"""Metric nominal size -> ACI's. Own rule: the sieves differ by 5 to 7 %, the smaller one takes a little more water."""
KNOWN_MM = tuple(sorted({*aci_211.SIZES_MM, *is_10262.SIZES_MM}))


def aci_size(nominal_mm: float) -> float:
    """The size under which ACI's tables know this stone; the size itself where they do not."""
    return SAME_STONE_MM.get(nominal_mm, nominal_mm)


def metric_size(nominal_mm: float) -> float:
    """The size under which the British and the Indian tables know this stone; the size itself where they do not."""
    return next((metric for metric, other in SAME_STONE_MM.items() if other == nominal_mm), nominal_mm)


def metric_step_below(nominal_mm: float) -> float:
    """The largest of 10, 20 and 40 mm that this stone fills, at least 10: own rule, it asks for the most cement."""
    size = metric_size(nominal_mm)
    return max((step for step in is_10262.SIZES_MM if step <= size), default=is_10262.SIZES_MM[0])
