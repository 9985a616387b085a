"""A plan judged on weathers drawn about the forecast: what each replication meets, what is told, what stays."""

import datetime as dt
import shutil
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import SEED, checked, situation, small_slab, wall_panel
from sheets import TARNWICK, written
from wetfront.desk.plan_pour import plan_one
from wetfront.errors import OutOfRange, SheetError
from wetfront.intake import read_sheet
from wetfront.nouns.plan import Verdict
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.conditions import weather_against
from wetfront.planning.hourly import evaporation_by_hour
from wetfront.planning.judge import RISK_KEYS, evaluate, run
from wetfront.planning.members import DayMembers
from wetfront.planning.rain import is_harmed
from wetfront.planning.search import Bench, search
from wetfront.planning.thermal import fresh_temperature_c, thermal_of
from wetfront.planning.weather_shares import evaporation_by_weather, spread_of
from wetfront.weather.ensemble import ensemble_of
from wetfront.weather.evaporation import evaporation_rate, holds

RAIN = RISK_KEYS.index("rain_on_fresh_surface")
ISSUED = "2027-06-14T12:00:00+01:00"
CERTAIN = {"temperature_spread_c": 0.0, "dew_point_spread_c": 0.0, "wind_spread_percent": 0.0}


def with_weather(folder, tree, **keys):
    """The tree's first pour with these keys in [weather]."""
    sheet = checked(folder, tree)
    return replace(sheet, sheet=replace(sheet.sheet, weather=replace(sheet.sheet.weather, **keys)))


def candidates_of(there):
    return [way for order in placing_orders(there)[:3] if (way := nominal(there, order))]


@pytest.fixture(scope="module")
def slab(tmp_path_factory):
    return situation(checked(tmp_path_factory.mktemp("slab"), small_slab()))


def test_one_member_is_the_forecast_taken_as_certain(tmp_path):
    there = situation(with_weather(tmp_path, small_slab(), members_count=1))
    assert there.weather.drawn is None
    (sample, *_) = evaluate(there, candidates_of(there), SEED, 0, 20)
    # By the forecast alone rain is a chance, the same whenever the same hours are open.
    assert ((sample.failed[:, RAIN] > 0) & (sample.failed[:, RAIN] < 1)).all()
    assert len(np.unique(sample.failed[:, RAIN])) < 10


def test_weathers_without_spread_give_the_forecasts_plan_to_the_last_bit_but_for_rain(tmp_path):
    alone = situation(with_weather(tmp_path, small_slab(), members_count=1))
    drawn = situation(with_weather(tmp_path, small_slab(), **CERTAIN))
    ways = candidates_of(alone)
    others = [column for column in range(len(RISK_KEYS)) if column != RAIN]
    for one, other in zip(evaluate(alone, ways, SEED, 0, 40), evaluate(drawn, ways, SEED, 0, 40), strict=True):
        assert np.array_equal(one.cost, other.cost)
        assert np.array_equal(one.failed[:, others], other.failed[:, others])
        assert set(np.unique(other.failed[:, RAIN])) <= {0.0, 1.0}


def test_the_first_weather_is_the_forecast_in_every_table(slab):
    (way, *_) = candidates_of(slab)
    forecast, first = thermal_of(slab, way), thermal_of(slab, way, np.array([0]))
    for name in ("air_c", "fresh_c", "clock_min", "activation_k", "set_factor_sd", "slower_share"):
        assert np.array_equal(getattr(first, name), getattr(forecast, name)), name
    others = thermal_of(slab, way, np.arange(1, 60))
    assert others.fresh_c.std() > 0.1 and others.slower_share.std() > 0.001


@pytest.mark.parametrize("count", [5, 400])
def test_a_replication_meets_the_same_weather_whoever_simulates_it(tmp_path, count):
    """In one go, in pieces, alone or beside others, with fewer weathers than replications or more: the same bits."""
    there = situation(with_weather(tmp_path, small_slab(), members_count=count))
    ways = candidates_of(there)
    whole = evaluate(there, ways, SEED, 0, 30)
    pieces = [evaluate(there, ways, SEED, first, until - first) for first, until in ((0, 8), (8, 19), (19, 30))]
    for number, sample in enumerate(whole):
        joined = pieces[0][number].joined(pieces[1][number]).joined(pieces[2][number])
        assert np.array_equal(joined.cost, sample.cost) and np.array_equal(joined.failed, sample.failed)
        alone = evaluate(there, [ways[number]], SEED, 0, 30)[0]
        assert np.array_equal(alone.cost, sample.cost) and np.array_equal(alone.failed, sample.failed)


