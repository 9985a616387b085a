"""Contract of the calculation about the number of strength samples."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Number, Output
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step
from wetfront.proving.sampling import samples_aci_318, samples_is_456
from wetfront.rules import rule

SAMPLES = Source(
    "ACI 318M-08 5.6 (ACI 318M-19 26.12); IS 456:2000, 15.2.2; both read in restatements", Provenance.PUBLISHED
)
_PLACE = "Choose the loads at random before the trucks arrive, and write down where each sampled load went."


def _samples(basis: str, volume_m3: float, area_m2: float | None, days_count: int) -> Answer:
    notices, cautions = [], [_PLACE]
    if basis == "aci-318":
        found = samples_aci_318(volume_m3, area_m2 or 0.0, days_count)
        if days_count > 1:
            notices.append(
                Notice(
                    "each-day",
                    f"For {days_count} days this is the least possible number: the rule counts each day by itself. "
                    "Count each day with its own volume and area, and add them up.",
                )
            )
        if area_m2 is None:
            cautions.append("No area is given: in slabs and walls under 240 mm thick the area governs.")
        if found.may_be_waived:
            cautions.append(
                f"Below {rule('aci', 'sampling-waiver-volume').number:g} m³ the tests may be waived, but only with the "
                "official's consent."
            )
    else:
        found = samples_is_456(volume_m3)
        cautions.append("At least one sample in each shift, whatever the volume.")
        if area_m2 is not None or days_count > 1:
            notices.append(Notice("not-counted", "Area and days do not count by IS 456; the volume does."))
    return answered(
        {
            "samples_count": found.samples_count,
            "specimens_count": found.specimens_count,
            "minimum_for_project_count": found.minimum_for_project_count,
            "may_be_waived": found.may_be_waived,
        },
        [Step(f"{one.title}: {one.limit}", count, "1", one.cited) for one, count in found.counted],
        notices,
        cautions,
    )


CALCULATIONS = (
    Calculation(
        name="strength-samples",
        title="Number of strength samples for a pour",
        method="ACI 318: the most of one a day, one for each begun 110 m³ and one for each begun 460 m² of one face. "
        "IS 456: by steps of the volume to 50 m³, then one more for each begun 50 m³.",
        source=SAMPLES,
        inputs=(
            Choice(key="basis", meaning="whose rule", options=("aci-318", "is-456")),
            Number(key="volume_m3", meaning="of one class or grade", unit="m³", above=0, high=1_000_000),
            Number(
                key="area_m2",
                meaning="slabs and walls, one face, for aci-318",
                unit="m²",
                low=0,
                high=10_000_000,
                default=None,
            ),
            Number(
                key="days_count",
                meaning="days of placing, for aci-318; above 1 the answer is the least possible number",
                unit="1",
                low=1,
                high=1000,
                whole=True,
                default=1,
            ),
        ),
        outputs=(
            Output(key="samples_count", meaning="smallest permitted number", unit="1"),
            Output(key="specimens_count", meaning="is-456: cubes of all samples", unit="1"),
            Output(key="minimum_for_project_count", meaning="aci-318: of a class in the whole project", unit="1"),
            Output(key="may_be_waived", meaning="aci-318: below 38 m³, with the official's consent"),
        ),
        answer=_samples,
    ),
)
