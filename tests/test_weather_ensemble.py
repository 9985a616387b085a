"""Laws of the ensemble about a forecast: no spread, mean, spread, correlation, rain, bounds, and what a seed fixes."""

import datetime as dt
import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from test_weather_series import START, series
from wetfront.errors import InvalidInput
from wetfront.nouns.weather import ForecastSpread
from wetfront.weather.ensemble import LEAST_MEAN_MM_PER_H, SPELL_H, Members, ensemble_of, growth, lead_h, members

SPREAD = ForecastSpread(
    temperature_c=1.5,
    dew_point_c=1.5,
    wind_percent=25.0,
    cloud_percent=20.0,
    growth_percent_per_day=20.0,
    correlation_h=12.0,
)
NONE = replace(SPREAD, temperature_c=0.0, dew_point_c=0.0, wind_percent=0.0, cloud_percent=0.0)
MANY = 4000
COLUMNS = [column.name for column in fields(Members)]
PERTURBED = [name for name in COLUMNS if name != "rain_mm"]


def drawn(forecast, spread=SPREAD, seed=7, count=MANY) -> Members:
    return members(ensemble_of(forecast, spread, seed, count))


def random_series(seed: int, rows: int = 60):
    chance = np.random.default_rng(seed)
    return series(
        rows,
        air_temperature_c=chance.uniform(-25, 45, rows),
        relative_humidity_percent=chance.uniform(1, 100, rows),
        wind_speed_m_per_s=chance.uniform(0, 25, rows),
        wind_gust_m_per_s=chance.uniform(0, 40, rows),
        rain_mm=chance.uniform(0, 5, rows) * (chance.uniform(size=rows) < 0.3),
        rain_probability_percent=chance.uniform(0, 100, rows),
        cloud_cover_percent=chance.uniform(0, 100, rows),
    )


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_without_spread_every_member_is_the_forecast_to_the_last_bit(seed):
    forecast = random_series(seed)
    got = drawn(forecast, NONE, seed, 5)
    for name in PERTURBED:
        assert np.array_equal(getattr(got, name), np.broadcast_to(getattr(forecast, name), (5, 60))), name


def test_member_0_keeps_the_forecast_but_draws_its_rain():
    forecast = random_series(3)
    got = drawn(forecast, count=1)
    for name in PERTURBED:
        assert np.array_equal(getattr(got, name)[0], getattr(forecast, name)), name
    assert not np.array_equal(got.rain_mm[0], forecast.rain_mm)


@pytest.mark.parametrize("hour", [0, 24, 71, 120])
def test_temperature_has_the_stated_mean_and_spread_at_each_lead(hour):
    forecast = series(121, air_temperature_c=np.linspace(5, 30, 121))
    errors = drawn(forecast).air_temperature_c[1:, hour] - forecast.air_temperature_c[hour]
    stated = 1.5 * (1 + 0.2 * (hour / 24 - 1))
    assert abs(errors.mean()) < 4 * stated / math.sqrt(MANY)
    assert errors.std() == pytest.approx(stated, rel=0.05)


@pytest.mark.parametrize("column", ["wind_speed_m_per_s", "wind_gust_m_per_s"])
def test_wind_keeps_the_forecast_in_the_mean_and_varies_by_the_stated_share(column):
    got = getattr(drawn(series(49)), column)[1:, 48]
    usual = getattr(series(49), column)[48]
    assert got.mean() == pytest.approx(usual, rel=4 * 0.3 / math.sqrt(MANY))
    assert got.std() / usual == pytest.approx(0.25 * 1.2, rel=0.06)
    assert np.log(got).std() == pytest.approx(math.sqrt(math.log1p(0.3**2)), rel=0.05)


