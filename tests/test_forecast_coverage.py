"""The bands of the forecast hold on pours whose course is hidden, and narrow as the loads go in."""

from itertools import pairwise

import numpy as np
import pytest

from hidden_pours import after_load, draws_of, hidden_pour, measured_at, needed_m3, record_at
from wetfront.forecast.under_way import under_way
from wetfront.placing.core.prepared import simulate
from wetfront.placing.simulate import trace

POURS, MEMBERS = 60, 300
LEAST_WITHIN = 47
"""Of 60 with nine in ten: fewer come about twice in a thousand."""


@pytest.fixture(scope="module")
def found():
    model = hidden_pour()
    truth, draws = draws_of(model, 2027, POURS), draws_of(model, 5, MEMBERS)
    rows = []
    for number in range(POURS):
        pour = trace(model, truth, number)
        measured = measured_at(model, pour, number)
        for loads in (1, 10, 20, 30):
            way = under_way(model, draws, record_at(model, pour, after_load(pour, loads) + 1e-6, measured))
            outcome = simulate(way.model, way.chance)
            for name, values, true in (
                ("end", outcome.end_of_pour_min, pour.outcome.end_of_pour_min[0]),
                ("remaining", way.remaining_m3, needed_m3(model, pour) - way.taken_m3),
                ("margin", outcome.least_set_margin_min, pour.outcome.least_set_margin_min[0]),
            ):
                low, high = np.quantile(values, (0.05, 0.95))
                rows.append((name, loads, low - 1e-6 <= true <= high + 1e-6, high - low))
    return rows


@pytest.mark.parametrize("name", ["end", "remaining", "margin"])
@pytest.mark.parametrize("loads", [1, 10, 20, 30])
def test_nine_in_ten_hidden_pours_lie_in_the_band(found, name, loads):
    assert sum(within for what, after, within, _ in found if (what, after) == (name, loads)) >= LEAST_WITHIN


@pytest.mark.parametrize("name", ["end", "remaining", "margin"])
def test_the_bands_narrow(found, name):
    widths = [
        np.mean([width for what, after, _, width in found if (what, after) == (name, loads)])
        for loads in (1, 10, 20, 30)
    ]
    assert all(later <= earlier * 1.001 for earlier, later in pairwise(widths))
    assert widths[-1] < 0.6 * widths[0]
