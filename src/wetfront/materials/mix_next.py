"""The next trial of a mix, from its brief, the proportions that were batched and what the batch gave."""

from wetfront.errors import InvalidInput
from wetfront.materials.mix_batch import Masses, ssd_density, trial_batch
from wetfront.materials.mix_limits import LEAST_CEMENT, MOST_CEMENT, MixLimits
from wetfront.materials.trial_correction import Trial, Wanted, corrected
from wetfront.nouns.mix_brief import MixBrief
from wetfront.nouns.mix_design import MethodMix, NextTrial


def next_trial(brief: MixBrief, mix: MethodMix, limits: MixLimits) -> NextTrial | None:
    """Proportions and batch to try next; None where the brief has no result of a trial. Raises what `corrected` raises.

    InvalidInput names maximum_cement_kg_per_m3 where more cement would be needed than the limits allow.
    """
    result, admixture, batch = brief.trial.found, brief.admixture, mix.batch
    if result is None:
        return None
    share = batch.volume_l / 1000.0
    found = corrected(
        Trial(
            designed_volume_m3=share,
            cement_kg=batch.cement_kg,
            sand_kg=batch.sand_kg,
            stone_kg=batch.stone_kg,
            admixture_kg=batch.admixture_kg,
            water_added_kg=result.water_added_kg,
            free_water_kg=batch.free_water_in_aggregates_kg + (batch.water_in_admixture_kg or 0.0),
            stone_ssd_kg=mix.stone_kg_per_m3 * share,
            slump_mm=result.slump_mm,
            fresh_density_kg_per_m3=result.fresh_density_kg_per_m3,
            air_content_percent=result.air_content_percent,
        ),
        Wanted(
            slump_mm=brief.target.slump_mm,
            air_content_percent=mix.air_content_percent,
            air_entrained=brief.target.air_entrained,
            water_cement_ratio=mix.water_cement_ratio,
            minimum_cement_kg_per_m3=limits.value(LEAST_CEMENT) or 0.0,
            admixture_dose_percent=admixture.dose_percent if admixture else 0.0,
            cement_relative_density=brief.cement.relative_density,
            sand_relative_density=ssd_density(brief.sand),
            stone_relative_density=ssd_density(brief.stone),
            admixture_relative_density=admixture.relative_density if admixture else 1.0,
        ),
    )
    most = limits.value(MOST_CEMENT)
    if most is not None and found.cement_kg_per_m3 > most + 1e-9:
        raise InvalidInput(
            "maximum_cement_kg_per_m3",
            f"maximum_cement_kg_per_m3 is {most:g}, the next trial would need {found.cement_kg_per_m3:.0f} kg/m³",
        )
    masses: Masses = {
        "cement": found.cement_kg_per_m3,
        "water": found.water_kg_per_m3,
        "sand": found.sand_kg_per_m3,
        "stone": found.stone_kg_per_m3,
        "admixture": found.admixture_kg_per_m3,
    }
    again, notices = trial_batch(brief, masses)
    return NextTrial(
        yield_l=1000.0 * found.yield_m3,
        designed_l=batch.volume_l,
        water_found_kg_per_m3=found.water_found_kg_per_m3,
        water_kg_per_m3=found.water_kg_per_m3,
        cement_kg_per_m3=found.cement_kg_per_m3,
        water_cement_ratio=found.water_kg_per_m3 / found.cement_kg_per_m3,
        sand_kg_per_m3=found.sand_kg_per_m3,
        stone_kg_per_m3=found.stone_kg_per_m3,
        admixture_kg_per_m3=found.admixture_kg_per_m3,
        air_content_percent=found.air_content_percent,
        fresh_density_kg_per_m3=sum(masses.values()),
        batch=again,
        notices=notices,
        why=found.why,
    )
