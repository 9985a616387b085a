"""Lateral pressure of fresh concrete on vertical formwork."""


def rise_rate(placing_rate_m3_per_h: float, plan_area_m2: float) -> float:
    """Vertical rise of the concrete in the form [m/h]. Source: definition.

    >>> rise_rate(18, 7.2)
    2.5
    """
    return placing_rate_m3_per_h / plan_area_m2
