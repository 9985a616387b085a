"""Asking a weather series, windows within limits, and the sun."""

import datetime as dt
import math
import tomllib
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetfront.errors import InvalidInput, NoForecast, OutOfRange
from wetfront.nouns.weather import WeatherSeries
from wetfront.weather import (
    WeatherLimits,
    at,
    breaches,
    column_of_day,
    covers,
    evaporation_by_hour,
    evaporation_rate,
    sun_height_deg,
    sun_times,
    wind_at_height,
    windows,
)
from wetfront.weather.series import column_over, values_at
from wetfront.weather.sun import sun_place

ZONE = dt.timezone(dt.timedelta(hours=1))
START = dt.datetime(2027, 6, 15, 0, 0, tzinfo=ZONE)
HOUR = dt.timedelta(hours=1)
MEASURED = {
    study["id"]: study
    for study in tomllib.loads((Path(__file__).parent / "reference" / "measured.toml").read_text(encoding="utf-8"))[
        "study"
    ]
}


def series(rows: int = 48, start: dt.datetime = START, **columns) -> WeatherSeries:
    """An invented series: the given columns, calm mild values else."""
    usual = {
        "air_temperature_c": 20.0,
        "relative_humidity_percent": 50.0,
        "wind_speed_m_per_s": 3.0,
        "wind_gust_m_per_s": 5.0,
        "rain_mm": 0.0,
        "rain_probability_percent": 5.0,
        "cloud_cover_percent": 40.0,
        "solar_irradiance_w_per_m2": 0.0,
    }
    full = {key: np.broadcast_to(np.asarray(value, dtype=float), (rows,)) for key, value in (usual | columns).items()}
    return WeatherSeries(start=start, wind_height_m=10.0, **full)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-10, 40), min_size=2, max_size=30), st.floats(0, 1))
def test_value_at_a_moment_is_a_row_on_the_hour_and_between_its_neighbours_else(values, share):
    weather = series(len(values), air_temperature_c=values)
    for row, value in enumerate(values):
        assert at(weather, START + row * HOUR, "air_temperature_c") == pytest.approx(value, abs=1e-9)
    between = at(weather, START + share * HOUR, "air_temperature_c")
    assert between == pytest.approx(values[0] + share * (values[1] - values[0]), abs=1e-6)


def test_a_moment_of_another_time_zone_is_the_same_moment():
    weather = series(48, air_temperature_c=np.arange(48.0))
    moment = dt.datetime(2027, 6, 15, 9, 30, tzinfo=dt.UTC)
    assert at(weather, moment, "air_temperature_c") == 10.5


def test_outside_the_series_there_is_no_forecast_and_the_reach_is_told():
    weather = series(48)
    for moment in (START - dt.timedelta(seconds=1), START + 47 * HOUR + dt.timedelta(seconds=1)):
        with pytest.raises(
            NoForecast,
            match=r"no forecast for that day yet: .*from 2027-06-15 00:00\+01:00 to 2027-06-16 23:00\+01:00",
        ):
            at(weather, moment, "rain_mm")
    assert covers(weather, START, START + 47 * HOUR)
    assert not covers(weather, START, START + 48 * HOUR)
    assert not covers(weather, START + HOUR, START), "an end before the start is covered by nothing"


def test_a_moment_without_a_zone_is_refused():
    with pytest.raises(InvalidInput, match="time zone"):
        at(series(), dt.datetime(2027, 6, 15, 12, 0), "rain_mm")


def test_a_column_that_the_series_does_not_have_is_not_known():
    weather = WeatherSeries(
        start=START,
        wind_height_m=10,
        **dict.fromkeys(
            (
                "air_temperature_c",
                "relative_humidity_percent",
                "wind_speed_m_per_s",
                "wind_gust_m_per_s",
                "rain_mm",
            ),
            np.zeros(3),
        ),
    )
    with pytest.raises(NoForecast, match="rain_probability_percent"):
        at(weather, START, "rain_probability_percent")


def test_a_day_has_its_24_hours_and_the_day_after_the_series_has_none():
    weather = series(48, air_temperature_c=np.arange(48.0))
    hours, values = column_of_day(weather, dt.date(2027, 6, 16), "air_temperature_c")
    assert [hour.hour for hour in hours] == list(range(24))
    assert values.tolist() == list(range(24, 48))
    with pytest.raises(NoForecast):
        column_of_day(weather, dt.date(2027, 6, 17), "air_temperature_c")