def test_colder_weathers_finish_later_and_warmer_ones_earlier(slab):
    """Replications of the coldest third of the weathers take longer to be finished than those of the warmest."""
    (way, *_) = candidates_of(slab)
    outcome = run(slab, way, SEED, 0, 300)
    air = thermal_of(slab, way, np.arange(300)).air_c[:, 80:120].mean(axis=1)  # afternoon and evening
    took = outcome.finishing_end_min - outcome.end_of_pour_min
    coldest, warmest = air < np.quantile(air, 1 / 3), air > np.quantile(air, 2 / 3)
    assert took[coldest].mean() > took[warmest].mean() + 10


def test_rain_harms_in_as_many_weathers_as_the_forecast_says(slab):
    """One hour of the forecast: harmful with chance times exp(-1 mm over the mean), as in the rule without weathers."""
    drawn = slab.weather.drawn
    many = replace(
        drawn, ensemble=ensemble_of(drawn.ensemble.forecast, drawn.ensemble.spread, drawn.ensemble.seed, 1000)
    )
    hour = int(slab.weather.rain_probability_percent.argmax())
    at = slab.weather.minutes[hour]
    found = is_harmed(many, 0, np.full(1000, at), np.full(1000, at + 60.0), 2.5)
    chance = slab.weather.rain_probability_percent[hour] / 100
    mean = max(slab.weather.rain_mm[hour] / chance, 0.5)
    expected = chance * np.exp(-1.0 / mean)
    assert abs(found.mean() - expected) < 4 * np.sqrt(expected * (1 - expected) / 1000)
    longer = is_harmed(many, 0, np.full(1000, at - 240.0), np.full(1000, at + 300.0), 2.5)
    assert (longer >= found).all() and longer.mean() > found.mean()


def test_rain_is_met_by_replication_number_modulo_the_weathers(slab):
    drawn = replace(slab.weather.drawn)
    few = replace(drawn, ensemble=ensemble_of(drawn.ensemble.forecast, drawn.ensemble.spread, drawn.ensemble.seed, 7))
    day = (np.full(30, 420.0), np.full(30, 1260.0))
    found = is_harmed(few, 0, *day, 2.5)
    assert np.array_equal(found[:7], found[7:14]) and np.array_equal(found[3:], is_harmed(few, 3, *day, 2.5)[:27])


def test_form_pressure_counts_a_morning_as_cold_as_in_one_weather_in_twenty(tmp_path):
    wide = situation(with_weather(tmp_path, wall_panel(), temperature_spread_c=3.0))
    usual = situation(with_weather(tmp_path, wall_panel()))
    alone = situation(with_weather(tmp_path, wall_panel(), members_count=1))
    sure = situation(with_weather(tmp_path, wall_panel(), temperature_spread_c=0.0))
    coldest = [there.lowest_concrete_c("") for there in (wide, usual, alone)]
    assert coldest[0] < coldest[1] < coldest[2] == sure.lowest_concrete_c("")
    assert usual.highest_rate()[0] < alone.highest_rate()[0]


def test_evaporation_of_the_first_weather_is_that_of_the_forecast(slab):
    (way, *_) = candidates_of(slab)
    times = [540.0, 660.0, 900.0, 1200.0]
    forecast = evaporation_by_hour(slab.weather, fresh_temperature_c(slab, way), times)
    assert evaporation_by_weather(slab, way, times)[0].tolist() == pytest.approx(forecast, abs=1e-12)


def gusty(folder, share: float):
    """The small slab whose boom is stowed at the gust that this share of the weathers reach while placing."""
    there = situation(checked(folder, small_slab()))
    drawn = there.weather.drawn.members
    strongest = drawn.gust_m_per_s[:, (drawn.minutes >= 490) & (drawn.minutes <= 720)].max(axis=1)
    stop = float(np.quantile(strongest, 1 - share))
    tree = small_slab()
    tree["specification"]["wind_stop_m_per_s"] = stop
    return checked(folder, tree)


