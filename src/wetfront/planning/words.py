"""Decisions and risks in words, for the pages of a plan."""

import math

from wetfront.nouns.element import (
    Column,
    DeckSlab,
    DropPanel,
    GroundSlab,
    MassBlock,
    Pedestal,
    Slab,
    Stair,
    TaperedFooting,
)
from wetfront.placing.model import Floats
from wetfront.planning.candidate import Candidate, OrderChoice
from wetfront.planning.candidates import depth_mm
from wetfront.planning.carried import Carried
from wetfront.planning.race import Sample
from wetfront.planning.site_mixing import lasting_rate_m3_per_h
from wetfront.planning.situation import Situation

_COMPACT = Column | DropPanel | Pedestal | Stair | TaperedFooting
"""Filled as a whole, layer by layer: no corner to begin at."""
RISK_TITLES = {
    "cold_joint": "cold joint by setting",
    "specified_edge_exceeded": "an edge waits longer than specified",
    "pressure_over_permitted": "form pressure over the permitted one",
    "placing_out_of_hours": "placing ends out of hours",
    "finishing_out_of_hours": "finishing ends out of hours",
    "rain_on_fresh_surface": "harmful rain on a fresh surface",
    "load_over_age": "a load is over its age limit",
    "trucks_over_places": "more trucks waiting than places",
}


def percent(probability: float) -> str:
    """A probability as people say it: no digits that the replications do not carry."""
    if 0 < probability < 0.01:
        return "under 1 %"
    return f"{100 * probability:.0f} %"


def money(amount: float, currency: str) -> str:
    """A whole amount, thousands apart by a thin gap at which no line breaks."""
    return f"{amount:,.0f} {currency}".replace(",", "\u202f")


def trucks_words(count: int) -> str:
    """1 truck, 2 trucks."""
    return f"{count} truck{'' if count == 1 else 's'}"


def mixers_words(count: int) -> str:
    """1 mixer, 2 mixers."""
    return f"{count} mixer{'' if count == 1 else 's'}"


PATTERN_WORDS = {"constant": "a constant interval", "matched": "matched to breaks, moves and gang"}


def pumps_words(count: int) -> str:
    """1 pump, 2 pumps."""
    return f"{count} pump{'' if count == 1 else 's'}"


def vibrators_words(count: int) -> str:
    """1 vibrator, 2 vibrators."""
    return f"{count} vibrator{'' if count == 1 else 's'}"


def gang_words(gang: str) -> str:
    """A gang by its id in the sheet."""
    return f"gang {gang}" if gang else "the gang of the sheet's crew"


def cooler_words(degrees: float) -> str:
    """Cooler concrete, or warmer where a what-if asks for that."""
    if degrees == 0:
        return "concrete as it comes"
    return f"concrete {abs(degrees):g} °C {'cooler' if degrees > 0 else 'warmer'} at the plant"


def decision_words(situation: Situation, candidate: Candidate) -> str:
    """A whole decision in one line."""
    alone = situation.loads_count(candidate.load_m3) == 1
    mixer = situation.sheet.site_mixer
    load = "load" if mixer is None else "batch"
    parts = [
        f"start {situation.day.clock(candidate.start_min)}",
        f"one {load} of {min(candidate.load_m3, situation.order_m3):.4g} m³"
        if alone
        else f"a load of {candidate.load_m3:.4g} m³ every {candidate.interval_min:g} min"
        + (f" ({PATTERN_WORDS['matched']})" if candidate.pattern == "matched" else "")
        if mixer is None
        else f"batches of {candidate.load_m3:.3g} m³",
        trucks_words(candidate.trucks_count) if mixer is None else mixers_words(mixer.mixers_count),
        f"{candidate.rate_m3_per_h:g} m³/h"
        if mixer is None
        else f"{lasting_rate_m3_per_h(situation, candidate):.3g} m³/h",
        order_words(situation, candidate.order),
    ]
    if candidate.mix_option:
        parts.append(f"mix {candidate.mix_option}")
    if candidate.pumps_count > 1:
        parts.append(pumps_words(candidate.pumps_count))
    if candidate.vibrators_count != situation.vibrators_count:
        parts.append(vibrators_words(candidate.vibrators_count))
    if candidate.gang:
        parts.append(gang_words(candidate.gang))
    if candidate.cooler_by_c:
        parts.append(cooler_words(candidate.cooler_by_c))
    return ", ".join(parts)