@pytest.mark.parametrize(("day", "length"), [(28, 23), (27, 24)])
def test_the_clock_changes_in_the_night_and_no_hour_is_lost(day, length):
    """Berlin, 28 March 2027: 02:00 becomes 03:00."""
    berlin = ZoneInfo("Europe/Berlin")
    start = dt.datetime(2027, 3, 27, 0, 0, tzinfo=berlin)
    weather = series(24 + 23, start, air_temperature_c=np.arange(47.0))
    hours, values = column_of_day(weather, dt.date(2027, 3, day), "air_temperature_c")
    assert len(hours) == length
    assert values.tolist() == list(range((day - 27) * 24, (day - 27) * 24 + length))
    assert weather.end == dt.datetime(2027, 3, 28, 23, 0, tzinfo=berlin)
    assert at(weather, dt.datetime(2027, 3, 28, 12, 0, tzinfo=berlin), "air_temperature_c") == 24 + 11


def test_a_column_over_a_time_starts_where_it_was_asked():
    weather = series(48, air_temperature_c=np.arange(48.0))
    values = column_over(weather, START + 6.5 * HOUR, START + 9.5 * HOUR, "air_temperature_c")
    assert values.tolist() == [6.5, 7.5, 8.5, 9.5]
    minutes = np.array([0.0, 30.0, 90.0])
    assert values_at(weather, START + 6 * HOUR, minutes, "air_temperature_c").tolist() == [6.0, 6.5, 7.5]
    with pytest.raises(NoForecast):
        values_at(weather, START + 46 * HOUR, minutes, "air_temperature_c")


def test_evaporation_by_hour_brings_the_wind_down_to_the_surface():
    air = 18 + 8 * np.sin((np.arange(48) - 9) / 24 * 2 * np.pi)
    weather = series(48, air_temperature_c=air, wind_speed_m_per_s=6.0, relative_humidity_percent=40.0)
    hours, rates = evaporation_by_hour(weather, dt.date(2027, 6, 15), 27.0)
    for hour, rate, air_c in zip(hours, rates, air, strict=False):
        methods = [evaporation_rate(air_c, 40, 27, wind_at_height(6, 10), method) for method in ("uno", "menzel")]
        assert rate == pytest.approx(methods[0]) or rate == pytest.approx(methods[1])
        assert hour.date() == dt.date(2027, 6, 15)


def test_weather_for_which_the_equation_does_not_hold_is_refused_not_guessed():
    with pytest.raises(OutOfRange) as refused:
        evaporation_by_hour(series(48, air_temperature_c=-12.0), dt.date(2027, 6, 15), 15.0)
    assert refused.value.key == "air_temperature_c"


def test_a_morning_pour_is_judged_over_the_whole_day_and_shade_lowers_its_risk():
    """Direction of a measured study: after a morning cast the highest rate came 3 to 5 h later, shade halved it.

    The day is invented (hot coast); the surface in the open is warmed by the sun, the shaded one follows the air.
    """
    observed = {entry["name"]: entry for entry in MEASURED["evaporation-in-sun-and-shade"]["observed"]}
    hour = np.arange(24)
    daylight = np.clip(np.sin((hour - 6) / 12 * np.pi), 0, None)
    air = 29 + 7 * daylight
    weather = series(24, air_temperature_c=air, relative_humidity_percent=70 - 20 * daylight, wind_speed_m_per_s=5.0)
    day = dt.date(2027, 6, 15)
    _, in_the_open = evaporation_by_hour(weather, day, air + 12 * daylight)
    _, in_the_shade = evaporation_by_hour(weather, day, air)
    cast = 8
    after_h = int(np.argmax(in_the_open[cast:18]))
    assert in_the_open[cast:18].max() > in_the_open[cast], "not the hour of placing decides"
    assert observed["time-of-maximum-after-a-morning-cast"]["low"] <= after_h
    assert after_h <= observed["time-of-maximum-after-a-morning-cast"]["high"]
    assert in_the_open.max() > observed["maximum-rate-in-the-open"]["values"][0]
    assert (in_the_shade <= in_the_open + 1e-12).all()
    assert in_the_shade.max() < in_the_open.max()


# Hours within limits


def test_windows_lie_between_the_rows_that_break_a_limit():
    rain = np.zeros(48)
    rain[[10, 14]] = 3.0
    weather = series(48, rain_mm=rain)
    start, end = START + 6 * HOUR, START + 18 * HOUR
    limits = WeatherLimits(rain_mm_per_h=2.5)
    found = [(window.start, window.end) for window in windows(weather, start, end, limits)]
    assert found == [
        (START + 6 * HOUR, START + 9 * HOUR),
        (START + 11 * HOUR, START + 13 * HOUR),
        (START + 15 * HOUR, START + 18 * HOUR),
    ]
    assert [(breach.hour, breach.key, breach.value) for breach in breaches(weather, start, end, limits)] == [
        (START + 10 * HOUR, "rain_mm_per_h", 3.0),
        (START + 14 * HOUR, "rain_mm_per_h", 3.0),
    ]