def test_a_stop_by_wind_is_told_as_the_share_of_weathers_in_which_it_comes(tmp_path):
    """Seldom: told. One in five: be ready for it. In most: it speaks against the pour, though the forecast keeps it."""
    seen = {}
    for share in (0.01, 0.2, 0.8):
        sheet = gusty(tmp_path, share)
        there = situation(sheet)
        found = search(there, Bench(there, SEED), ((8, 4), (24, 1)))
        outcome = run(there, found.winner, SEED, 0, 24)
        plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, ((8, 4), (24, 1)))
        seen[share] = plan, weather_against(there, found.winner, outcome)
    rare, ready, likely = (seen[share][0] for share in (0.01, 0.2, 0.8))
    assert any("boom stowed" in text and "of 400 weathers" in text for text in rare.reasons)
    assert any("while the boom is stowed" in text for text in ready.measures)
    assert likely.verdict is Verdict.NO_GO and any("boom stowed" in text for text in likely.reasons[:2])
    assert [bool(seen[share][1]) for share in (0.01, 0.2, 0.8)] == [False, False, True]


def test_the_plan_tells_its_weathers_their_spread_and_the_band(tmp_path):
    sheet = with_weather(tmp_path, small_slab(), temperature_spread_c=2.0, spread_growth_percent_per_day=10.0)
    plan = plan_one(sheet, sheet.sheet.pour[0], None, None, SEED, ((8, 4), (24, 1)))
    told = plan.weather
    days = told.lead_h / 24
    assert told.members_count == 400 and 2.3 < days < 2.5
    assert told.temperature_spread_c == pytest.approx(2.0 * (1 + 0.1 * (days - 1)))
    assert "400 weathers" in told.sentence and "days after the first row of the forecast" in told.sentence
    (drying,) = [chart for chart in plan.charts if chart.title.startswith("Evaporation")]
    names = [name for name, _ in drying.lines]
    assert names == ["forecast", "weathers (5 %)", "weathers (95 %)"]
    forecast, low, high = (np.array(values, dtype=float) for _, values in drying.lines)
    assert (low < forecast).all() and (forecast < high).all()
    certain = with_weather(tmp_path, small_slab(), members_count=1)
    plan = plan_one(certain, certain.sheet.pour[0], None, None, SEED, ((8, 4), (24, 1)))
    assert plan.weather is None
    assert spread_of(situation(certain), candidates_of(situation(certain))[0]) is None


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("members_count", 0),
        ("members_count", 1001),
        ("temperature_spread_c", -0.1),
        ("temperature_spread_c", 5.1),
        ("dew_point_spread_c", 6.0),
        ("wind_spread_percent", 101.0),
        ("cloud_spread_percent", 51.0),
        ("spread_growth_percent_per_day", 31.0),
        ("error_correlation_h", 0.0),
    ],
)
def test_a_spread_outside_its_range_is_refused_by_its_key(tmp_path, key, value):
    tree = {**small_slab(), "weather": {"forecast": "weather-forecast.csv", key: value}}
    with pytest.raises(SheetError, match=rf"weather\.{key}"):
        read_sheet(written(tmp_path, tree))


def test_a_forecast_issued_after_its_own_end_is_refused(tmp_path):
    """Every hour would lie in its past and be certain: harmful rain, for one, would not be counted at all."""
    shutil.copy(TARNWICK / "weather-forecast.csv", tmp_path)
    late = dt.datetime(2027, 7, 14, 12, tzinfo=dt.UTC)
    tree = {**small_slab(), "weather": {"forecast": "weather-forecast.csv", "issued_local": late}}
    with pytest.raises(SheetError, match=r"weather\.issued_local.*before the last hour of weather-forecast.csv"):
        read_sheet(written(tmp_path, tree))


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32), tenths=st.lists(st.integers(-5000, 40_000), min_size=1, max_size=20))
def test_a_weather_is_read_between_its_hours_as_the_forecast_is(seed, tenths):
    """Bit for bit as numpy's interp reads one row, and like it at rest beyond the first and the last hour."""
    hours = -60.0 + 60.0 * np.arange(30)
    columns = np.random.default_rng(seed).uniform(-20, 40, (4, 30))
    members = DayMembers(**{column.name: columns for column in fields(DayMembers)} | {"minutes": hours})
    at = np.array(tenths) / 10
    expected = np.array([np.interp(at, hours, row) for row in columns])
    assert np.array_equal(members.at(at, columns), expected)


@settings(max_examples=80, deadline=None)
@given(st.floats(-20, 60), st.floats(-10, 110), st.floats(-10, 60), st.floats(-5, 40))
def test_evaporation_holds_exactly_where_it_is_not_refused(air, humidity, concrete, wind):
    try:
        evaporation_rate(air, humidity, concrete, wind)
    except OutOfRange:
        assert not holds(air, humidity, concrete, wind)
    else:
        assert holds(air, humidity, concrete, wind)
