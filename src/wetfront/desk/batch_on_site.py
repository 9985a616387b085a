"""Batch on site: from a checked brief to one batch, its card, and what the whole volume takes."""

import math
from dataclasses import dataclass

from wetfront import __version__
from wetfront.materials.admixture import DOSE, DOSE_RULES, WATER_COUNTS_ABOVE_L_PER_M3, AdmixtureDose, admixture_dose
from wetfront.materials.heap import bulking_of, moist, moisture_of
from wetfront.materials.moisture import (
    BULKING,
    CORRECTION,
    MOISTURE_BASIS,
    SAME_VOLUME,
    MoistAggregate,
    moist_volume,
    water_to_add,
)
from wetfront.materials.site_batch import BATCHES, SITE_MIXING_TIME, WHOLE_BAGS, Batches, mixer_batches
from wetfront.materials.tolerances import BATCHING_TOLERANCES, BatchingTolerances
from wetfront.nouns.batch import BATCH_SCHEMA, BatchBrief, GaugeBox, Ingredient, Measure, SiteBatch, WetterSand
from wetfront.nouns.mix import Aggregate
from wetfront.nouns.reason import Step

MOISTURE_STEPS = (-2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0)
"""Round today's moisture: what the card says for a drier and a wetter heap."""
CAUTIONS = (
    "Fresh concrete and cement burn: gloves, boots, goggles. Rinse splashes at once; eyes 15 min, then a doctor.",
    "Cement dust: open bags low and slowly, upwind, with a dust mask.",
    "Mixer: never a hand or tool into a turning drum. To clean or clear it: stop, lock off, keep the key.",
    "Lifting: bags and boxes by two people or by machine.",
    "No water by eye. A mix too stiff within its water is stopped and reported, not watered.",
    "First batch is a trial: slump, density, strength and the specifier's consent before it goes into the work.",
)


@dataclass(frozen=True, slots=True)
class _Worked:
    """What the card's figures are made from."""

    brief: BatchBrief
    batches: Batches
    aggregates: tuple[MoistAggregate, ...]
    doses: tuple[AdmixtureDose, ...]
    admixture_water_kg: float
    design_water_kg: float
    water_kg: float

    @property
    def brought_kg(self) -> float:
        return self.design_water_kg - self.water_kg


def _worked(brief: BatchBrief) -> _Worked:
    mix = brief.mix
    batches = mixer_batches(
        brief.required_volume_m3,
        brief.mixer.output_m3,
        mix.cement_kg_per_m3,
        brief.mixer.cement_bag_kg,
        brief.waste_percent,
    )
    batch = batches.batch_volume_m3
    aggregates = tuple(moist(aggregate, batch) for aggregate in brief.aggregate)
    doses = tuple(
        admixture_dose(mix.cement_kg_per_m3, entry.dose_percent, batch, entry.density_kg_per_l, entry.solids_percent)
        for entry in brief.admixture
    )
    counts = sum(dose.admixture_l_per_m3 for dose in doses) > WATER_COUNTS_ABOVE_L_PER_M3 + 1e-9
    admixture_water = sum((dose.admixture_water_kg_per_m3 or 0.0) * batch for dose in doses) if counts else 0.0
    design = mix.water_kg_per_m3 * batch
    return _Worked(
        brief, batches, aggregates, doses, admixture_water, design, water_to_add(design, aggregates) - admixture_water
    )


