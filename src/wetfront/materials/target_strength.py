"""The average strength to aim at, so that the specified one is met: by ACI, by IS 10262 and by the British method.

ACI counts in cylinders, the other two in cubes; none of them converts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source

ACI_RECORD = Source(
    "ACI 318-14 and ACI 301, required average strength with a record (read in US units)", Provenance.PUBLISHED
)
ACI_NO_RECORD = Source("ACI 318M-08, Table 5.3.2.2 (read in US units, and rounded in SI)", Provenance.PUBLISHED)
ACI_NO_RECORD_HIGH = Source("ACI 318M-08, Table 5.3.2.2: 1.10 f'c + 5.0 above 35 MPa", Provenance.MEMORY)
ACI_FACTOR = Source("ACI 318, factor on the deviation of fewer than 30 tests", Provenance.PUBLISHED)
FEWEST_TESTS = 15
"""A shorter record is not used (ACI 318)."""
_TESTS, _FACTORS = (15, 20, 25, 30), (1.16, 1.08, 1.03, 1.00)
_STEP_MPA = 35.0
"""Up to here the second equation subtracts 3.5 MPa, above it takes 0.90 of the strength (ACI_RECORD)."""
_LOW_MPA = 21.0

IS_TARGET = Source("IS 10262:2019, 4.2: larger of fck + 1.65 S and fck + X, Table 1", Provenance.PUBLISHED)
IS_DEVIATION = Source("IS 10262:2019, Table 2, assumed standard deviation", Provenance.PUBLISHED)
IS_X_MPA = ((15.0, 5.0), (25.0, 5.5), (60.0, 6.5), (100.0, 8.0))
"""Up to this characteristic strength -> X (IS_TARGET)."""
IS_DEVIATION_MPA = ((15.0, 3.5), (25.0, 4.0), (60.0, 5.0), (80.0, 6.0))
"""Up to this characteristic strength -> S for good site control (IS_DEVIATION)."""

BRE_FIG_3 = Source("Design of normal concrete mixes, BRE BR 331, 2nd ed. 1997, Fig. 3", Provenance.MEMORY)
BRE_S_READ = Source("worked forms of the British method: s = 8 N/mm² without a record", Provenance.PUBLISHED)
BRE_S_READ_FOR_MPA = (25.0, 40.0)
"""Strengths for which line A was read in them."""
BRE_MARGIN = Source("Design of normal concrete mixes, BRE BR 331, 2nd ed. 1997, C1, C2", Provenance.MEMORY)
BRE_K_READ = Source("worked form of the British method: k = 1.64 for 5 % defective", Provenance.PUBLISHED)
BRE_AIR = Source("BRE BR 331, 2nd ed. 1997: mean / (1 − 0.055 a) with entrained air a %", Provenance.MEMORY)
BRE_K = {10.0: 1.28, 5.0: 1.64, 2.5: 1.96, 1.0: 2.33}
"""Percent defective -> k."""
_BRE_FEWEST_RESULTS = 20
_BRE_KNEE_MPA = 20.0
"""Up to here lines A and B rise with the strength, 0.4 and 0.2 of it; from here they are level, 8 and 4 N/mm²."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AciTarget:
    """f'cr, and whether a record stands behind it."""

    required_average_strength_mpa: float
    basis: Literal["standard-deviation", "no-data"]
    modification_factor: float | None
    source: Source


def required_average_strength(
    specified_strength_mpa: float,
    standard_deviation_mpa: float | None = None,
    test_results_count: int | None = None,
) -> AciTarget:
    """f'cr [MPa] for a specified cylinder strength; from 15 tests on by their deviation, else by the table.

    InvalidInput names test_results_count where a deviation comes without it.
    Source: ACI 318-14, ACI 301; without a record ACI 318M-08, Table 5.3.2.2.
    """
    strength = specified_strength_mpa
    if standard_deviation_mpa is not None and test_results_count is None:
        raise InvalidInput(
            "test_results_count", "test_results_count is missing: a deviation counts only with the number of its tests"
        )
    record = standard_deviation_mpa is not None and (test_results_count or 0) >= FEWEST_TESTS
    if record and standard_deviation_mpa is not None and test_results_count is not None:
        factor = float(np.interp(test_results_count, _TESTS, _FACTORS))
        deviation = factor * standard_deviation_mpa
        second = strength + 2.33 * deviation - 3.5 if strength <= _STEP_MPA else 0.90 * strength + 2.33 * deviation
        return AciTarget(
            required_average_strength_mpa=max(strength + 1.34 * deviation, second),
            basis="standard-deviation",
            modification_factor=factor,
            source=ACI_RECORD,
        )
    if strength > _STEP_MPA:
        found, source = 1.10 * strength + 5.0, ACI_NO_RECORD_HIGH
    else:
        found, source = strength + (7.0 if strength < _LOW_MPA else 8.3), ACI_NO_RECORD
    return AciTarget(required_average_strength_mpa=found, basis="no-data", modification_factor=None, source=source)


