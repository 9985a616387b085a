"""Time between layers, live edge and stepped layers against the limit for a cold joint.

A cold joint is not defined by minutes: concrete that still takes the vibrator's head by its own weight makes none.
"""

import math
from dataclasses import dataclass

from wetfront.hydration import DEFAULT_ACTIVATION_ENERGY_J_PER_MOL, SettingTime, setting_time_at_temperature
from wetfront.nouns.reason import Notice, Provenance, Source

INTERVAL_SOURCE = Source(
    "initial set at the concrete temperature less age at placing and margin", Provenance.COMMON_PRACTICE
)
MARGIN_SOURCE = Source("age at placing 60 min and margin 30 min unless given", Provenance.OWN_RULE)
CONTRACT_LIMIT_SOURCE = Source("the contract's own limit of the interval", Provenance.INPUT)
GEOMETRY_SOURCE = Source("rate × interval over the section placed", Provenance.COMMON_PRACTICE)
STEPPED_SOURCE = Source("geometry: each round places one step in every layer", Provenance.COMMON_PRACTICE)
NOISE = 1e-9
"""Noise of binary fractions: an interval this little over the allowed one equals it; taken off before rounding up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerInterval:
    """The time until a layer is covered, against what setting and contract allow."""

    setting: SettingTime
    """Initial set at the concrete temperature, by both rules."""
    allowed_by_setting_min: float
    allowed_interval_min: float
    """The lesser of setting and contract; never under 0."""
    interval_min: float
    within_limit: bool
    lowest_placing_rate_m3_per_h: float | None
    """None when no rate will do."""
    cautious_allowed_interval_min: float
    """The same with the shorter of the two setting rules."""
    cautious_within_limit: bool
    notices: tuple[Notice, ...]


def layer_interval(
    layer_volume_m3: float,
    placing_rate_m3_per_h: float,
    initial_set_h: float,
    concrete_temperature_c: float,
    *,
    reference_temperature_c: float = 20.0,
    activation_energy_j_per_mol: float = DEFAULT_ACTIVATION_ENERGY_J_PER_MOL,
    age_at_placing_min: float = 60.0,
    margin_min: float = 30.0,
    specified_interval_min: float | None = None,
    delivery_gap_min: float = 0.0,
) -> LayerInterval:
    """Whether one layer is covered in time. The oldest concrete in the layer governs: give the age of its load.

    >>> found = layer_interval(14.4, 16, 5.0, 25)
    >>> round(found.interval_min, 9), round(found.allowed_interval_min, 1), found.within_limit
    (54.0, 137.8, True)
    """
    setting = setting_time_at_temperature(
        initial_set_h,
        reference_temperature_c,
        concrete_temperature_c,
        activation_energy_j_per_mol=activation_energy_j_per_mol,
    )
    used_min = age_at_placing_min + margin_min
    by_setting = max(0.0, setting.setting_time_h * 60 - used_min)
    cautious = max(0.0, setting.shorter_h * 60 - used_min)
    contract = math.inf if specified_interval_min is None else specified_interval_min
    allowed, cautious_allowed = min(by_setting, contract), min(cautious, contract)
    interval = layer_volume_m3 / placing_rate_m3_per_h * 60 + delivery_gap_min
    time_for_placing = allowed - delivery_gap_min
    return LayerInterval(
        setting=setting,
        allowed_by_setting_min=by_setting,
        allowed_interval_min=allowed,
        interval_min=interval,
        within_limit=interval <= allowed + NOISE,
        lowest_placing_rate_m3_per_h=layer_volume_m3 / time_for_placing * 60 if time_for_placing > NOISE else None,
        cautious_allowed_interval_min=cautious_allowed,
        cautious_within_limit=interval <= cautious_allowed + NOISE,
        notices=setting.notices,
    )


def live_edge(
    placing_rate_m3_per_h: float, allowed_interval_min: float, width_m: float, layer_thickness_m: float
) -> float:
    """Longest layer or strip in the direction of placing [m] that is covered within the allowed interval.

    >>> live_edge(30, 75, 6.0, 0.25)
    25.0
    """
    return placing_rate_m3_per_h * allowed_interval_min / 60 / (width_m * layer_thickness_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class SteppedLayers:
    """A deep pour placed as a staircase."""

    layers_count: int
    layer_thickness_m: float
    """Equal layers."""
    live_face_length_m: float
    cover_interval_min: float


def stepped_layers(
    depth_m: float, largest_layer_m: float, step_length_m: float, width_m: float, placing_rate_m3_per_h: float
) -> SteppedLayers:
    """Layers, live face and time until a step is covered.

    >>> stepped_layers(1.6, 0.45, 3.0, 14.0, 60).layers_count
    4
    """
    count = max(1, math.ceil(depth_m / largest_layer_m - NOISE))
    thickness = depth_m / count
    return SteppedLayers(
        layers_count=count,
        layer_thickness_m=thickness,
        live_face_length_m=count * step_length_m,
        cover_interval_min=count * width_m * step_length_m * thickness / placing_rate_m3_per_h * 60,
    )
