"""Hourly weather and the check list from CSV: what stands in the file comes out, slips are told with their row."""

import datetime as dt

import numpy as np
import pytest

from sheets import TARNWICK
from wetfront.errors import SheetError
from wetfront.intake.readiness_csv import readiness_items
from wetfront.intake.weather_csv import weather_series

HEAD = (
    "time_local,air_temperature_c,relative_humidity_percent,wind_speed_at_10m_m_per_s,wind_gust_at_10m_m_per_s,rain_mm"
)


def row(hour: int, day: int = 15, rest: str = "12.5,71,2.0,2.9,0.0") -> str:
    return f"2027-06-{day:02}T{hour:02}:00+01:00,{rest}"


def text_of(*rows: str, head: str = HEAD) -> str:
    return "\n".join((head, *rows)) + "\n"


def mistakes(text: str) -> list[tuple[int | None, str, str]]:
    with pytest.raises(SheetError) as caught:
        weather_series(text, "w.csv")
    return [(problem.line, problem.key, problem.found) for problem in caught.value.problems]


def test_the_forecast_is_read_as_it_stands():
    text = (TARNWICK / "weather-forecast.csv").read_text(encoding="utf-8")
    issued = dt.datetime.fromisoformat("2027-06-14T12:00+01:00")
    series = weather_series(text, "weather-forecast.csv", 2.0, issued)
    assert series.start == dt.datetime.fromisoformat("2027-06-15T00:00+01:00")
    assert series.end == dt.datetime.fromisoformat("2027-06-22T23:00+01:00")
    assert series.wind_height_m == 10  # the column's name says so, whatever the sheet says
    assert series.issued == issued
    lines = text.strip().split("\n")
    names, last = lines[0].split(","), lines[-1].split(",")
    for name, cell in zip(names[1:], last[1:], strict=True):
        assert getattr(series, name.replace("_at_10m", ""))[-1] == float(cell)


def test_columns_that_are_not_there_are_unknown_and_not_zero():
    series = weather_series((TARNWICK / "weather-observed.csv").read_text(encoding="utf-8"), "o.csv")
    assert series.rain_probability_percent is None
    assert series.cloud_cover_percent is None
    assert series.solar_irradiance_w_per_m2 is not None
    assert np.isfinite(series.rain_mm).all()


def test_wind_without_a_height_in_its_name_is_at_the_sheet_s_height():
    text = text_of(row(0), head=HEAD.replace("_at_10m", ""))
    assert weather_series(text, "w.csv", 2.5).wind_height_m == 2.5


def test_a_clock_change_is_no_gap():
    rows = ["2027-03-28T01:00+01:00,5,80,2,3,0", "2027-03-28T03:00+02:00,5,80,2,3,0"]
    assert len(weather_series(text_of(*rows), "w.csv").rain_mm) == 2


def test_a_gap_a_repeated_hour_and_a_step_back_are_each_told_with_their_row():
    found = mistakes(text_of(row(0), row(3), row(3), row(2), row(3)))
    assert [(line, key) for line, key, _ in found] == [(3, "time_local"), (4, "time_local"), (5, "time_local")]
    assert "2 hours are missing after 2027-06-15T00:00+01:00" in found[0][2]
    assert "again" in found[1][2]
    assert "after 2027-06-15T03:00" in found[2][2]


@pytest.mark.parametrize(
    ("cells", "key"),
    [
        ("nan,71,2.0,2.9,0.0", "air_temperature_c"),
        ("127.9,71,2.0,2.9,0.0", "air_temperature_c"),
        (",71,2.0,2.9,0.0", "air_temperature_c"),
        ("12.5,171,2.0,2.9,0.0", "relative_humidity_percent"),
        ("12.5,71,-2.0,2.9,0.0", "wind_speed_m_per_s"),
        ("12.5,71,2.0,inf,0.0", "wind_gust_m_per_s"),
        ("12.5,71,2.0,2.9,much", "rain_mm"),
    ],
)
def test_a_value_that_cannot_be_is_told_with_row_and_column(cells, key):
    assert [(line, name) for line, name, _ in mistakes(text_of(row(0), row(1, rest=cells)))] == [(3, key)]


@pytest.mark.parametrize(
    "time", ["2027-06-15T00:00", "15.06.2027 00:00", "2027-06-15T00:30+01:00", "", "1027-06-15T00:00+01:00"]
)
def test_a_time_without_offset_or_off_the_hour_is_told(time):
    assert [(line, key) for line, key, _ in mistakes(text_of(f"{time},12.5,71,2,3,0"))] == [(2, "time_local")]


def test_all_slips_of_one_file_are_told_at_once():
    assert len(mistakes(text_of(row(0, rest="99,0,2,3,0"), row(2, rest="x,71,2,3,0")))) == 4


def test_missing_doubled_and_misspelt_columns_are_told_with_the_nearest():
    head = HEAD.replace("rain_mm", "rain_m") + ",time_local"
    with pytest.raises(SheetError) as caught:
        weather_series(text_of(head=head), "w.csv")
    found = {problem.key: problem for problem in caught.value.problems}
    assert found["rain_mm"].found == "no such column"
    assert found["rain_m"].nearest == "rain_mm"
    assert found["time_local"].found == "a column named twice"


def test_speed_and_gust_at_two_heights_are_refused():
    assert mistakes(text_of(row(0), head=HEAD.replace("gust_at_10m", "gust_at_2m")))[0][1] == "wind_speed"


@pytest.mark.parametrize(
    "text", ["", "\n", HEAD, "a", '"', "\x00", HEAD + "\n1,2\n", HEAD + '\n"', ",".join("a" * 500)]
)
def test_what_is_no_series_is_refused(text):
    assert mistakes(text)


def test_a_file_of_more_than_a_year_is_refused_quickly():
    start = dt.datetime.fromisoformat("2027-01-01T00:00+00:00")
    rows = [f"{(start + dt.timedelta(hours=hour)).isoformat()},12,70,2,3,0" for hour in range(9_001)]
    assert "9000" in mistakes(text_of(*rows))[-1][2]


def test_the_check_list_is_read_as_it_stands():
    text = (TARNWICK / "readiness-slab.csv").read_text(encoding="utf-8")
    items = {item.item_id: item for item in readiness_items(text, "readiness-slab.csv")}
    assert len(items) == 15
    assert [name for name, item in items.items() if item.result != "pass"] == ["R2", "C2", "W1"]
    assert items["F1"].checked_local == dt.datetime.fromisoformat("2027-06-16T14:10+01:00")
    assert (items["C2"].checked_local, items["C2"].measured) == (None, "")


def test_slips_of_the_check_list_are_told_with_their_rows():
    text = (TARNWICK / "readiness-slab.csv").read_text(encoding="utf-8").split("\n")
    text[2] = text[2].replace(",pass,", ",passed,")
    text[3] = text[3].replace("2027-06-16T15:00+01:00", "yesterday")
    text[4] = text[4].replace("R1,", "F1,", 1)
    with pytest.raises(SheetError) as caught:
        readiness_items("\n".join(text), "r.csv")
    found = [(problem.line, problem.key, problem.nearest) for problem in caught.value.problems]
    assert found == [(3, "result", "pass"), (4, "checked_local", None), (5, "item_id", None)]