@dataclass(frozen=True, slots=True, kw_only=True)
class IsTarget:
    """Target mean strength of cubes."""

    target_mean_strength_mpa: float
    standard_deviation_mpa: float
    by_deviation_mpa: float
    """fck + 1.65 S."""
    by_least_margin_mpa: float
    """fck + X."""


def target_mean_is(characteristic_strength_mpa: float, standard_deviation_mpa: float | None = None) -> IsTarget:
    """The larger of fck + 1.65 S and fck + X [MPa], 10 to 100 MPa; S is assumed where none is established.

    OutOfRange names characteristic_strength_mpa out of that range; InvalidInput names standard_deviation_mpa above
    80 MPa, where the table has none.
    Source: IS 10262:2019, 4.2, Tables 1 and 2.
    """
    strength = characteristic_strength_mpa
    if not 10 <= strength <= 100:
        raise OutOfRange("characteristic_strength_mpa", strength, "from 10 to 100 MPa", "IS 10262:2019, 4.2,")
    deviation = standard_deviation_mpa
    if deviation is None:
        deviation = _row(IS_DEVIATION_MPA, strength)
    if deviation is None:
        raise InvalidInput(
            "standard_deviation_mpa",
            f"standard_deviation_mpa is missing: IS 10262:2019, Table 2, has none above 80 MPa, here {strength:g} MPa",
        )
    least = _row(IS_X_MPA, strength) or 0.0
    by_deviation, by_least = strength + 1.65 * deviation, strength + least
    return IsTarget(
        target_mean_strength_mpa=max(by_deviation, by_least),
        standard_deviation_mpa=deviation,
        by_deviation_mpa=by_deviation,
        by_least_margin_mpa=by_least,
    )


def _row(rows: Sequence[tuple[float, float]], strength_mpa: float) -> float | None:
    return next((value for up_to, value in rows if strength_mpa <= up_to), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class BreTarget:
    """Target mean strength of cubes by the British method."""

    standard_deviation_mpa: float
    margin_mpa: float
    target_mean_strength_mpa: float
    k: float
    from_line: Literal["A", "B", ""]
    """The line of Fig. 3 that gave the deviation; empty where it is the site's own."""


def target_mean_bre(
    characteristic_strength_mpa: float,
    *,
    defective_percent: float = 5.0,
    standard_deviation_mpa: float | None = None,
    results_count: int = 0,
    air_content_percent: float = 0.0,
) -> BreTarget:
    """fm = fc + k s, over 1 − 0.055 a with entrained air [N/mm², cubes].

    s: line A of Fig. 3 with fewer than 20 results, or the own deviation where that is larger; from 20 results on the
    own deviation, but not below line B. InvalidInput names standard_deviation_mpa where 20 results come without it;
    OutOfRange names defective_percent that has no k.
    Source: BRE BR 331, 2nd ed. 1997, C1, C2, Fig. 3.
    """
    if defective_percent not in BRE_K:
        raise OutOfRange("defective_percent", defective_percent, "10, 5, 2.5 or 1 %", "BRE BR 331, C1,")
    risen = min(characteristic_strength_mpa, _BRE_KNEE_MPA)
    enough = results_count >= _BRE_FEWEST_RESULTS
    if enough and standard_deviation_mpa is None:
        raise InvalidInput(
            "standard_deviation_mpa", f"standard_deviation_mpa is missing, with {results_count} results behind it"
        )
    line = (0.2 if enough else 0.4) * risen
    own = standard_deviation_mpa or 0.0
    deviation = max(line, own)
    k = BRE_K[defective_percent]
    return BreTarget(
        standard_deviation_mpa=deviation,
        margin_mpa=k * deviation,
        target_mean_strength_mpa=(characteristic_strength_mpa + k * deviation) / (1 - 0.055 * air_content_percent),
        k=k,
        from_line="" if own > line else "B" if enough else "A",
    )