def has_strips(situation: Situation) -> bool:
    """Whether anything is placed in strips over its plan; walls and columns rise in layers."""
    return any(isinstance(element, Slab | GroundSlab | DeckSlab | MassBlock) for element in situation.elements)


def order_words(situation: Situation, order: OrderChoice) -> str:
    """The placing order in words."""
    corner = order.start_corner.replace("-", " ").replace(" low", ", low").replace(" high", ", high")
    parts = [" then ".join(order.element_order)]
    if has_strips(situation):
        parts.append(f"strips of {order.strip_width_m:g} m along {order.strips_along}")
    if not all(isinstance(element, _COMPACT) for element in situation.elements):
        parts.append(f"from the {corner} corner")
    if order.layers == "stepped":
        parts.append(f"layers of {order.layer_mm:g} mm as a stepped front")
    elif max(depth_mm(element) for element in situation.elements) > order.layer_mm:
        parts.append(f"whole layers of {order.layer_mm:g} mm")
    return ", ".join(parts)


def difference_words(situation: Situation, candidate: Candidate, other: Candidate) -> str:
    """In what `other` differs from `candidate`."""
    found = []
    if other.start_min != candidate.start_min:
        found.append(f"start {situation.day.clock(other.start_min)}")
    if other.interval_min != candidate.interval_min:
        found.append(f"interval {other.interval_min:g} min")
    if other.trucks_count != candidate.trucks_count:
        found.append(trucks_words(other.trucks_count))
    if other.load_m3 != candidate.load_m3:
        found.append(f"loads of {other.load_m3:g} m³")
    if other.rate_m3_per_h != candidate.rate_m3_per_h:
        found.append(f"{other.rate_m3_per_h:g} m³/h")
    if other.mix_option != candidate.mix_option:
        found.append(f"mix {other.mix_option}" if other.mix_option else "mix without option")
    if other.pattern != candidate.pattern:
        found.append(PATTERN_WORDS[other.pattern])
    if other.pumps_count != candidate.pumps_count:
        found.append(pumps_words(other.pumps_count))
    if other.vibrators_count != candidate.vibrators_count:
        found.append(vibrators_words(other.vibrators_count))
    if other.gang != candidate.gang:
        found.append(gang_words(other.gang))
    if other.cooler_by_c != candidate.cooler_by_c:
        found.append(cooler_words(other.cooler_by_c))
    if other.more_finishing_crews != candidate.more_finishing_crews:
        found.append(f"{other.more_finishing_crews - candidate.more_finishing_crews:+d} finishing crews")
    if other.order != candidate.order:
        found.append(order_words(situation, other.order))
    return ", ".join(found) or "the same decision"


def risk_words(key: str, probability: float, limit: float) -> str:
    """A risk against its limit; with a decimal where whole percents would hide which is larger."""
    shown = percent(probability)
    if shown == percent(limit) and abs(probability - limit) > 1e-9:
        shown = f"{100 * probability:.2f} %"
    return f"{RISK_TITLES[key]} {shown} (limit {percent(limit)})"


def over_words(sample: Sample, limits: Floats) -> str:
    """The risks over their limits; empty where every limit is kept."""
    return ", ".join(
        risk_words(key, float(probability), float(limit))
        for key, probability, limit in zip(RISK_TITLES, sample.probabilities(), limits, strict=True)
        if probability > limit
    )


def unended_words(outcome: Carried) -> str:
    """How many replications do not come to an end; empty where all do."""
    if outcome.ended.all():
        return ""
    return f"{outcome.unended_count} of {outcome.count} pours simulated do not come to an end and count as failed"


def hours_words(minutes: float) -> str:
    """A change of time in words."""
    whole = math.floor(abs(minutes) + 0.5)
    return "no change" if whole == 0 else f"{whole} min {'later' if minutes > 0 else 'earlier'}"
