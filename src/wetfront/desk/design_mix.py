"""Design a mix from a brief: the methods side by side, what they differ in, the trial batch, the candidates."""

from collections.abc import Sequence

from wetfront import __version__
from wetfront.errors import InvalidInput
from wetfront.materials import aci_211, target_strength
from wetfront.materials.mix_compare import differences
from wetfront.materials.mix_limits import LEAST_CEMENT, MOST_CEMENT, RATIO, MixLimits, mix_limits, rules_of
from wetfront.materials.mix_methods import TITLES, method_mix, strength_of
from wetfront.materials.mix_next import next_trial
from wetfront.materials.mix_sweep import SweepLimits, swept
from wetfront.nouns.mix_brief import MixBrief, MixMethod
from wetfront.nouns.mix_design import MIX_SCHEMA, MethodLeftOut, MethodMix, MixDesign, NextTrial, SweepFound
from wetfront.nouns.reason import Provenance, Step

TRIAL_FIRST = (
    "A first trial, not a mix to pour: trial batch, slump, density, air and strength come first, and the consent of "
    "the specifier and of the producer, who answers for the mix."
)
WATER_ON_SITE = "Water added on site to a mix that is at its ratio weakens the structure."
CAUSTIC = "Fresh concrete is caustic: gloves, boots and eye protection."
USER_FIGURES = (
    "Prices and carbon factors are the brief's own, materials to the plant's gate (A1 to A3): compare figures of "
    "one source and boundary only."
)
SPREAD = "The record's deviation is used as it stands by every method, though cylinders and cubes spread differently."
SWEEP, NEXT = "candidates", "next trial"


def design_mix(brief: MixBrief, inputs: Sequence[tuple[str, str]] = ()) -> MixDesign:
    """The whole design. InvalidInput where not one of the methods asked for can answer, with the reason of each."""
    limits = mix_limits(brief.target, brief.stone.maximum_size_mm, rules_of(brief))
    mixes: list[MethodMix] = []
    left_out: list[MethodLeftOut] = []
    for method in brief.methods:
        try:
            mixes.append(method_mix(method, brief, limits))
        except InvalidInput as error:
            left_out.append(MethodLeftOut(method=method, title=TITLES[method], reason=error.message))
    if not mixes:
        reasons = "; ".join(f"{each.title}: {each.reason}" for each in left_out)
        raise InvalidInput("methods", f"no method can make this mix. {reasons}")
    sweep = None
    if brief.sweep is not None:
        try:
            sweep = _swept(brief, limits)
        except InvalidInput as error:
            left_out.append(MethodLeftOut(method=SWEEP, title="candidates of [sweep]", reason=error.message))
    batched, because = _to_batch(brief, mixes)
    again = None
    try:
        again = next_trial(brief, next(mix for mix in mixes if mix.method == batched), limits)
    except InvalidInput as error:
        left_out.append(MethodLeftOut(method=NEXT, title="the next trial", reason=error.message))
    return MixDesign(
        schema=MIX_SCHEMA,
        program=f"wetfront {__version__}",
        title=brief.title,
        project=brief.project,
        date=brief.date,
        invented=brief.invented,
        currency=brief.currency,
        target=_target_words(brief),
        volume_m3=brief.volume_m3,
        limits=limits.listed,
        not_checked=_not_checked(brief),
        methods=tuple(mixes),
        left_out=tuple(left_out),
        batched=batched,
        batched_because=because,
        next_trial=again,
        differences=differences(mixes),
        sweep=sweep,
        cautions=_cautions(brief),
        from_memory=_remembered([*mixes, *([again] if again else [])], limits),
        inputs=tuple(inputs),
    )


