"""Contracts of the calculations of the strength to aim at: by ACI, by IS 10262 and by the British method."""

from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Number, Output, Size
from wetfront.materials import target_strength as target
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step

_OWN = Source("the site's own record", Provenance.INPUT)


def _required(
    specified_strength_mpa: float, standard_deviation_mpa: float | None, test_results_count: int | None
) -> Answer:
    found = target.required_average_strength(specified_strength_mpa, standard_deviation_mpa, test_results_count)
    why = []
    notices = []
    if found.modification_factor is not None and standard_deviation_mpa is not None:
        why = [
            Step("factor for the number of tests", found.modification_factor, "1", target.ACI_FACTOR),
            Step("deviation × factor", found.modification_factor * standard_deviation_mpa, "MPa", target.ACI_FACTOR),
        ]
    elif standard_deviation_mpa is not None:
        text = f"Fewer than {target.FEWEST_TESTS} tests are no record: the deviation is not used."
        notices = [Notice("short-record", text)]
    elif test_results_count is not None:
        notices = [Notice("no-deviation", "Tests without their standard deviation are no record: they are not used.")]
    why.append(Step(f"f'cr, by {found.basis}", found.required_average_strength_mpa, "MPa", found.source))
    cautions = (
        "Cylinders. The record must be of a like mix, 30 tests in a row or two groups, its specified strength within 7 "
        "MPa of this one (from memory).",
    )
    result = {
        "required_average_strength_mpa": found.required_average_strength_mpa,
        "basis": found.basis,
        "modification_factor": found.modification_factor,
    }
    return answered(result, why, notices, cautions)


def _is(characteristic_strength_mpa: float, standard_deviation_mpa: float | None) -> Answer:
    found = target.target_mean_is(characteristic_strength_mpa, standard_deviation_mpa)
    why = (
        Step(
            "standard deviation" if standard_deviation_mpa is not None else "standard deviation of the table",
            found.standard_deviation_mpa,
            "N/mm²",
            _OWN if standard_deviation_mpa is not None else target.IS_DEVIATION,
        ),
        Step("fck + 1.65 S", found.by_deviation_mpa, "N/mm²", target.IS_TARGET),
        Step("fck + X", found.by_least_margin_mpa, "N/mm²", target.IS_TARGET),
        Step("the larger of the two", found.target_mean_strength_mpa, "N/mm²", target.IS_TARGET),
    )
    cautions = (
        "Cubes of 150 mm. The table's deviations are for good control; add 1 N/mm² for fair control (from memory). A "
        "strength between two grades takes the rows of the next higher grade (own reading).",
    )
    result = {
        "target_mean_strength_mpa": found.target_mean_strength_mpa,
        "standard_deviation_mpa": found.standard_deviation_mpa,
    }
    return answered(result, why, (), cautions)


def _bre(
    characteristic_strength_mpa: float,
    defective_percent: float,
    standard_deviation_mpa: float | None,
    results_count: int,
    air_content_percent: float,
) -> Answer:
    found = target.target_mean_bre(
        characteristic_strength_mpa,
        defective_percent=defective_percent,
        standard_deviation_mpa=standard_deviation_mpa,
        results_count=results_count,
        air_content_percent=air_content_percent,
    )
    read = found.from_line == "A" and characteristic_strength_mpa in target.BRE_S_READ_FOR_MPA
    figure = target.BRE_S_READ if read else target.BRE_FIG_3
    words = f"standard deviation, line {found.from_line} of Fig. 3" if found.from_line else "standard deviation, own"
    why = [
        Step(words, found.standard_deviation_mpa, "N/mm²", figure if found.from_line else _OWN),
        Step("k", found.k, "1", target.BRE_K_READ if defective_percent == 5 else target.BRE_MARGIN),
        Step("margin = k s", found.margin_mpa, "N/mm²", target.BRE_MARGIN),
    ]
    if air_content_percent > 0:
        why.append(Step("1 − 0.055 a", 1 - 0.055 * air_content_percent, "1", target.BRE_AIR))
    why.append(Step("target mean strength", found.target_mean_strength_mpa, "N/mm²", target.BRE_MARGIN))
    result = {
        "standard_deviation_mpa": found.standard_deviation_mpa,
        "margin_mpa": found.margin_mpa,
        "target_mean_strength_mpa": found.target_mean_strength_mpa,
    }
    return answered(result, why, (), ("Cubes.",))


