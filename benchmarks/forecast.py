"""The forecast of a running pour: time from an entry to a complete forecast, and whether its bands hold.

`python -m benchmarks.forecast` takes 200 pours and writes docs/pictures/forecast-coverage.svg.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks.measure import Measure
from demo_day import FOLDER, candidate
from hidden_pours import after_load, draws_of, hidden_pour, measured_at, needed_m3, record_at
from running_pours import journal_of
from wetfront.dossier.svg import lettered, pt, svg_document
from wetfront.forecast import forecast_view, forecaster, standing
from wetfront.forecast.pour import Forecaster, forecast_of
from wetfront.forecast.record import record_of
from wetfront.forecast.under_way import learned_levels, under_way
from wetfront.intake.sheet import read_sheet
from wetfront.journal import fold
from wetfront.placing.core.prepared import simulate
from wetfront.placing.simulate import trace
from wetfront.planning.book_limits import laid_over
from wetfront.planning.day import day_of, weather_of
from wetfront.planning.situation import situation_of

THICKER_MM = 350
"""The demo's slab this thick is a pour of 300 m³."""
EVENTS_COUNT, MEMBERS_COUNT = 500, 500
REPEATS = 100
AFTER_LOADS = (1, 10, 20, 30)
QUANTITIES = ("end of placing", "remaining volume", "least joint margin")
PICTURE = Path(__file__).parent.parent / "docs" / "pictures" / "forecast-coverage.svg"


def run(pours_count: int = 40) -> Iterator[Measure]:
    """Latency of a forecast with 500 events and 500 members, then the cover of the bands."""
    yield from _latency()
    for row in coverage(pours_count):
        name = f"{row.quantity} after {row.loads} loads: pours of {pours_count} within the 90 % band"
        yield Measure(name, 100 * row.cover, "%")


def thick_slab() -> Forecaster:
    """300 m³ with the demo's site, day and weather."""
    checked = read_sheet(FOLDER / "slab.toml")
    pour = checked.sheet.pour[0]
    sheet = laid_over(checked.sheet, pour).sheet
    elements = tuple(replace(element, thickness_mm=THICKER_MM) for element in sheet.element)
    sheet = replace(sheet, element=elements)
    day = day_of(sheet, pour.date)
    assert checked.weather is not None
    weather = weather_of(checked.weather, day, day.trowelling_until_min)
    assert weather is not None
    chosen = candidate()
    chosen = replace(chosen, order=replace(chosen.order, layer_mm=float(THICKER_MM)))
    return forecaster(situation_of(sheet, pour, day, weather), chosen, 7, members_count=MEMBERS_COUNT)


def _latency() -> Iterator[Measure]:
    by = thick_slab()
    hidden = trace(by.model, draws_of(by.model, 99, 1), 0)
    events = journal_of(hidden, by.situation.day, EVENTS_COUNT)
    ends = np.sort(hidden.loads.end_min[hidden.loads.refused == 0])
    whole, filters = [], []
    for turn in range(REPEATS):
        # Full records at any hour of the pour: all events are folded, whatever the moment.
        now = by.situation.day.moment(float(ends[turn % (len(ends) - 1)]) + 1)
        begin = time.perf_counter()
        forecast = forecast_of(by, fold("slab", events), now)
        forecast_view(forecast), standing(forecast)
        whole.append(time.perf_counter() - begin)
        record = record_of(fold("slab", events), by.situation.day, now)
        begin = time.perf_counter()
        learned_levels(by.model, record)
        filters.append(time.perf_counter() - begin)
    yield Measure(
        f"entry to complete forecast, {len(events)} events, 99 %", 1e3 * float(np.quantile(whole, 0.99)), "ms"
    )
    yield Measure("entry to complete forecast, median", 1e3 * float(np.median(whole)), "ms")
    yield Measure("learning from all loads so far, 95 %", 1e3 * float(np.quantile(filters, 0.95)), "ms")


@dataclass(frozen=True, slots=True)
class Cover:
    """How often the hidden course lay within the band, and how wide that was."""

    quantity: str
    loads: int
    cover: float
    width: float


