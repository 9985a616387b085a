"""What to order, as the plan says it."""

from statistics import NormalDist

from wetfront.nouns.plan import Quantity
from wetfront.planning.situation import Volumes


def quantity_of(volumes: Volumes, load_m3: float, balance_words: str) -> Quantity:
    """The order in loads of this size. The last load is the balance load, even where it is a full one."""
    loads = volumes.loads_count(load_m3)
    return Quantity(
        net_m3=volumes.net_m3,
        wastage_m3=volumes.wastage_m3,
        wastage_spread_m3=volumes.wastage_spread_m3,
        extra_m3=volumes.extra_m3,
        priming_m3=volumes.priming_m3,
        line_content_m3=volumes.lost_line_m3,
        gross_m3=volumes.gross_m3,
        order_m3=volumes.order_m3,
        load_m3=load_m3,
        loads_count=loads,
        full_loads_count=loads - 1,
        balance_load_m3=round(volumes.order_m3 - (loads - 1) * load_m3, 9),
        balance_call=balance_words,
        chance_of_running_short=chance_of_running_short(volumes),
        formed_area_m2=volumes.quantities.formed_area_m2,
        top_area_m2=volumes.quantities.top_area_m2,
    )


def chance_of_running_short(volumes: Volumes) -> float:
    """Probability that the order would not do if its last load were not measured; the need is taken as normal."""
    if volumes.wastage_spread_m3 == 0:
        return 0.0
    return 1.0 - NormalDist(volumes.gross_m3, volumes.wastage_spread_m3).cdf(volumes.order_m3)