def test_the_dew_point_varies_by_the_stated_spread_and_not_with_the_temperature():
    """In air far from saturation nothing is cut off: the drawn humidity gives back the drawn dew point."""
    got = drawn(series(25, air_temperature_c=25.0, relative_humidity_percent=30.0))
    exponent = 17.3 * got.air_temperature_c / (237.3 + got.air_temperature_c) + np.log(
        got.relative_humidity_percent / 100
    )
    dew_c = (237.3 * exponent / (17.3 - exponent))[1:, 24]
    assert dew_c.std() == pytest.approx(1.5, rel=0.05)
    assert dew_c.mean() == pytest.approx(6.24, abs=0.1)  # 25 °C, 30 %: any psychrometric chart
    assert abs(np.corrcoef(dew_c, got.air_temperature_c[1:, 24])[0, 1]) < 4 / math.sqrt(MANY)


def test_errors_forget_themselves_as_stated_and_streams_know_nothing_of_each_other():
    got = drawn(series(60, rain_probability_percent=50.0))
    air, wind = got.air_temperature_c[1:] - 20.0, np.log(got.wind_speed_m_per_s[1:])
    for apart in (1, 6, 12, 24):
        seen = np.corrcoef(air[:, 20], air[:, 20 + apart])[0, 1]
        assert seen == pytest.approx(math.exp(-apart / 12), abs=0.05)
    assert abs(np.corrcoef(air[:, 30], wind[:, 30])[0, 1]) < 4 / math.sqrt(MANY)
    assert abs(np.corrcoef(air[:, 30], got.rain_mm[1:, 30])[0, 1]) < 4 / math.sqrt(MANY)


def test_the_share_of_wet_members_is_the_probability_of_rain_in_each_hour():
    chance = np.linspace(0, 100, 41)
    got = drawn(series(41, rain_probability_percent=chance, rain_mm=2.0 * (chance > 50)))
    error = np.sqrt(np.maximum(chance / 100 * (1 - chance / 100), 1e-9) / MANY)
    assert (np.abs((got.rain_mm > 0).mean(axis=0) - chance / 100) <= 4 * error).all()


def test_rain_keeps_the_amount_in_the_mean_and_is_exponential_where_it_falls():
    got = drawn(series(30, rain_probability_percent=40.0, rain_mm=0.8)).rain_mm[:, 20]
    wet = got[got > 0]
    assert got.mean() == pytest.approx(0.8, rel=0.1)
    assert wet.mean() == pytest.approx(2.0, rel=0.08) and wet.std() == pytest.approx(2.0, rel=0.12)
    drizzle = drawn(series(30, rain_probability_percent=40.0, rain_mm=0.0)).rain_mm[:, 20]
    assert drizzle[drizzle > 0].mean() == pytest.approx(LEAST_MEAN_MM_PER_H, rel=0.08)


def test_rain_comes_in_spells_of_six_hours_in_the_mean():
    """With an even chance two hours of one spell agree; of two spells they agree half the time."""
    wet = drawn(series(60, rain_probability_percent=50.0)).rain_mm > 0
    for apart in (1, 6, 12):
        together = (1 - 1 / SPELL_H) ** apart
        assert (wet[:, 30] == wet[:, 30 + apart]).mean() == pytest.approx(together + (1 - together) / 2, abs=0.03)