def coverage(pours_count: int, members_count: int = 500) -> list[Cover]:
    """Of hidden pours: end, remaining volume and least joint margin against the 90 % band, as the loads go in."""
    model = hidden_pour()
    truth, draws = draws_of(model, 99, pours_count), draws_of(model, 5, members_count)
    found: dict[tuple[str, int], list[tuple[bool, float]]] = {}
    for number in range(pours_count):
        pour = trace(model, truth, number)
        measured = measured_at(model, pour, number)
        for loads in AFTER_LOADS:
            way = under_way(model, draws, record_at(model, pour, after_load(pour, loads) + 1e-6, measured))
            outcome = simulate(way.model, way.chance)
            values = (outcome.end_of_pour_min, way.remaining_m3, outcome.least_set_margin_min)
            hidden = (
                float(pour.outcome.end_of_pour_min[0]),
                needed_m3(model, pour) - way.taken_m3,
                float(pour.outcome.least_set_margin_min[0]),
            )
            for name, column, true in zip(QUANTITIES, values, hidden, strict=True):
                low, high = np.quantile(column, (0.05, 0.95))
                found.setdefault((name, loads), []).append((low - 1e-6 <= true <= high + 1e-6, float(high - low)))
    return [
        Cover(name, loads, float(np.mean([hit for hit, _ in rows])), float(np.mean([width for _, width in rows])))
        for (name, loads), rows in sorted(found.items(), key=lambda each: (QUANTITIES.index(each[0][0]), each[0][1]))
    ]


def picture(rows: list[Cover], pours_count: int) -> str:
    """Two panels: share of pours within the band, and the band's width against that after the first load."""
    width, height, left, right, top, bottom = 516.0, 212.0, 40.0, 285.0, 24.0, 160.0
    parts = [lettered(2, 10, "within the 90 % band [%]"), lettered(right - 30, 10, "width, first load = 100 [%]")]
    wide, marks = 200.0, {"end of placing": "", "remaining volume": "6 3", "least joint margin": "2 2"}

    def at(panel: float, loads: float, share: float) -> tuple[float, float]:
        return panel + loads / 32 * wide, bottom - share * (bottom - top)

    low, high = at(left, 0, (85 - 70) / 30)[1], at(left, 0, (95 - 70) / 30)[1]
    parts.append(f'<rect x="{pt(left)}" y="{pt(high)}" width="{pt(wide)}" height="{pt(low - high)}" fill="#e4e4e4"/>')
    for panel, ticks in ((left, (70, 75, 80, 85, 90, 95, 100)), (right, (0, 25, 50, 75, 100))):
        parts.append(f'<path d="M{pt(panel)} {pt(top)}V{pt(bottom)}H{pt(panel + wide)}" fill="none" stroke="black"/>')
        for tick in ticks:
            share = (tick - ticks[0]) / (ticks[-1] - ticks[0])
            parts.append(lettered(panel - 4, at(panel, 0, share)[1] + 3, f"{tick}", "end"))
        parts += [lettered(at(panel, loads, 0)[0], bottom + 12, f"{loads}", "middle") for loads in AFTER_LOADS]
        parts.append(lettered(panel + wide / 2, bottom + 25, "loads placed", "middle"))
    said = []
    for name, dashes in marks.items():
        mine = [row for row in rows if row.quantity == name]
        at_x = left + 160 * len(said)
        dash = f' stroke-dasharray="{dashes}"' if dashes else ""
        parts.append(f'<path d="M{pt(at_x)} 203h26" stroke="black" stroke-width="1.4"{dash}/>')
        parts.append(lettered(at_x + 31, 206, name))
        said.append(f"{name}: " + ", ".join(f"{100 * row.cover:.1f} % after {row.loads}" for row in mine))
        for panel, shares in (
            (left, [(100 * row.cover - 70) / 30 for row in mine]),
            (right, [row.width / mine[0].width for row in mine]),
        ):
            points = [at(panel, row.loads, share) for row, share in zip(mine, shares, strict=True)]
            path = "M" + "L".join(f"{pt(x)} {pt(y)}" for x, y in points)
            parts.append(f'<path d="{path}" fill="none" stroke="black" stroke-width="1.4"{dash}/>')
            parts += [f'<circle cx="{pt(x)}" cy="{pt(y)}" r="2.2" fill="white" stroke="black"/>' for x, y in points]
    sentence = f"{pours_count} hidden pours of 300 m³. " + "; ".join(said) + ". Shaded: 85 to 95 %."
    return svg_document(width, height, "Do the bands of the forecast hold?", sentence, parts)


if __name__ == "__main__":
    COUNT = 200
    FOUND = coverage(COUNT)
    PICTURE.write_text(picture(FOUND, COUNT), encoding="utf-8")
    for line in FOUND:
        print(f"{line.quantity:20} {line.loads:3d} {100 * line.cover:5.1f} % {line.width:7.2f}")
