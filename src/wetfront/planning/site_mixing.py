"""What a pour mixed on site takes: batches, mixer hours, bags, heaps."""

from wetfront.materials.heap import moist
from wetfront.materials.site_batch import mixer_batches
from wetfront.nouns.plan import OnHeap, SiteMixing
from wetfront.nouns.reason import Provenance, Source, Step
from wetfront.placing.model import Replications
from wetfront.placing.site_mixer import age_limit, mixer_supply
from wetfront.planning.candidate import Candidate
from wetfront.planning.situation import Situation
from wetfront.planning.steps import band

COST_TITLES = {"concrete": "cement, aggregates and water", "pump": "site mixers with their people"}
"""What the cost lines are called where no plant and no pump come."""
REMEDIES = {
    "cold_joint": "retarder, narrower strips, another mixer or more carriers",
    "placing_out_of_hours": "earlier start, another mixer, more carriers, or less in one day",
    "load_over_age": "smaller batches, more carriers or a shorter way; stop mixing when placing stops",
}
"""Where these differ from a pour with trucks."""
SUPPLY = Source("drums as plants with no way, carriers as the pump; see placing/site_mixer.py", Provenance.OWN_RULE)
NO_AGGREGATES = "the mix tells no aggregates ([[mix.NAME.aggregate]]): sand and stone to have on site are not known"


def site_mixing(situation: Situation, candidate: Candidate, outcome: Replications) -> SiteMixing | None:
    """None where the concrete comes from a plant."""
    mixer, mix = situation.sheet.site_mixer, situation.mix
    if mixer is None:
        return None
    batch = candidate.load_m3
    supply = mixer_supply(mixer, batch)
    batches = situation.loads_count(batch)
    volume = batches * batch
    bags = None
    if mixer.cement_bag_kg is not None:
        bags = mixer_batches(batch, batch, mix.cement_kg_per_m3, mixer.cement_bag_kg).bags_per_batch_count
    heaps = [(aggregate, moist(aggregate, volume)) for aggregate in mix.aggregate]
    first_charge = candidate.start_min - situation.lead_min
    return SiteMixing(
        batches_count=batches,
        batch_m3=batch,
        mixers_count=mixer.mixers_count,
        people_count=mixer.people_count,
        mixing_h=band((outcome.end_of_pour_min - first_charge) / 60),
        mixing_rate_m3_per_h=supply.mixing_rate_m3_per_h,
        carrying_rate_m3_per_h=supply.carrying_rate_m3_per_h,
        bags_per_batch_count=bags,
        bags_count=None if bags is None else bags * batches,
        bag_kg=mixer.cement_bag_kg,
        cement_kg=volume * mix.cement_kg_per_m3,
        materials=tuple(OnHeap(name=aggregate.id, amount_kg=part.as_weighed_kg) for aggregate, part in heaps),
        water_l=volume * mix.water_kg_per_m3 - sum(part.free_water_kg for _, part in heaps),
        note="masses for each batch: `wetfront batch` with today's moisture" if heaps else NO_AGGREGATES,
    )


def lasting_rate_m3_per_h(situation: Situation, candidate: Candidate) -> float:
    """The rate that the supply keeps up: as placed, or what the mixers give where that is less."""
    mixer = situation.sheet.site_mixer
    if mixer is None:
        return candidate.rate_m3_per_h
    return min(candidate.rate_m3_per_h, mixer_supply(mixer, candidate.load_m3).mixing_rate_m3_per_h)


def usual_interval_min(situation: Situation, candidate: Candidate) -> float:
    """Spacing of loads as called off; of batches, that of the slower of mixing and placing."""
    if situation.sheet.site_mixer is None:
        return candidate.interval_min
    return candidate.load_m3 / lasting_rate_m3_per_h(situation, candidate) * 60


def mixer_steps(situation: Situation, candidate: Candidate) -> tuple[Step, ...]:
    """How the site mixer enters the simulation; nothing where the concrete comes from a plant."""
    mixer = situation.sheet.site_mixer
    if mixer is None:
        return ()
    supply = mixer_supply(mixer, candidate.load_m3)
    longest_min, whose = age_limit(mixer)
    return (
        Step("volume of one batch", round(candidate.load_m3, 4), "m³", SUPPLY),
        Step("a drum is not free for", round(supply.drum_min, 2), "min", SUPPLY),
        Step("batches in drums and carriers together", supply.batches_under_way, "", SUPPLY),
        Step("mixers give, when nothing waits", round(supply.mixing_rate_m3_per_h, 2), "m³/h", SUPPLY),
        Step("carriers carry", round(supply.carrying_rate_m3_per_h, 2), "m³/h", SUPPLY),
        Step("longest age, from charging the drum until placed", longest_min, "min", whose),
        Step("way to the work, taken off age and setting", mixer.way_min, "min", SUPPLY),
    )