def _swept(brief: MixBrief, limits: MixLimits) -> SweepFound:
    strength = strength_of(brief, "cylinder")
    if strength is None:
        raise InvalidInput("cylinder_strength_mpa", "the brief gives no strength of cylinders")
    record = brief.record
    aimed_at = target_strength.required_average_strength(
        strength, record.standard_deviation_mpa if record else None, record.results_count if record else None
    ).required_average_strength_mpa
    section = brief.section
    largest = None
    if section is not None:
        largest = aci_211.maximum_aggregate_size(
            section.narrowest_form_mm, section.slab_depth_mm, section.clear_bar_spacing_mm
        ).maximum_aggregate_size_mm
    return swept(
        brief,
        SweepLimits(
            ratio_for_strength=aci_211.water_cement_ratio(
                aimed_at, air_entrained=brief.target.air_entrained
            ).water_cement_ratio,
            ratio_most=limits.value(RATIO),
            cement_least=limits.value(LEAST_CEMENT),
            cement_most=limits.value(MOST_CEMENT),
            stone_most_mm=largest,
        ),
    )


def _to_batch(brief: MixBrief, mixes: Sequence[MethodMix]) -> tuple[MixMethod | str, str]:
    """The method whose batch is mixed, and why: as asked, else the lowest ratio, then the most cement."""
    made = [mix.method for mix in mixes]
    if brief.trial.method in made:
        return str(brief.trial.method), "as the brief asks"
    first = min(mixes, key=lambda mix: (round(mix.water_cement_ratio, 6), -mix.cement_kg_per_m3))
    if len(mixes) == 1:
        return first.method, "the only method that answers"
    return first.method, "the lowest water/cement ratio of the methods (own rule, on the cautious side)"


def _target_words(brief: MixBrief) -> str:
    target = brief.target
    strengths = [
        f"{value:g} MPa {specimen}" for specimen in ("cylinder", "cube") if (value := strength_of(brief, specimen))
    ]
    exposure = [*target.exposure_classes, *target.exposure_aci]
    if target.exposure_is_456 is not None:
        exposure.append(f"{target.exposure_is_456} (IS 456, {target.concrete_kind})")
    parts = [
        target.strength_class,
        ", ".join(strengths),
        f"slump {target.slump_mm:g} mm",
        f"aggregate {brief.stone.maximum_size_mm:g} mm",
        f"exposure {', '.join(exposure)}" if exposure else "",
        "air-entrained" if target.air_entrained else "",
    ]
    return "; ".join(part for part in parts if part)


def _not_checked(brief: MixBrief) -> tuple[str, ...]:
    target = brief.target
    missing = []
    if not target.exposure_classes and target.exposure_is_456 is None and not target.exposure_aci:
        missing.append("durability: the brief names no exposure")
    if brief.section is None:
        missing.append("aggregate size against form, slab and bars: no [section]")
    return (*missing, "alkali-silica reaction, chloride and sulfate of the constituents, heat, pumpability")


def _cautions(brief: MixBrief) -> tuple[str, ...]:
    cautions = [TRIAL_FIRST, WATER_ON_SITE, CAUSTIC]
    parts = (brief.cement, brief.stone, brief.sand, brief.water, brief.admixture)
    if any(part is not None and (part.price_cu_per_t or part.carbon_kg_co2e_per_kg) is not None for part in parts):
        cautions.append(USER_FIGURES)
    if brief.record is not None and len(brief.methods) > 1:
        cautions.append(SPREAD)
    if brief.target.exposure_classes:
        cautions.append("EN 206, Table F.1: for 50 years and CEM I; the National Annex replaces it.")
    return tuple(cautions)


def _remembered(mixes: Sequence[MethodMix | NextTrial], limits: MixLimits) -> tuple[str, ...]:
    """Each remembered figure with what it is and where it is said to stand."""
    told = [
        f"{step.step}: {_figure(step)} ({step.source.citation})"
        for mix in mixes
        for step in mix.why
        if step.source.provenance is Provenance.MEMORY
    ]
    told += [f"{limit.text} ({limit.source})" for limit in limits.listed if limit.provenance == str(Provenance.MEMORY)]
    return tuple(dict.fromkeys(told))


def _figure(step: Step) -> str:
    value = f"{step.value:.4g}" if isinstance(step.value, float | int) else str(step.value)
    return value if step.unit in ("", "1") else f"{value} {step.unit}"