def test_a_window_is_cut_to_the_time_asked_for():
    (window,) = windows(series(), START + 6.25 * HOUR, START + 8.75 * HOUR, WeatherLimits(gust_m_per_s=12))
    assert (window.start, window.end) == (START + 6.25 * HOUR, START + 8.75 * HOUR)
    assert window.hours == 2.5


@pytest.mark.parametrize(
    ("limits", "inside"),
    [
        (WeatherLimits(gust_m_per_s=5.0), True),
        (WeatherLimits(gust_m_per_s=4.9), False),
        (WeatherLimits(lowest_air_c=20.0), True),
        (WeatherLimits(lowest_air_c=20.1), False),
        (WeatherLimits(highest_air_c=20.0), True),
        (WeatherLimits(highest_air_c=19.9), False),
        (WeatherLimits(rain_mm_per_h=0.0), True),
        (WeatherLimits(rain_probability_percent=5.0), True),
        (WeatherLimits(rain_probability_percent=4.0), False),
        (WeatherLimits(), True),
    ],
)
def test_a_value_equal_to_its_limit_is_within_it(limits, inside):
    assert bool(windows(series(), START + 6 * HOUR, START + 8 * HOUR, limits)) is inside


def test_evaporation_has_to_stay_under_its_limit_because_precautions_begin_at_it():
    weather = series()
    both = [evaporation_rate(20, 50, 25, wind_at_height(3, 10), method) for method in ("uno", "menzel")]
    start, end = START + 6 * HOUR, START + 8 * HOUR
    for limit, inside in ((min(both), False), (max(both), False), (max(both) + 1e-6, True)):
        limits = WeatherLimits(evaporation_under_kg_per_m2_h=limit, concrete_temperature_c=25.0)
        assert bool(windows(weather, start, end, limits)) is inside
    with pytest.raises(InvalidInput, match="temperature"):
        windows(weather, start, end, WeatherLimits(evaporation_under_kg_per_m2_h=1.0))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0, 10), min_size=25, max_size=25),
    st.floats(0, 10),
    st.floats(0, 23),
    st.floats(0, 23),
)
def test_every_moment_of_a_window_keeps_the_limit_and_windows_do_not_touch(rain, limit, one, other):
    start, end = (START + min(one, other) * HOUR, START + max(one, other) * HOUR)
    weather = series(25, rain_mm=rain)
    found = windows(weather, start, end, WeatherLimits(rain_mm_per_h=limit))
    for window in found:
        assert start <= window.start < window.end <= end or start == end
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            assert at(weather, window.start + share * (window.end - window.start), "rain_mm") <= limit + 1e-9
    for before, after in pairwise(found):
        assert before.end < after.start


def test_windows_beyond_the_series_are_not_guessed():
    with pytest.raises(NoForecast):
        windows(series(24), START, START + 24 * HOUR, WeatherLimits())


# The sun


def spencer_sun(moment: dt.datetime) -> tuple[float, float]:
    """Second method: Spencer's series of 1971 as NOAA prints it, declination [rad] and equation of time [min].

    It counts from 1 January of each year, so the calendar's leap days show in it: up to 0.55° and a minute.
    """
    day_of_year = (moment - dt.datetime(moment.year, 1, 1, tzinfo=dt.UTC)) / dt.timedelta(days=1)
    x = 2 * math.pi / 365 * (day_of_year - 0.5)
    equation_min = 229.18 * (
        0.000075
        + 0.001868 * math.cos(x)
        - 0.032077 * math.sin(x)
        - 0.014615 * math.cos(2 * x)
        - 0.040849 * math.sin(2 * x)
    )
    declination = (
        0.006918
        - 0.399912 * math.cos(x)
        + 0.070257 * math.sin(x)
        - 0.006758 * math.cos(2 * x)
        + 0.000907 * math.sin(2 * x)
        - 0.002697 * math.cos(3 * x)
        + 0.00148 * math.sin(3 * x)
    )
    return declination, equation_min


def test_place_of_the_sun_agrees_with_a_series_of_other_origin():
    """Within that series' own error over eight years."""
    for days in range(0, 8 * 365, 9):
        moment = dt.datetime(2024, 1, 1, 12, tzinfo=dt.UTC) + dt.timedelta(days=days)
        declination, equation_min = sun_place(moment)
        by_series = spencer_sun(moment)
        assert abs(math.degrees(declination - by_series[0])) < 0.56
        assert abs(equation_min - by_series[1]) < 1.0


