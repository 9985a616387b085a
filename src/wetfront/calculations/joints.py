"""Contracts of the calculations about joints: layers, live edge, stepped placing."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Number, Output
from wetfront.calculations.setting import ACTIVATION_ENERGY, GIVEN, activation_energy_step
from wetfront.hydration import setting as clock
from wetfront.nouns.reason import Answer, Notice, Source, Step
from wetfront.placing import joints as edge

_HEAD_TEST = (
    "On site the test is not the clock: the vibrator's head must sink into the layer below under its own weight and "
    "the hole must close."
)
_OLDEST = "The oldest concrete in the layer governs: take the age of its load, not the mean."


def _layer_interval(
    layer_volume_m3: float,
    placing_rate_m3_per_h: float,
    initial_set_h: float,
    reference_temperature_c: float,
    concrete_temperature_c: float,
    activation_energy_j_per_mol: float,
    age_at_placing_min: float,
    margin_min: float,
    specified_interval_min: float | None,
    delivery_gap_min: float,
) -> Answer:
    found = edge.layer_interval(
        layer_volume_m3,
        placing_rate_m3_per_h,
        initial_set_h,
        concrete_temperature_c,
        reference_temperature_c=reference_temperature_c,
        activation_energy_j_per_mol=activation_energy_j_per_mol,
        age_at_placing_min=age_at_placing_min,
        margin_min=margin_min,
        specified_interval_min=specified_interval_min,
        delivery_gap_min=delivery_gap_min,
    )
    setting = found.setting
    why = [
        activation_energy_step(activation_energy_j_per_mol),
        Step("initial set at the concrete temperature", setting.arrhenius_h, "h", clock.ARRHENIUS_SOURCE),
        Step("the same by halving per 11 °C", setting.halving_h, "h", clock.HALVING_SOURCE),
        Step("age at placing", age_at_placing_min, "min", edge.MARGIN_SOURCE),
        Step("margin", margin_min, "min", edge.MARGIN_SOURCE),
        Step("allowed by setting", found.allowed_by_setting_min, "min", edge.INTERVAL_SOURCE),
    ]
    if specified_interval_min is not None:
        why.append(Step("allowed by the contract", specified_interval_min, "min", edge.CONTRACT_LIMIT_SOURCE))
    why += [
        Step("allowed interval", found.allowed_interval_min, "min", edge.INTERVAL_SOURCE),
        Step("allowed by the shorter setting rule", found.cautious_allowed_interval_min, "min", edge.INTERVAL_SOURCE),
        Step("delivery gap", delivery_gap_min, "min", GIVEN),
        Step("interval = layer volume / rate + gap", found.interval_min, "min", edge.GEOMETRY_SOURCE),
        Step("within the limit", found.within_limit, "", edge.INTERVAL_SOURCE),
    ]
    if found.lowest_placing_rate_m3_per_h is not None:
        lowest = found.lowest_placing_rate_m3_per_h
        why.append(Step("lowest rate = volume / (allowed − gap)", lowest, "m³/h", edge.GEOMETRY_SOURCE))
    result = {
        "initial_set_h": setting.setting_time_h,
        "allowed_interval_min": found.allowed_interval_min,
        "interval_min": found.interval_min,
        "within_limit": found.within_limit,
        "lowest_placing_rate_m3_per_h": found.lowest_placing_rate_m3_per_h,
    }
    return answered(result, why, (*_interval_notices(found), *found.notices), (_OLDEST, _HEAD_TEST))


def _interval_notices(found: edge.LayerInterval) -> tuple[Notice, ...]:
    notices = []
    if found.within_limit and not found.cautious_within_limit:
        text = (
            f"By the halving rule the limit is broken: it allows {found.cautious_allowed_interval_min:.0f} min. For "
            "joints the shorter rule counts."
        )
        notices.append(Notice("shorter-rule-breaks", text))
    elif found.cautious_allowed_interval_min < found.allowed_interval_min:
        text = (
            f"The halving rule is the shorter one here and allows {found.cautious_allowed_interval_min:.0f} min: for "
            "joints keep to the shorter."
        )
        notices.append(Notice("shorter-rule", text))
    if found.allowed_interval_min <= 0:
        text = "Setting, age and margin leave no time at all: a cold joint is certain unless something is changed."
        notices.append(Notice("no-time-left", text))
    elif found.lowest_placing_rate_m3_per_h is None:
        notices.append(Notice("gap-takes-all", "The delivery gap alone takes all the time allowed: no rate will do."))
    return tuple(notices)


def _live_edge(
    placing_rate_m3_per_h: float, allowed_interval_min: float, width_m: float, layer_thickness_m: float
) -> Answer:
    longest = edge.live_edge(placing_rate_m3_per_h, allowed_interval_min, width_m, layer_thickness_m)
    why = (Step("length = rate × interval / (width × thickness)", longest, "m", edge.GEOMETRY_SOURCE),)
    cautions = (
        "For strips side by side the interval is the time of one whole strip, for layers in a wall that of one whole "
        "layer. Pauses are not in it: use the lowest rate to be expected.",
        _HEAD_TEST,
    )
    return answered({"longest_layer_m": longest}, why, (), cautions)


def _stepped_layers(
    depth_m: float, layer_thickness_m: float, step_length_m: float, width_m: float, placing_rate_m3_per_h: float
) -> Answer:
    found = edge.stepped_layers(depth_m, layer_thickness_m, step_length_m, width_m, placing_rate_m3_per_h)
    source: Source = edge.STEPPED_SOURCE
    why = (
        Step("layers, rounded up", found.layers_count, "1", source),
        Step("equal layers", found.layer_thickness_m, "m", source),
        Step("live face = layers × step", found.live_face_length_m, "m", source),
        Step("time until a step is covered", found.cover_interval_min, "min", source),
    )
    result = {
        "layers_count": found.layers_count,
        "layer_thickness_m": found.layer_thickness_m,
        "live_face_length_m": found.live_face_length_m,
        "cover_interval_min": found.cover_interval_min,
    }
    cautions = ("Compare the time until a step is covered with the allowed interval (layer-interval).", _HEAD_TEST)
    return answered(result, why, (), cautions)


_RATE = Number(key="placing_rate_m3_per_h", meaning="placing rate, lowest", unit="m³/h", low=0.001, high=10_000)


def _minutes(key: str, meaning: str, default: float | None) -> Number:
    return Number(key=key, meaning=meaning, unit="min", low=0, high=10_000, default=default)


CALCULATIONS = (
    Calculation(
        name="layer-interval",
        title="Time between layers against the limit for a cold joint",
        method="Allowed is the initial set at the concrete temperature less age at placing and margin, not under 0, "
        "not over the contract's limit. The interval is layer volume / rate plus the delivery gap; equal is within.",
        source=edge.INTERVAL_SOURCE,
        inputs=(
            Number(key="layer_volume_m3", meaning="area × thickness of a layer", unit="m³", above=0, high=100_000),
            _RATE,
            Number(
                key="initial_set_h",
                meaning="from adding water, at the reference temperature",
                unit="h",
                above=0,
                high=1000,
            ),
            Number(
                key="reference_temperature_c",
                meaning="where the initial set holds",
                unit="°C",
                low=5,
                high=40,
                default=20.0,
            ),
            Number(key="concrete_temperature_c", meaning="of the concrete", unit="°C", low=0, high=40),
            ACTIVATION_ENERGY,
            _minutes("age_at_placing_min", "age of the oldest concrete when placed", 60.0),
            _minutes("margin_min", "kept in reserve", 30.0),
            Number(
                key="specified_interval_min",
                meaning="limit of the contract, if any",
                unit="min",
                above=0,
                high=10_000,
                default=None,
            ),
            _minutes("delivery_gap_min", "pause added to the interval", 0.0),
        ),
        outputs=(
            Output(key="initial_set_h", meaning="at the concrete temperature", unit="h"),
            Output(key="allowed_interval_min", meaning="never under 0", unit="min"),
            Output(key="interval_min", meaning="actual time until covered", unit="min"),
            Output(key="within_limit", meaning="true when the interval is at most the allowed one"),
            Output(key="lowest_placing_rate_m3_per_h", meaning="left out if no rate will do", unit="m³/h"),
        ),
        answer=_layer_interval,
    ),
    Calculation(
        name="live-edge",
        title="Longest layer or strip for a placing rate",
        method="Rate × allowed interval over the section placed.",
        source=edge.GEOMETRY_SOURCE,
        inputs=(
            _RATE,
            Number(key="allowed_interval_min", meaning="time until covered", unit="min", above=0, high=100_000),
            Number(key="width_m", meaning="of the strip or wall", unit="m", low=0.001, high=10_000),
            Number(key="layer_thickness_m", meaning="of the layer", unit="m", low=0.001, high=200),
        ),
        outputs=(Output(key="longest_layer_m", meaning="in the direction of placing", unit="m"),),
        answer=_live_edge,
    ),
    Calculation(
        name="stepped-layers",
        title="Stepped placing of a deep pour",
        method="Depth over the largest thickness, rounded up, gives equal layers; each round places one step in every "
        "layer.",
        source=edge.STEPPED_SOURCE,
        inputs=(
            Number(key="depth_m", meaning="of the pour", unit="m", above=0, high=200),
            Number(key="layer_thickness_m", meaning="largest thickness of a layer", unit="m", low=0.001, high=200),
            Number(key="step_length_m", meaning="of one step", unit="m", above=0, high=10_000),
            Number(key="width_m", meaning="across the steps", unit="m", above=0, high=10_000),
            _RATE,
        ),
        outputs=(
            Output(key="layers_count", meaning="rounded up"),
            Output(key="layer_thickness_m", meaning="equal layers", unit="m"),
            Output(key="live_face_length_m", meaning="layers × step length", unit="m"),
            Output(key="cover_interval_min", meaning="time until a step is covered", unit="min"),
        ),
        answer=_stepped_layers,
    ),
)
