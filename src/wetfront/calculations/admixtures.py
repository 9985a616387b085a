"""Contracts of the calculations about admixtures: the dose, and less water."""

from wetfront.calculations.answers import answered
from wetfront.calculations.batching import FIRST_TRIAL
from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.materials import admixture
from wetfront.materials.admixture import DOSE, DOSE_RULES, REDUCTION, Keep
from wetfront.nouns.reason import Answer, Notice, Step

CONSENT = "Trial mix and the supplier's written consent first."
COMPATIBLE = "Never mix two products without a compatibility statement."


def _dose(
    cement_kg_per_m3: float,
    dose_percent: float,
    batch_volume_m3: float,
    density_kg_per_l: float,
    solids_percent: float | None,
) -> Answer:
    found = admixture.admixture_dose(cement_kg_per_m3, dose_percent, batch_volume_m3, density_kg_per_l, solids_percent)
    notices = []
    if found.below_2_g_per_kg:
        notices.append(Notice("small", "Under 2 g/kg of cement: disperse it in part of the mixing water."))
    if found.water_counts_in_ratio:
        notices.append(
            Notice("water", "Over 3 l/m³: its water counts in the water/cement ratio, together with other admixtures'.")
        )
    steps = [
        Step("admixture = cement × dose", found.admixture_kg_per_m3, "kg/m³", DOSE),
        Step("litres = mass / density", found.admixture_l_per_m3, "l/m³", DOSE),
        Step("litres for the batch", found.admixture_batch_l, "l", DOSE),
        Step("its water counts in the ratio", found.water_counts_in_ratio, "", DOSE_RULES),
        Step("below 2 g/kg of cement", found.below_2_g_per_kg, "", DOSE_RULES),
    ]
    if found.admixture_water_kg_per_m3 is not None:
        steps.append(Step("water in it = mass × (1 − solids)", found.admixture_water_kg_per_m3, "kg/m³", DOSE))
    return answered(
        {
            "admixture_kg_per_m3": found.admixture_kg_per_m3,
            "admixture_l_per_m3": found.admixture_l_per_m3,
            "admixture_batch_l": found.admixture_batch_l,
            "water_counts_in_ratio": found.water_counts_in_ratio,
            "below_2_g_per_kg": found.below_2_g_per_kg,
            "admixture_water_kg_per_m3": found.admixture_water_kg_per_m3,
        },
        steps,
        notices,
        (CONSENT, COMPATIBLE),
    )


def _reduced(water_kg_per_m3: float, water_reduction_percent: float, cement_kg_per_m3: float, keep: Keep) -> Answer:
    found = admixture.water_reduction(water_kg_per_m3, water_reduction_percent, cement_kg_per_m3, keep)
    notices = []
    if keep == "ratio" and water_reduction_percent > 0:
        notices.append(Notice("less-cement", "Less cement: check the least cement content that the exposure asks for."))
    return answered(
        {
            "water_kg_per_m3": found.water_kg_per_m3,
            "cement_kg_per_m3": found.cement_kg_per_m3,
            "water_cement_ratio": found.water_cement_ratio,
        },
        (
            Step("water = water × (1 − reduction)", found.water_kg_per_m3, "kg/m³", REDUCTION),
            Step("cement", found.cement_kg_per_m3, "kg/m³", REDUCTION),
            Step("water / cement", found.water_cement_ratio, "1", REDUCTION),
        ),
        notices,
        (
            "Enter the reduction that trials with this cement gave at the same slump, not that of a data sheet.",
            "The cubic metre is no longer full: make up the volume with aggregate.",
            FIRST_TRIAL,
            CONSENT,
        ),
    )


_CEMENT = Number(key="cement_kg_per_m3", meaning="cement content", unit="kg/m³", low=0.001, high=4000)

CALCULATIONS = (
    Calculation(
        name="admixture-dose",
        title="Admixture quantity for a batch",
        method="Mass = cement × dose; litres = mass / density. Over 5 % of the cement (50 g/kg) is refused; under 2 "
        "g/kg it is dispersed in part of the mixing water; over 3 l/m³ its water counts in the water/cement "
        "ratio.",
        source=DOSE_RULES,
        inputs=(
            _CEMENT,
            Number(
                key="dose_percent",
                meaning="of the cement mass",
                unit="%",
                low=0,
                high=admixture.MOST_DOSE_PERCENT,
            ),
            Number(key="batch_volume_m3", meaning="concrete of one batch", unit="m³", above=0, high=1000),
            Number(key="density_kg_per_l", meaning="of the admixture", unit="kg/l", low=0.9, high=1.6),
            Number(
                key="solids_percent", meaning="dry matter of the admixture", unit="%", low=0, high=100, default=None
            ),
        ),
        outputs=(
            Output(key="admixture_kg_per_m3", meaning="cement × dose", unit="kg/m³"),
            Output(key="admixture_l_per_m3", meaning="mass / density", unit="l/m³"),
            Output(key="admixture_batch_l", meaning="litres for the batch", unit="l"),
            Output(key="water_counts_in_ratio", meaning="true above 3 l/m³"),
            Output(key="below_2_g_per_kg", meaning="true: disperse it in part of the mixing water"),
            Output(
                key="admixture_water_kg_per_m3", meaning="mass × (1 − solids); only with solids_percent", unit="kg/m³"
            ),
        ),
        answer=_dose,
    ),
    Calculation(
        name="water-reduction",
        title="Water and cement after a water reducer",
        method="Water × (1 − reduction). Cement is kept, so that the ratio falls, or falls with the water, so that the"
        " ratio is kept.",
        source=REDUCTION,
        inputs=(
            Number(key="water_kg_per_m3", meaning="free (mixing) water", unit="kg/m³", low=0.001, high=4000),
            Number(key="water_reduction_percent", meaning="measured in trials", unit="%", low=0, high=40),
            _CEMENT,
            Choice(key="keep", meaning="what stays as it was", options=("cement", "ratio"), default="cement"),
        ),
        outputs=(
            Output(key="water_kg_per_m3", meaning="free (mixing) water", unit="kg/m³"),
            Output(key="cement_kg_per_m3", meaning="cement content", unit="kg/m³"),
            Output(key="water_cement_ratio", meaning="water / cement"),
        ),
        answer=_reduced,
    ),
)