def batch_on_site(brief: BatchBrief, inputs: tuple[tuple[str, str], ...] = ()) -> SiteBatch:
    """The batch of a checked brief. A heap too wet to batch is a result that says so, not an error."""
    worked = _worked(brief)
    batches, mixer = worked.batches, brief.mixer
    rounds = math.ceil(batches.batches_count / mixer.mixers_count)
    ratio_limit = brief.mix.max_water_cement_ratio
    most = worked.water_kg
    if ratio_limit is not None:
        most = max(most, ratio_limit * batches.cement_batch_kg - worked.brought_kg)
    return SiteBatch(
        schema=BATCH_SCHEMA,
        program=f"wetfront {__version__}",
        title=brief.title,
        project=brief.project,
        date=brief.date,
        invented=brief.invented,
        work=brief.work,
        may_be_mixed=worked.water_kg >= 0,
        reasons=_reasons(worked),
        designation=brief.mix.designation,
        cement=brief.mix.cement,
        slump_limits_mm=brief.mix.slump_limits_mm,
        measured_by=brief.measure.by,
        batches_count=batches.batches_count,
        batch_volume_m3=batches.batch_volume_m3,
        mixers_count=mixer.mixers_count,
        people_count=mixer.people_count,
        mixing_min=mixer.mixing_min,
        mixing_h=rounds * mixer.cycle_min / 60,
        output_m3_per_h=mixer.mixers_count * batches.batch_volume_m3 / mixer.cycle_min * 60,
        bags_total_count=batches.bags_total_count,
        bag_kg=mixer.cement_bag_kg,
        ingredients=_ingredients(worked),
        design_water_l=worked.design_water_kg,
        brought_water_l=worked.brought_kg,
        water_to_add_l=worked.water_kg,
        most_water_l=most,
        water_cement_ratio=brief.mix.water_kg_per_m3 / brief.mix.cement_kg_per_m3,
        wetter_sand=_wetter(worked),
        cautions=CAUTIONS,
        why=_why(worked),
        inputs=inputs,
    )


def _reasons(worked: _Worked) -> tuple[str, ...]:
    brief, found = worked.brief, []
    if worked.water_kg < 0:
        found.append(
            f"the aggregates bring {-worked.water_kg:.1f} l a batch more than the mix may have: let them drain or dry, "
            "or take another heap"
        )
    if brief.measure.by == "volume":
        approved = brief.measure.volume_approved_by.strip()
        found.append(
            f"structural work batched by volume: decided by {approved}"
            if brief.work == "structural"
            else "batched by volume: small non-structural work only"
        )
    drinking = [
        aggregate.id
        for aggregate, part in zip(brief.aggregate, worked.aggregates, strict=True)
        if part.free_water_kg < -1e-9
    ]
    if drinking:
        found.append(f"{', '.join(drinking)}: drier than saturated surface-dry, drinks water while it is mixed")
    return tuple(found)


def _ingredients(worked: _Worked) -> tuple[Ingredient, ...]:
    brief, batches = worked.brief, worked.batches
    limits, count = BATCHING_TOLERANCES[brief.measure.tolerances], batches.batches_count
    cement = _ingredient(brief.mix.cement or "cement", "cement", batches.cement_batch_kg, count, limits)
    found = [
        Ingredient(
            name=cement.name,
            kind="cement",
            batch_kg=cement.batch_kg,
            batch_l=None,
            low_kg=cement.low_kg,
            high_kg=cement.high_kg,
            total_kg=cement.total_kg,
            bags_count=batches.bags_per_batch_count,
        )
    ]
    for aggregate, part in zip(brief.aggregate, worked.aggregates, strict=True):
        box = _box(aggregate, part, brief.measure) if brief.measure.by == "volume" else None
        litres = None if box is None else box.count * box.litres
        found.append(
            _ingredient(aggregate.id, aggregate.kind, part.as_weighed_kg, count, limits, batch_l=litres, box=box)
        )
    found.append(_ingredient("water to add", "water", worked.water_kg, count, limits, batch_l=worked.water_kg))
    for entry, dose in zip(brief.admixture, worked.doses, strict=True):
        mass = dose.admixture_kg_per_m3 * batches.batch_volume_m3
        found.append(_ingredient(entry.id, "admixture", mass, count, limits, batch_l=dose.admixture_batch_l))
    return tuple(found)


