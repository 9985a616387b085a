"""Contracts of the tests made at a site mixer: yield from the fresh density, bulking of sand."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Number, Output
from wetfront.errors import InvalidInput
from wetfront.materials import moisture, site_batch
from wetfront.materials.moisture import BULKING, SAME_VOLUME
from wetfront.materials.site_batch import SHORT_DELIVERY, YIELD
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step

_FAINT_BULKING_PERCENT = 40.0
"""Published bulking of moist sand ends about here (BULKING's restatements)."""


def _yield(
    batch_mass_kg: float,
    fresh_density_kg_per_m3: float,
    designed_volume_m3: float,
    cement_batch_kg: float | None,
    theoretical_air_free_density_kg_per_m3: float | None,
) -> Answer:
    found = site_batch.yield_from_density(
        batch_mass_kg,
        fresh_density_kg_per_m3,
        designed_volume_m3,
        cement_batch_kg,
        theoretical_air_free_density_kg_per_m3,
    )
    steps = [
        Step("yield = batched mass / fresh density", found.yield_m3, "m³", YIELD),
        Step("relative yield = yield / designed volume", found.relative_yield, "1", YIELD),
    ]
    notices = []
    if found.cement_kg_per_m3 is not None:
        steps.append(Step("cement of the batch / yield", found.cement_kg_per_m3, "kg/m³", YIELD))
    if found.air_content_percent is not None:
        steps.append(
            Step("air = (air-free density − density) / air-free density", found.air_content_percent, "%", YIELD)
        )
        if found.air_content_percent < 0:
            notices.append(
                Notice(
                    "denser-than-solid",
                    "Denser than without any air, which cannot be: weigh again, and check the air-free density.",
                )
            )
    if found.relative_yield < site_batch.LEAST_RELATIVE_YIELD - 1e-9:
        notices.append(
            Notice(
                "short",
                f"{100 * (1 - found.relative_yield):.1f} % short; more than the 2 % that one standard tolerates "
                f"({SHORT_DELIVERY.citation}).",
            )
        )
    if found.relative_yield > 1.02 + 1e-9:
        notices.append(
            Notice("over", "More concrete than designed: too much air or water; the cement is spread thinner.")
        )
    return answered(
        {
            "yield_m3": found.yield_m3,
            "relative_yield": found.relative_yield,
            "cement_kg_per_m3": found.cement_kg_per_m3,
            "air_content_percent": found.air_content_percent,
        },
        steps,
        notices,
        ("One density is one sample: take the mean of several before a mix is changed or a delivery disputed.",),
    )


def _bulking(
    moist_height_mm: float | None,
    inundated_height_mm: float | None,
    dry_sand_volume_l: float | None,
    bulking_percent: float | None,
) -> Answer:
    heights = (moist_height_mm, inundated_height_mm)
    if bulking_percent is not None and heights != (None, None):
        raise InvalidInput("bulking_percent", "bulking_percent is given beside the heights; give one or the other")
    if bulking_percent is None and heights == (None, None):
        raise InvalidInput(
            "bulking_percent", "bulking_percent is missing, and so are moist_height_mm and inundated_height_mm"
        )
    if bulking_percent is None:
        if moist_height_mm is None:
            raise InvalidInput("moist_height_mm", "moist_height_mm is missing beside inundated_height_mm")
        if inundated_height_mm is None:
            raise InvalidInput("inundated_height_mm", "inundated_height_mm is missing beside moist_height_mm")
        bulking = moisture.bulking_percent(moist_height_mm, inundated_height_mm)
        steps = [Step("bulking = moist height / inundated height − 1", bulking, "%", BULKING)]
    else:
        bulking = bulking_percent
        steps = [Step("bulking as given", bulking, "%", Source("input", Provenance.INPUT))]
    volume = None
    if dry_sand_volume_l is not None:
        volume = moisture.moist_volume(dry_sand_volume_l, bulking)
        steps.append(Step("moist volume = dry volume × (1 + bulking)", volume, "l", SAME_VOLUME))
    notices = []
    if bulking > _FAINT_BULKING_PERCENT:
        notices.append(Notice("much", f"Over {_FAINT_BULKING_PERCENT:g} %: more than is published; repeat the test."))
    return answered(
        {"bulking_percent": bulking, "moist_sand_volume_l": volume},
        steps,
        notices,
        (
            "Batch by volume only for small non-structural work, cement always by whole bags or by mass.",
            "Bulking changes with moisture: test again each day and after rain.",
        ),
    )


CALCULATIONS = (
    Calculation(
        name="yield-from-density",
        title="Yield, cement content and air of a batch from the fresh density",
        method="Yield = batched mass / fresh density; relative yield = yield / designed volume; actual cement = cement"
        " of the batch / yield; air = (air-free density − density) / air-free density.",
        source=YIELD,
        inputs=(
            Number(key="batch_mass_kg", meaning="all materials batched", unit="kg", low=0.01, high=1_000_000),
            Number(key="fresh_density_kg_per_m3", meaning="measured", unit="kg/m³", low=500, high=6000),
            Number(key="designed_volume_m3", meaning="volume on the ticket", unit="m³", low=0.0001, high=1000),
            Number(
                key="cement_batch_kg", meaning="cement of the batch", unit="kg", above=0, high=1_000_000, default=None
            ),
            Number(
                key="theoretical_air_free_density_kg_per_m3",
                meaning="of the mix without air",
                unit="kg/m³",
                low=500,
                high=6000,
                default=None,
            ),
        ),
        outputs=(
            Output(key="yield_m3", meaning="batch mass / fresh density", unit="m³"),
            Output(key="relative_yield", meaning="below 1: short delivery"),
            Output(key="cement_kg_per_m3", meaning="actual; only with cement_batch_kg", unit="kg/m³"),
            Output(key="air_content_percent", meaning="gravimetric; only with the air-free density", unit="%"),
        ),
        answer=_yield,
    ),
    Calculation(
        name="sand-bulking",
        title="Bulking of moist sand and the volume to measure",
        method="Bulking = height of loose moist sand / height of the same sand under water − 1, or as given; volume of"
        " moist sand to measure = dry volume × (1 + bulking). Sand under water and dry sand have the same "
        "volume.",
        source=BULKING,
        inputs=(
            Number(
                key="moist_height_mm",
                meaning="loose moist sand in the vessel",
                unit="mm",
                above=0,
                high=5000,
                default=None,
            ),
            Number(
                key="inundated_height_mm",
                meaning="the same sand under water, stirred and settled",
                unit="mm",
                above=0,
                high=5000,
                default=None,
            ),
            Number(
                key="dry_sand_volume_l", meaning="volume wanted, dry", unit="l", low=0, high=1_000_000, default=None
            ),
            Number(
                key="bulking_percent",
                meaning="instead of the two heights",
                unit="%",
                low=0,
                high=moisture.MOST_BULKING_PERCENT,
                default=None,
            ),
        ),
        outputs=(
            Output(key="bulking_percent", meaning="increase of volume over dry sand", unit="%"),
            Output(key="moist_sand_volume_l", meaning="moist sand to measure; only with dry_sand_volume_l", unit="l"),
        ),
        answer=_bulking,
    ),
)