def test_an_amount_without_probability_and_a_series_without_probabilities_are_taken_at_their_word():
    told = series(5, rain_probability_percent=np.array([0, 0, 0.5, 50, 100.0]), rain_mm=np.array([0, 3, 3, 0, 0.0]))
    rain = drawn(told, count=200).rain_mm
    assert (rain[:, :3] == [0, 3, 3]).all() and (rain[:, 4] > 0).all()
    bare = replace(told, rain_probability_percent=None, cloud_cover_percent=None, solar_irradiance_w_per_m2=None)
    got = drawn(bare, count=9)
    assert (got.rain_mm == told.rain_mm).all()
    assert got.cloud_cover_percent is None and got.solar_irradiance_w_per_m2 is None


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    wide=st.floats(0, 5),
    wind=st.floats(0, 100),
    growing=st.floats(0, 30),
    correlation=st.floats(0.01, 240),
)
def test_members_stay_within_what_air_can_be(seed, wide, wind, growing, correlation):
    spread = ForecastSpread(
        temperature_c=wide,
        dew_point_c=wide,
        wind_percent=wind,
        cloud_percent=50.0,
        growth_percent_per_day=growing,
        correlation_h=correlation,
    )
    got = drawn(random_series(seed, 300), spread, seed, 20)
    for name in COLUMNS:
        assert np.isfinite(getattr(got, name)).all(), name
    assert (got.relative_humidity_percent > 0).all() and (got.relative_humidity_percent <= 100).all()
    assert (got.cloud_cover_percent >= 0).all() and (got.cloud_cover_percent <= 100).all()
    assert (got.rain_mm >= 0).all() and (got.wind_speed_m_per_s >= 0).all()
    still = random_series(seed, 300).wind_speed_m_per_s
    moving = random_series(seed, 300).wind_gust_m_per_s
    assert np.allclose(got.wind_gust_m_per_s * still, got.wind_speed_m_per_s * moving)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**64 - 1), first=st.integers(0, 20), count=st.integers(0, 20), hours=st.integers(1, 60))
def test_a_member_depends_on_seed_and_number_alone(seed, first, count, hours):
    """Whoever draws it, however many there are, however far the series reaches: the same bits."""
    forecast = random_series(5)
    whole = drawn(forecast, seed=seed, count=40)
    more = drawn(forecast, seed=seed, count=60)
    part = members(ensemble_of(forecast, SPREAD, seed, 40), first, count, hours)
    for name in COLUMNS:
        assert np.array_equal(getattr(more, name)[:40], getattr(whole, name)), name
        assert np.array_equal(getattr(part, name), getattr(whole, name)[first : first + count, :hours]), name


def test_other_seeds_give_other_weather_and_equal_ensembles_equal_keys():
    forecast = random_series(5)
    one, same, other = (ensemble_of(forecast, SPREAD, seed, 3) for seed in (1, 1, 2))
    assert not np.array_equal(members(one).air_temperature_c, members(other).air_temperature_c)
    assert one.key == same.key != other.key
    assert one.key != ensemble_of(forecast, replace(SPREAD, wind_percent=26.0), 1, 3).key
    assert one.key != ensemble_of(replace(forecast, rain_mm=forecast.rain_mm + 1), SPREAD, 1, 3).key


def test_lead_counts_from_the_issue_and_the_past_has_no_error():
    forecast = series(48)
    made = replace(forecast, issued=START + dt.timedelta(hours=10))
    assert (lead_h(forecast)[[0, 24]] == [0, 24]).all() and (lead_h(made)[[0, 10, 34]] == [-10, 0, 24]).all()
    earlier = replace(forecast, issued=START - dt.timedelta(hours=12))
    assert lead_h(earlier)[0] == 12
    got = drawn(made, count=50)
    for name in COLUMNS:
        assert (getattr(got, name)[:, :10] == getattr(made, name)[:10]).all(), name
    assert got.air_temperature_c[1:, 10:].std() > 0.5


def test_spread_grows_by_the_day_and_no_further_than_ten():
    assert growth(np.array([-1.0, 0, 24, 72, 240, 800]), SPREAD).tolist() == pytest.approx([0, 0.8, 1, 1.4, 2.8, 2.8])


def test_refusals_name_what_is_wrong():
    with pytest.raises(InvalidInput, match="members_count is 0"):
        ensemble_of(series(), SPREAD, 1, 0)
    with pytest.raises(InvalidInput, match="seed"):
        ensemble_of(series(), SPREAD, -1, 3)
    with pytest.raises(InvalidInput, match="members 2 to 5 of 3"):
        members(ensemble_of(series(), SPREAD, 1, 3), 2, 3)