@pytest.mark.parametrize(
    ("moment", "declination_deg"),
    [
        (dt.datetime(2026, 3, 20, 14, 46, tzinfo=dt.UTC), 0.0),
        (dt.datetime(2026, 9, 23, 0, 5, tzinfo=dt.UTC), 0.0),
        (dt.datetime(2027, 3, 20, 20, 25, tzinfo=dt.UTC), 0.0),
        (dt.datetime(2027, 6, 21, 14, 11, tzinfo=dt.UTC), 23.436),
        (dt.datetime(2027, 9, 23, 6, 2, tzinfo=dt.UTC), 0.0),
        (dt.datetime(2027, 12, 22, 2, 43, tzinfo=dt.UTC), -23.436),
    ],
)
def test_the_sun_is_over_equator_and_tropics_at_equinox_and_solstice(moment, declination_deg):
    """Printed instants of the almanacs (from memory), to the formulas' 0.01°."""
    assert math.degrees(sun_place(moment)[0]) == pytest.approx(declination_deg, abs=0.01)


@pytest.mark.parametrize(
    ("day", "sunrise", "sunset"),
    [(dt.date(2027, 6, 21), dt.time(3, 43), dt.time(20, 21)), (dt.date(2027, 12, 21), dt.time(8, 4), dt.time(15, 53))],
)
def test_longest_and_shortest_day_of_london_are_those_of_the_calendars(day, sunrise, sunset):
    """Printed calendar values in UTC, from memory, rounded to the minute."""
    times = sun_times(51.5, -0.12, day, dt.UTC)
    for found, printed in ((times.sunrise, sunrise), (times.sunset, sunset)):
        assert abs(found - dt.datetime.combine(day, printed, dt.UTC)) < dt.timedelta(minutes=2)


@pytest.mark.parametrize("latitude", [-60, -30, 0, 30, 52, 60])
def test_day_and_night_are_equal_at_the_equinox(latitude):
    """12 h, and the minutes by which refraction and the sun's width lengthen the day."""
    for day in (dt.date(2027, 3, 20), dt.date(2027, 9, 23)):
        times = sun_times(latitude, 0.0, day, dt.UTC)
        longer_min = (times.sunset - times.sunrise) / dt.timedelta(minutes=1) - 720
        assert 4 < longer_min < 20


def test_polar_night_and_midnight_sun_are_refused():
    with pytest.raises(InvalidInput, match="does not rise") as refused:
        sun_times(70, 20, dt.date(2027, 12, 21), dt.UTC)
    assert refused.value.key == "latitude_deg"
    with pytest.raises(InvalidInput, match="does not set"):
        sun_times(70, 20, dt.date(2027, 6, 21), dt.UTC)
    with pytest.raises(InvalidInput, match="does not set"):
        sun_times(-90, 0, dt.date(2027, 12, 21), dt.UTC)
    with pytest.raises(InvalidInput, match="allowed"):
        sun_times(91, 0, dt.date(2027, 3, 21), dt.UTC)


@settings(max_examples=80, deadline=None)
@given(
    st.floats(-64, 64),
    st.floats(-180, 180),
    st.dates(dt.date(2020, 1, 1), dt.date(2040, 12, 31)),
    st.integers(-12, 14),
)
def test_at_sunrise_and_sunset_the_sun_stands_at_the_horizon(latitude, longitude, day, offset_h):
    """Both ends agree with the height of the sun; noon falls on the day that was asked for and is its highest point."""
    zone = dt.timezone(dt.timedelta(hours=offset_h))
    times = sun_times(latitude, longitude, day, zone)
    assert times.noon.date() == day
    assert times.sunrise < times.noon < times.sunset
    for moment in (times.sunrise, times.sunset):
        assert sun_height_deg(latitude, longitude, moment) == pytest.approx(-0.833, abs=0.02)
    highest = sun_height_deg(latitude, longitude, times.noon)
    for minutes in (-60, -20, 20, 60):
        assert sun_height_deg(latitude, longitude, times.noon + dt.timedelta(minutes=minutes)) < highest + 0.01


def test_going_west_by_15_degrees_is_an_hour_later():
    east, west = (sun_times(50, longitude, dt.date(2027, 5, 1), dt.UTC) for longitude in (15, 0))
    assert abs((west.sunrise - east.sunrise) - HOUR) < dt.timedelta(seconds=90)
    assert abs((west.sunset - east.sunset) - HOUR) < dt.timedelta(seconds=90)