def _ingredient(
    name: str,
    kind: str,
    mass_kg: float,
    batches_count: int,
    limits: BatchingTolerances,
    batch_l: float | None = None,
    box: GaugeBox | None = None,
) -> Ingredient:
    share = limits.of(kind) / 100 * abs(mass_kg)
    return Ingredient(
        name=name,
        kind=kind,  # type: ignore[arg-type]
        batch_kg=mass_kg,
        batch_l=batch_l,
        low_kg=mass_kg - share,
        high_kg=mass_kg + share,
        total_kg=mass_kg * batches_count,
        box=box,
    )


def _box(aggregate: Aggregate, part: MoistAggregate, measure: Measure) -> GaugeBox:
    """Boxes of one size: dry volume by the loose density, swollen by the bulking of moist sand."""
    assert aggregate.loose_bulk_density_kg_per_m3 is not None
    dry_l = part.dry_kg / aggregate.loose_bulk_density_kg_per_m3 * 1000
    litres = moist_volume(dry_l, bulking_of(aggregate))
    count = max(1, math.ceil(litres / measure.box_most_l - 1e-9))
    depth = litres / count * 1e6 / (measure.box_length_mm * measure.box_width_mm)
    return GaugeBox(
        count=count,
        length_mm=measure.box_length_mm,
        width_mm=measure.box_width_mm,
        depth_mm=depth,
        litres=litres / count,
    )


def _wetter(worked: _Worked) -> tuple[WetterSand, ...]:
    """All sands at other moistures than today's; by volume a wetter heap needs its bulking again, so none is told."""
    brief, batch = worked.brief, worked.batches.batch_volume_m3
    sands = [aggregate for aggregate in brief.aggregate if aggregate.kind == "sand"]
    if len(sands) != 1 or brief.measure.by == "volume":
        return ()
    sand, today = sands[0], moisture_of(sands[0])
    now, found = moist(sand, batch), []
    for step in MOISTURE_STEPS:
        if 0 <= today + step <= 30:
            part = moist(sand, batch, today + step)
            water = worked.water_kg + now.free_water_kg - part.free_water_kg
            found.append(WetterSand(moisture_percent=today + step, sand_kg=part.as_weighed_kg, water_l=water))
    return tuple(found)


def _why(worked: _Worked) -> tuple[Step, ...]:
    brief, batches = worked.brief, worked.batches
    source = BATCHES if batches.bags_per_batch_count is None else WHOLE_BAGS
    limits = BATCHING_TOLERANCES[brief.measure.tolerances]
    steps = [
        Step("volume with waste", brief.required_volume_m3 * (1 + brief.waste_percent / 100), "m³", BATCHES),
        Step("volume of one batch", batches.batch_volume_m3, "m³", source),
        Step("free water of a batch", worked.design_water_kg, "l", CORRECTION),
    ]
    for aggregate, part in zip(brief.aggregate, worked.aggregates, strict=True):
        steps.append(Step(f"{aggregate.id}: oven-dry", part.dry_kg, "kg", MOISTURE_BASIS))
        steps.append(Step(f"{aggregate.id}: free water brought", part.free_water_kg, "l", CORRECTION))
    if worked.admixture_water_kg:
        steps.append(Step("water of the admixtures, counted over 3 l/m³", worked.admixture_water_kg, "l", DOSE_RULES))
    steps.append(Step("water to add", worked.water_kg, "l", CORRECTION))
    for entry, dose in zip(brief.admixture, worked.doses, strict=True):
        steps.append(Step(f"{entry.id}: litres a batch", dose.admixture_batch_l, "l", DOSE))
    if brief.measure.by == "volume":
        sands = (aggregate for aggregate in brief.aggregate if aggregate.kind == "sand")
        steps += [Step(f"{sand.id}: bulking", bulking_of(sand), "%", BULKING) for sand in sands]
        steps.append(Step("gauge box = dry volume × (1 + bulking)", "see boxes", "", SAME_VOLUME))
    steps.append(Step("batching tolerances", limits.words, "", limits.source))
    steps.append(Step("mixing once all is in", brief.mixer.mixing_min, "min", SITE_MIXING_TIME))
    return tuple(steps)
