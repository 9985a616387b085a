"""The absolute-volume method against 1030 published laboratory mixes."""

from pathlib import Path

import numpy as np
import pytest

from measured_mixes import RELATIVE_DENSITIES, closure_svg, measured_mixes, parts_volume_l
from wetfront.materials.absolute_volume import fine_aggregate
from wetfront.materials.aci_211 import STRENGTHS_MPA, water_cement_ratio

PICTURE = Path(__file__).parent.parent / "docs" / "pictures" / "volume-closure.svg"
MIXES = measured_mixes()


def test_the_set_is_the_published_one():
    rows = np.column_stack(list(MIXES.values()))
    assert rows.shape == (1030, 9)
    assert len(np.unique(rows, axis=0)) == 1005
    assert (MIXES["age_d"].min(), MIXES["age_d"].max()) == (1, 365)


def test_parts_of_measured_mixes_fill_the_cubic_metre_but_for_the_air():
    """Mean and spread as found before (983 ± 16 l, 937 to 1027): usual densities, so each mix is off by a little."""
    volumes = parts_volume_l(MIXES)
    assert volumes.mean() == pytest.approx(983, abs=1)
    assert volumes.std() == pytest.approx(16, abs=1)
    assert volumes.min() == pytest.approx(937, abs=1)
    assert volumes.max() == pytest.approx(1027, abs=1)
    assert np.mean((volumes > 950) & (volumes < 1010)) > 0.9


def test_the_method_finds_the_sand_of_measured_mixes():
    """With the air that is left to 1 m³ the sand comes out as weighed; with 1.7 % within 43 kg for two in three."""
    volumes = parts_volume_l(MIXES)
    found = []
    for row, volume_l in enumerate(volumes):
        parts = {name: float(MIXES[name][row]) for name in RELATIVE_DENSITIES}
        binder = {
            "water_kg_per_m3": parts["water_kg_per_m3"],
            "cement_kg_per_m3": parts["cement_kg_per_m3"],
            "coarse_aggregate_kg_per_m3": parts["coarse_aggregate_kg_per_m3"],
            "fine_relative_density": 2.63,
            "coarse_relative_density": 2.68,
            # slag and ash as one addition of the density that gives their volume
            "addition_kg_per_m3": parts["slag_kg_per_m3"] + parts["fly_ash_kg_per_m3"],
            "addition_relative_density": _blend(parts["slag_kg_per_m3"], parts["fly_ash_kg_per_m3"]),
            "admixture_kg_per_m3": parts["superplasticizer_kg_per_m3"],
        }
        exact = fine_aggregate(air_content_percent=100 - volume_l / 10, **binder)
        assert exact.fine_aggregate_kg_per_m3 == pytest.approx(parts["fine_aggregate_kg_per_m3"], abs=1e-6)
        usual = fine_aggregate(air_content_percent=1.7, **binder)
        found.append(usual.fine_aggregate_kg_per_m3 - parts["fine_aggregate_kg_per_m3"])
    assert np.mean(np.abs(found) < 43) > 0.66


def _blend(slag: float, ash: float) -> float:
    return (slag + ash) / (slag / 2.9 + ash / 2.3) if slag + ash else 2.3


def test_the_table_of_ratios_is_on_the_safe_side_of_measured_plain_cement_mixes():
    """80 plain-cement results at 28 days: ln fc = 4.90 - 2.60 w/c, over the table's strengths by a tenth to a sixth."""
    plain = (MIXES["slag_kg_per_m3"] == 0) & (MIXES["fly_ash_kg_per_m3"] == 0) & (MIXES["age_d"] == 28)
    ratio = MIXES["water_kg_per_m3"][plain] / MIXES["cement_kg_per_m3"][plain]
    slope, level = np.polyfit(ratio, np.log(MIXES["compressive_strength_mpa"][plain]), 1)
    assert (plain.sum(), round(level, 2), round(slope, 2)) == (80, 4.90, -2.60)
    for strength in STRENGTHS_MPA:
        measured = np.exp(level + slope * water_cement_ratio(strength).water_cement_ratio)
        assert 1.09 < measured / strength < 1.15, strength


def test_the_picture_of_the_documentation_is_what_the_code_draws():
    assert PICTURE.read_text(encoding="utf-8") == closure_svg()