def _strength(key: str, meaning: str) -> Number:
    return Number(key=key, meaning=meaning, unit="MPa", above=0, high=300)


def _deviation(meaning: str) -> Number:
    return Number(key="standard_deviation_mpa", meaning=meaning, unit="MPa", above=0, high=50, default=None)


_DEVIATION_OUT = Output(key="standard_deviation_mpa", meaning="the value used", unit="MPa")
_TARGET_OUT = Output(key="target_mean_strength_mpa", meaning="to aim at", unit="MPa")

CALCULATIONS = (
    Calculation(
        name="required-average-strength",
        title="Required average strength for proportioning",
        method="With a record of 15 tests or more: the larger of f'c + 1.34 S and f'c + 2.33 S − 3.5 (over 35 MPa: "
        "0.90 f'c + 2.33 S), S the deviation times a factor for fewer than 30 tests. Without: f'c + 7.0 below 21 MPa, "
        "+ 8.3 up to 35 MPa, 1.10 f'c + 5.0 above.",
        source=target.ACI_RECORD,
        inputs=(
            _strength("specified_strength_mpa", "f'c, cylinder"),
            _deviation("of a record of a like mix; absent when there is no record"),
            Number(
                key="test_results_count",
                meaning="tests behind the deviation, needed with it; below 15 the record is not used",
                unit="",
                low=1,
                high=1_000_000,
                whole=True,
                default=None,
            ),
        ),
        outputs=(
            Output(key="required_average_strength_mpa", meaning="f'cr, not rounded", unit="MPa"),
            Output(key="basis", meaning="standard-deviation, no-data"),
            Output(
                key="modification_factor",
                meaning="1.16 at 15, 1.08 at 20, 1.03 at 25, 1.00 from 30 tests, linear between; absent for no-data",
                unit="1",
            ),
        ),
        answer=_required,
    ),
    Calculation(
        name="target-mean-strength-is-10262",
        title="Target mean strength",
        method="The larger of fck + 1.65 S and fck + X; S assumed by grade where none is established.",
        source=target.IS_TARGET,
        inputs=(
            Number(key="characteristic_strength_mpa", meaning="fck, cube", unit="N/mm²", low=10, high=100),
            _deviation("established; else Table 2"),
        ),
        outputs=(_TARGET_OUT, _DEVIATION_OUT),
        answer=_is,
    ),
    Calculation(
        name="target-mean-strength-bre",
        title="Target mean strength by the British method",
        method="fm = fc + k s; s by Fig. 3 (line A with fewer than 20 results, own but not below line B with more); "
        "divided by 1 − 0.055 a with entrained air.",
        source=target.BRE_MARGIN,
        inputs=(
            _strength("characteristic_strength_mpa", "fc, cube"),
            Size(
                key="defective_percent",
                meaning="share of results allowed below fc",
                unit="%",
                options=tuple(target.BRE_K),
                default=5.0,
            ),
            _deviation("of the site's own results"),
            Number(
                key="results_count",
                meaning="results behind the deviation",
                unit="",
                low=0,
                high=1_000_000,
                whole=True,
                default=0,
            ),
            Number(key="air_content_percent", meaning="entrained air", unit="%", low=0, high=12, default=0.0),
        ),
        outputs=(
            _DEVIATION_OUT,
            Output(key="margin_mpa", meaning="k s", unit="MPa"),
            _TARGET_OUT,
        ),
        answer=_bre,
    ),
)
