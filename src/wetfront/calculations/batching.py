"""Contracts of the calculations about batching on site: moisture, batches, yield, bulking."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.materials import moisture, site_batch
from wetfront.materials.moisture import BASES, CORRECTION, DRYING, MOISTURE_BASIS, AggregateBasis
from wetfront.materials.site_batch import BATCHES, SITE_MIXING_TIME, WHOLE_BAGS
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step

FIRST_TRIAL = "A first trial: trial batch, slump, density, air and strength before use, with the specifier's consent."
CAUSTIC = "Fresh concrete and cement are caustic: gloves, boots, goggles; wash splashes off at once with clean water."
NO_WATER_BY_EYE = "Water over the design weakens the concrete: never add any by eye."
_DEFINITION = Source("sum of what goes into the drum", Provenance.DEFINITION)
_MEASURE_MOISTURE = (
    "Measure moisture each day and after rain: 1 % on 750 kg/m³ of sand is 7.5 kg/m³ of water, about 0.02 of the "
    "water/cement ratio at 350 kg/m³ of cement."
)


def _corrected(
    water_kg_per_m3: float,
    cement_kg_per_m3: float,
    fine_aggregate_kg_per_m3: float,
    coarse_aggregate_kg_per_m3: float,
    aggregate_basis: AggregateBasis,
    fine_absorption_percent: float,
    coarse_absorption_percent: float,
    fine_moisture_percent: float,
    coarse_moisture_percent: float,
    batch_volume_m3: float,
) -> Answer:
    fine, coarse = (
        moisture.moist_aggregate(mass * batch_volume_m3, aggregate_basis, absorption, total)
        for mass, absorption, total in (
            (fine_aggregate_kg_per_m3, fine_absorption_percent, fine_moisture_percent),
            (coarse_aggregate_kg_per_m3, coarse_absorption_percent, coarse_moisture_percent),
        )
    )
    design_water = water_kg_per_m3 * batch_volume_m3
    add = moisture.water_to_add(design_water, (fine, coarse))
    notices = []
    if add < 0:
        notices.append(
            Notice(
                "too-wet",
                f"The aggregates bring {-add:.1f} kg more water than the mix may have: not to be batched. Let them "
                "drain or dry, or take another heap.",
            )
        )
    drinking = [name for name, part in (("sand", fine), ("coarse aggregate", coarse)) if part.free_water_kg < 0]
    if drinking:
        notices.append(
            Notice(
                "drinks",
                f"The {' and the '.join(drinking)} is drier than saturated surface-dry and drinks water: more is added "
                "at the mixer, and the slump falls while it drinks.",
            )
        )
    return answered(
        {
            "fine_aggregate_batch_kg": fine.as_weighed_kg,
            "coarse_aggregate_batch_kg": coarse.as_weighed_kg,
            "cement_batch_kg": cement_kg_per_m3 * batch_volume_m3,
            "water_to_add_kg": add,
            "free_water_in_aggregate_kg": fine.free_water_kg + coarse.free_water_kg,
        },
        [
            Step("sand, oven-dry", fine.dry_kg, "kg", MOISTURE_BASIS),
            Step("coarse aggregate, oven-dry", coarse.dry_kg, "kg", MOISTURE_BASIS),
            Step("sand as weighed = dry × (1 + moisture)", fine.as_weighed_kg, "kg", CORRECTION),
            Step("coarse aggregate as weighed", coarse.as_weighed_kg, "kg", CORRECTION),
            Step("free water of the sand = dry × (moisture − absorption)", fine.free_water_kg, "kg", CORRECTION),
            Step("free water of the coarse aggregate", coarse.free_water_kg, "kg", CORRECTION),
            Step("free water of the mix", design_water, "kg", CORRECTION),
            Step("water to add = free water of the mix − free water brought", add, "kg", CORRECTION),
        ],
        notices,
        (_MEASURE_MOISTURE, NO_WATER_BY_EYE, FIRST_TRIAL, CAUSTIC),
    )


def _moisture(wet_mass_g: float, oven_dry_mass_g: float, absorption_percent: float | None) -> Answer:
    total = moisture.total_moisture_percent(wet_mass_g, oven_dry_mass_g)
    steps = [Step("total moisture = (wet − dry) / dry", total, "%", DRYING)]
    free = None
    notices = []
    if absorption_percent is not None:
        free = total - absorption_percent
        steps.append(Step("free moisture = total − absorption", free, "%", MOISTURE_BASIS))
        if free < 0:
            notices.append(Notice("drinks", "Drier than saturated surface-dry: this aggregate will drink water."))
    return answered(
        {"total_moisture_percent": total, "free_moisture_percent": free},
        steps,
        notices,
        ("Dry until the mass no longer falls; take the sample from inside the heap, not from its skin.",),
    )


def _batches(
    required_volume_m3: float,
    mixer_capacity_m3: float,
    cement_kg_per_m3: float,
    water_kg_per_m3: float,
    fine_aggregate_kg_per_m3: float,
    coarse_aggregate_kg_per_m3: float,
    cement_bag_kg: float | None,
    waste_percent: float,
) -> Answer:
    found = site_batch.mixer_batches(
        required_volume_m3, mixer_capacity_m3, cement_kg_per_m3, cement_bag_kg, waste_percent
    )
    batch = found.batch_volume_m3
    masses = {
        "water_batch_kg": water_kg_per_m3 * batch,
        "fine_aggregate_batch_kg": fine_aggregate_kg_per_m3 * batch,
        "coarse_aggregate_batch_kg": coarse_aggregate_kg_per_m3 * batch,
    }
    source = BATCHES if cement_bag_kg is None else WHOLE_BAGS
    steps = [
        Step("volume with waste", required_volume_m3 * (1 + waste_percent / 100), "m³", BATCHES),
        Step("volume of one batch", batch, "m³", source),
        Step("batches, rounded up", found.batches_count, "", source),
        Step("mass of one batch", found.cement_batch_kg + sum(masses.values()), "kg", _DEFINITION),
        Step("shortest mixing once all is in", site_batch.least_mixing_min(batch), "min", SITE_MIXING_TIME),
    ]
    if found.bags_per_batch_count is not None:
        steps.insert(1, Step("whole bags a batch, rounded down", found.bags_per_batch_count, "", WHOLE_BAGS))
    return answered(
        {
            "batches_count": found.batches_count,
            "batch_volume_m3": batch,
            "cement_batch_kg": found.cement_batch_kg,
            **masses,
            "bags_per_batch_count": found.bags_per_batch_count,
            "bags_total_count": found.bags_total_count,
        },
        steps,
        (),
        (
            "The capacity is the fresh concrete of one batch: about half to two thirds of the drum's own volume.",
            "The masses hold for aggregates in the state in which the mix gives them: correct sand and water for "
            "today's moisture.",
            FIRST_TRIAL,
            CAUSTIC,
        ),
    )


def _mass(key: str, meaning: str, low: float) -> Number:
    return Number(key=key, meaning=meaning, unit="kg/m³", low=low, high=4000)


_WATER = _mass("water_kg_per_m3", "mixing (free) water", low=0.001)
_CEMENT = _mass("cement_kg_per_m3", "cement content", low=0.001)
_FINE = _mass("fine_aggregate_kg_per_m3", "sand, in the moisture basis of its relative density", low=0)
_COARSE = _mass("coarse_aggregate_kg_per_m3", "coarse aggregate, in the moisture basis of its relative density", low=0)
_MOISTURES = tuple(
    Number(key=f"{which}_{what}_percent", meaning=f"{meaning} of the {name}", unit="%", low=0, high=30)
    for what, meaning in (("absorption", "absorption"), ("moisture", "total moisture"))
    for which, name in (("fine", "sand"), ("coarse", "coarse aggregate"))
)

CALCULATIONS = (
    Calculation(
        name="moisture-corrected-batch",
        title="Batch masses corrected for the moisture in the aggregates",
        method="Dry mass = mass (oven-dry basis) or mass / (1 + absorption) (saturated surface-dry); as weighed = dry "
        "× (1 + moisture); free water = dry × (moisture − absorption); water to add = free water of the mix "
        "less that of both aggregates. Below zero free water the aggregate drinks; below zero water to add the "
        "heap is too wet.",
        source=CORRECTION,
        inputs=(
            _WATER,
            _CEMENT,
            _FINE,
            _COARSE,
            Choice(key="aggregate_basis", meaning="basis of the two aggregate masses", options=BASES),
            *_MOISTURES,
            Number(key="batch_volume_m3", meaning="concrete of one batch", unit="m³", above=0, high=1000, default=1.0),
        ),
        outputs=(
            Output(key="fine_aggregate_batch_kg", meaning="wet, as weighed", unit="kg"),
            Output(key="coarse_aggregate_batch_kg", meaning="wet, as weighed", unit="kg"),
            Output(key="cement_batch_kg", meaning="for one batch", unit="kg"),
            Output(key="water_to_add_kg", meaning="at the mixer; negative = too wet to batch", unit="kg"),
            Output(key="free_water_in_aggregate_kg", meaning="negative when the aggregate drinks water", unit="kg"),
        ),
        answer=_corrected,
    ),
    Calculation(
        name="aggregate-moisture",
        title="Moisture of an aggregate sample by drying",
        method="Total moisture = (wet − oven-dry) / oven-dry mass; free moisture = total − absorption, below zero for "
        "an aggregate drier than saturated surface-dry.",
        source=DRYING,
        inputs=(
            Number(key="wet_mass_g", meaning="as sampled", unit="g", low=0.1, high=1_000_000),
            Number(key="oven_dry_mass_g", meaning="dried, at most wet_mass_g", unit="g", low=0.1, high=1_000_000),
            Number(key="absorption_percent", meaning="of the aggregate", unit="%", low=0, high=30, default=None),
        ),
        outputs=(
            Output(key="total_moisture_percent", meaning="of the oven-dry mass", unit="%"),
            Output(key="free_moisture_percent", meaning="total less absorption", unit="%"),
        ),
        answer=_moisture,
    ),
    Calculation(
        name="mixer-batches",
        title="Number and size of batches for a site mixer",
        method="Batches = volume with waste / output of one batch, rounded up; equal batches. In whole bags: bags a "
        "batch = cement of a full batch / bag, rounded down; the batch is as large as those bags make it. "
        "Output is fresh concrete, not the volume of the drum. A bag that makes more than the mixer takes is "
        "refused.",
        source=BATCHES,
        inputs=(
            Number(key="required_volume_m3", meaning="placed volume", unit="m³", above=0, high=100_000),
            Number(
                key="mixer_capacity_m3",
                meaning="fresh concrete of one batch, not the drum",
                unit="m³",
                low=0.001,
                high=20,
            ),
            _CEMENT,
            _WATER,
            _FINE,
            _COARSE,
            Number(
                key="cement_bag_kg",
                meaning="batch in whole bags of this size",
                unit="kg",
                low=1,
                high=2000,
                default=None,
            ),
            Number(
                key="waste_percent", meaning="mixed beyond the placed volume", unit="%", low=0, high=30, default=0.0
            ),
        ),
        outputs=(
            Output(key="batches_count", meaning="rounded up"),
            Output(key="batch_volume_m3", meaning="equal batches; in whole bags: what those bags make", unit="m³"),
            Output(key="cement_batch_kg", meaning="for one batch", unit="kg"),
            Output(key="water_batch_kg", meaning="for one batch", unit="kg"),
            Output(key="fine_aggregate_batch_kg", meaning="for one batch", unit="kg"),
            Output(key="coarse_aggregate_batch_kg", meaning="for one batch", unit="kg"),
            Output(key="bags_per_batch_count", meaning="rounded down; only with cement_bag_kg"),
            Output(key="bags_total_count", meaning="bags a batch × batches; only with cement_bag_kg"),
        ),
        answer=_batches,
    ),
)
