"""Hours, rain, reach, permitted rise, check list and quantities of a plan."""

import datetime as dt
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import checked, situation, small_slab, wall_panel
from sheets import TARNWICK, tree_of
from wetfront.errors import InvalidInput
from wetfront.formwork import ciria_pressure, din_pressure
from wetfront.intake import read_sheet
from wetfront.nouns.sheet import CheckedSheet
from wetfront.nouns.site import Break, DeliveryBan, Hours, OverheadLine, Pump
from wetfront.planning.candidates import intervals, load_sizes, placing_orders, placing_rates
from wetfront.planning.day import Day, DayWeather, day_of, joined, weather_of, zone_of
from wetfront.planning.form_pressure import DESIGNER, pressure_checks
from wetfront.planning.judge import RISK_KEYS, evaluate, why_not
from wetfront.planning.needs import Facts, needs_of
from wetfront.planning.quantity import quantity_of
from wetfront.planning.rain import rain_risk
from wetfront.planning.reach import boom_reach, farthest_point, line_distance, outer_edges, reached_part
from wetfront.planning.readiness import PROJECT, listed_checks, readiness_list, unsettled
from wetfront.planning.situation import outlines_of, pour_elements, volumes_of
from wetfront.planning.words import decision_words


@pytest.fixture(scope="module")
def slab() -> CheckedSheet:
    return read_sheet(TARNWICK / "slab.toml")


@pytest.fixture(scope="module")
def wall() -> CheckedSheet:
    return read_sheet(TARNWICK / "wall.toml")


# The day


def test_hours_before_opening_are_a_ban_and_touch_the_school_ban_only_where_they_meet(slab):
    day = day_of(slab.sheet, slab.sheet.pour[0].date)
    assert day.bans == ((0.0, 420.0), (510.0, 540.0), (915.0, 945.0))
    assert (day.closes_min, day.trowelling_until_min) == (1140.0, 1260.0)


def test_saturday_has_its_own_hours_and_no_school_ban(slab):
    day = day_of(slab.sheet, dt.date(2027, 6, 19))
    assert (day.opens_min, day.closes_min, day.trowelling_until_min) == (480.0, 780.0, 780.0)
    assert day.bans == ((0.0, 480.0),)


def test_day_without_hours_does_not_work(slab):
    assert not day_of(slab.sheet, dt.date(2027, 6, 20)).works


def test_noise_limit_over_midnight_holds_on_both_sides_of_it(slab):
    day = day_of(slab.sheet, slab.sheet.pour[0].date)
    assert [day.noise_limit_db(minutes) for minutes in (60, 430, 600, 1200, 1290, 1500)] == [45, 65, 72, 60, 45, 45]


def test_minutes_go_on_over_midnight_and_over_a_change_of_the_clock():
    """Clocks go forward at 02:00 on 28 March 2027 in Berlin: 180 minutes after midnight it is 04:00."""
    tree = tree_of("slab")
    tree["project"]["time_zone"] = "Europe/Berlin"
    zone = zone_of("Europe/Berlin")
    midnight = dt.datetime(2027, 3, 28, tzinfo=zone)
    sheet = read_sheet(TARNWICK / "slab.toml").sheet
    day = day_of(sheet, dt.date(2027, 3, 28))
    changed = type(day)(**{**{name: getattr(day, name) for name in day.__slots__}, "zone": zone})
    assert changed.moment(180.0).hour == 4
    assert changed.moment(1500.0 - 60.0).date() == dt.date(2027, 3, 29)
    assert changed.minutes(midnight) == 0.0
    assert changed.minutes(changed.moment(180.0)) == 180.0


def night_in_london(slab, date: dt.date) -> Day:
    sheet = replace(
        slab.sheet,
        project=replace(slab.sheet.project, time_zone="Europe/London"),
        hours=(Hours(days=("sat",), start_local=dt.time(21), end_local=dt.time(8)),),
        delivery_ban=(DeliveryBan(reason="market", days=("sun",), start_local=dt.time(5), end_local=dt.time(6)),),
        crew=replace(slab.sheet.crew, breaks=(Break(start_local=dt.time(3), duration_min=30),)),
    )
    return day_of(sheet, date)


@pytest.mark.parametrize(
    ("date", "clock_min"),
    [(dt.date(2027, 10, 30), 60.0), (dt.date(2027, 3, 27), -60.0), (dt.date(2027, 6, 19), 0.0)],
    ids=["put back", "put forward", "unchanged"],
)
def test_hours_end_when_the_clock_on_the_wall_says_so(slab, date, clock_min):
    """London changes its clocks at 01:00 UTC on the last Sundays of October and March: the night is longer or shorter.

    21:00 to 08:00 are 12, 10 or 11 hours; the market's ban and the break at 03:00 belong to the Sunday in it.
    """
    day = night_in_london(slab, date)
    assert (day.opens_min, day.closes_min) == (1260.0, 1260.0 + 11 * 60 + clock_min)
    assert day.clock(day.closes_min) == f"08:00 on {date + dt.timedelta(days=1)}"
    assert day.bans[1:] == ((1440.0 + 300 + clock_min, 1440.0 + 360 + clock_min),)
    assert day.breaks == ((1440.0 + 180 + clock_min, 30.0),)
    assert (day.in_hours(dt.time(22)), day.in_hours(dt.time(4))) == (1320.0, 1440.0 + 240 + clock_min)
    assert [day.noise_limit_db(day.closes_min + step) for step in (-61, -1, 1)] == [45, 65, 72]


def test_unknown_time_zone_is_refused_by_name():
    with pytest.raises(InvalidInput, match="time_zone"):
        zone_of("Atlantis/Capital")


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), max_size=8))
@settings(max_examples=50, deadline=None)
def test_joined_intervals_are_rising_apart_and_cover_the_same(intervals):
    found = joined(intervals)
    for (_, end), (start, _) in itertools.pairwise(found):
        assert end < start
    for at in np.linspace(0.5, 99.5, 34):
        inside = any(start <= at < end for start, end in intervals if end > start)
        assert inside == any(start <= at < end for start, end in found)


def test_weather_that_ends_before_the_finishing_must_is_no_forecast(wall):
    sheet = wall.sheet
    assert wall.weather is not None
    last = day_of(sheet, dt.date(2027, 6, 22))
    assert weather_of(wall.weather, last, last.trowelling_until_min) is not None
    closing = day_of(sheet, dt.date(2027, 6, 25))
    assert weather_of(wall.weather, closing, closing.trowelling_until_min) is None


# Rain


def weather(chance: list[float], amount: list[float]) -> DayWeather:
    count = len(chance)
    return DayWeather(
        minutes=60.0 * np.arange(count),
        air_c=np.full(count, 15.0),
        humidity_percent=np.full(count, 60.0),
        wind_m_per_s=np.full(count, 2.0),
        gust_m_per_s=np.full(count, 3.0),
        rain_mm=np.array(amount),
        rain_probability_percent=np.array(chance),
        wind_height_m=10.0,
    )


def test_one_hour_of_rain_harms_with_its_probability_and_its_amount():
    """By hand: mean 4 mm if it rains, so 1 mm or more with exp(-1/4) of the 50 %."""
    risk = rain_risk(weather([0, 50, 0], [0, 2, 0]), 60, 120, 2.5)
    assert risk is not None
    assert risk.harmful == pytest.approx(0.5 * np.exp(-0.25))
    assert (risk.highest_any, risk.highest_at_min) == (0.5, 60.0)


def test_hours_of_one_spell_count_once_and_spells_apart_add_up():
    one = rain_risk(weather([40] * 6, [2.0] * 6), 0, 360, 2.5)
    two = rain_risk(weather([40] * 12, [2.0] * 12), 0, 720, 2.5)
    assert one is not None and two is not None
    assert two.harmful == pytest.approx(1 - (1 - one.harmful) ** 2)


@given(st.lists(st.integers(1, 100), min_size=3, max_size=20), st.floats(0, 5))
@settings(max_examples=50, deadline=None)
def test_rain_risk_lies_between_nothing_and_the_sum_and_grows_with_the_window(chance, amount):
    there = weather(chance, [amount] * len(chance))
    short, long = (rain_risk(there, 0, 60.0 * hours, 2.5) for hours in (2, len(chance)))
    assert short is not None and long is not None
    assert 0 <= short.harmful <= long.harmful + 1e-12 <= min(1.0, sum(chance) / 100) + 1e-9


def test_amount_without_any_probability_is_taken_at_its_word():
    """A forecast that contradicts itself is read on the cautious side."""
    risk = rain_risk(weather([0, 0, 0], [0, 3, 0]), 0, 180, 2.5)
    assert risk is not None and risk.harmful == 1.0


def test_series_without_probability_of_rain_says_nothing_about_rain():
    there = weather([0], [0])
    unknown = DayWeather(
        **{name: None if name == "rain_probability_percent" else getattr(there, name) for name in there.__slots__}
    )
    assert rain_risk(unknown, 0, 60, 2.5) is None


# Reach


def test_reach_of_both_booms_is_that_of_the_worked_example(slab):
    """Checked by hand in the example's own file: 34.99 m; the standby boom reaches y = 24 m from x = 8.4 to 27.6 m."""
    outlines = [
        shape for shapes in outlines_of(pour_elements(slab.sheet, slab.sheet.pour[0])).values() for shape in shapes
    ]
    main, standby = (boom_reach(pump, outlines) for pump in slab.sheet.pump)
    assert round(main.farthest_m, 2) == 34.99
    assert main.reaches_all and not standby.reaches_all
    assert "the edge y = 24.0 m only from x = 8.4 to 27.6 m" in standby.text


def test_boom_comes_no_nearer_to_the_line_than_in_the_worked_example(slab):
    distance = line_distance(slab.sheet.pump[0], slab.sheet.overhead_line[0])
    assert distance is not None
    assert round(distance.least_distance_m, 1) == 9.5
    assert distance.kept


@pytest.mark.parametrize("kind", ["boom", "skip"])
def test_boom_or_crane_that_can_touch_the_line_is_told(kind):
    pump = Pump(id="p", kind=kind, horizontal_reach_m=30.0, planned_output_m3_per_h=30)
    line = OverheadLine(voltage_kv=110, least_clearance_agreed_m=8, x_m=25.0)
    distance = line_distance(pump, line)
    assert distance is not None and distance.least_distance_m == 0.0 and not distance.kept


def test_touching_outlines_have_one_edge_in_a_line():
    bays = [[(x, 0.0), (x + 12.0, 0.0), (x + 12.0, 24.0), (x, 24.0)] for x in (0.0, 12.0, 24.0)]
    edges = outer_edges(bays)
    assert len(edges) == 4
    assert sum(abs(x1 - x0) + abs(y1 - y0) for (x0, y0), (x1, y1) in edges) == pytest.approx(120.0)


@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(1, 60))
@settings(max_examples=60, deadline=None)
def test_reached_part_of_an_edge_agrees_with_walking_along_it(x, y, reach):
    edge = ((0.0, 20.0), (36.0, 24.0))
    part = reached_part(edge, (x, y), reach)
    for share in np.linspace(0, 1, 41):
        point = (36.0 * share, 20.0 + 4.0 * share)
        apart = float(np.hypot(point[0] - x, point[1] - y)) - reach
        if abs(apart) > 1e-6:
            assert (apart < 0) == (part is not None and part[0] <= share <= part[1])


def test_farthest_point_is_a_corner():
    point, distance = farthest_point((0.0, 0.0), [[(1.0, 1.0), (4.0, 3.0), (2.0, 0.0)]])
    assert (point, distance) == ((4.0, 3.0), 5.0)


# Permitted rise


def test_wall_rise_is_the_least_of_the_methods_that_cover_it_and_of_the_designers(tmp_path: Path):
    there = situation(checked(tmp_path, wall_panel()))
    (limit,) = there.form_limits()
    assert limit.permitted_kn_per_m2 == 60
    by_name = {method.name: method for method in limit.methods}
    assert not by_name["ACI 347R-14"].covers  # slump up to 230 mm is accepted, the guide ends at 175
    covering = [method for method in limit.methods if method.covers]
    assert limit.highest_rise_m_per_h == min(2.2, *(method.highest.max_rise_m_per_h for method in covering))
    for method in covering:
        at_limit = method.pressure(limit.highest_rise_m_per_h).max_pressure_kn_per_m2
        assert at_limit <= 60
    assert max(placing_rates(there)) <= limit.highest_rate_m3_per_h


def test_designers_own_rise_holds_where_it_is_lower_than_every_method(tmp_path: Path):
    tree = wall_panel()
    tree["formwork"]["designer_assumed_rise_m_per_h"] = 0.8
    (limit,) = situation(checked(tmp_path, tree)).form_limits()
    assert (limit.highest_rise_m_per_h, limit.governs) == (0.8, DESIGNER)


def test_limit_with_a_load_factor_is_divided_by_it_before_it_is_compared(tmp_path: Path):
    """Characteristic against permissible: mixing the two is an error of half."""
    tree = wall_panel()
    tree["formwork"]["basis"] = "design"
    tree["formwork"]["design_load_factor"] = 1.5
    (limit,) = situation(checked(tmp_path, tree)).form_limits()
    assert limit.permitted_kn_per_m2 == 40


def test_form_that_no_method_covers_has_to_carry_the_full_head(tmp_path: Path):
    tree = wall_panel()
    tree["mix"]["W1"]["temperature_at_plant_c"] = 4.0
    tree["mix"]["W1"]["temperature_spread_c"] = 0.0
    del tree["mix"]["W1"]["end_of_setting_h"]
    (limit,) = situation(checked(tmp_path, tree)).form_limits()
    assert limit.highest_rise_m_per_h == 0
    assert placing_rates(situation(checked(tmp_path, tree))) == ()


def test_colder_concrete_never_permits_a_faster_rise(tmp_path: Path):
    there = situation(checked(tmp_path, wall_panel()))
    rises = [there.form_limits("", cooler)[0].highest_rise_m_per_h for cooler in (0.0, 1.0, 3.0, 6.0, 9.0)]
    assert rises == sorted(rises, reverse=True)


def test_pressure_check_shows_every_method_at_the_expected_rise(tmp_path: Path):
    there = situation(checked(tmp_path, wall_panel()))
    (limit,) = there.form_limits()
    checks = {check.method.split(",")[0]: check for check in pressure_checks(limit, 1.5)}
    assert set(checks) == {"ACI 347R-14", "CIRIA Report 108", "DIN 18218"}
    by_name = {method.name: method for method in limit.methods}
    # Second way to the same figures: the rooms' own functions with the conditions of the check.
    for name, function in (("CIRIA Report 108", ciria_pressure), ("DIN 18218", din_pressure)):
        conditions = by_name[name].pressure.args[0]
        assert checks[name].pressure_kn_per_m2 == function(conditions, 1.5).max_pressure_kn_per_m2
    assert checks["ACI 347R-14"].governs == "full-head"


# Quantities and check list


@pytest.mark.parametrize(
    ("name", "number", "net", "order", "full", "balance"),
    [
        ("slab", 0, 215.10, 220.0, 27, 4.0),
        ("raft", 0, 194.40, 198.5, 24, 6.5),
        ("wall", 0, 13.818, 14.4, 1, 6.4),
        ("wall", 1, 14.574, 15.2, 1, 7.2),
        ("wall", 2, 14.070, 14.8, 1, 6.8),
    ],
)
def test_quantities_are_those_of_the_worked_example(name, number, net, order, full, balance):
    sheet = read_sheet(TARNWICK / f"{name}.toml").sheet
    found = quantity_of(volumes_of(sheet, sheet.pour[number]), 8.0, "")
    assert found.net_m3 == pytest.approx(net, abs=1e-9)
    assert (found.order_m3, found.full_loads_count) == (order, full)
    assert found.balance_load_m3 == pytest.approx(balance, abs=1e-9)
    assert found.full_loads_count * 8.0 + found.balance_load_m3 == pytest.approx(found.order_m3, abs=1e-9)
    assert 0 <= found.order_m3 - found.gross_m3 < sheet.allowance.rounding_step_m3


def test_extras_of_a_sheet_are_shared_over_its_pours(tmp_path: Path):
    tree = tree_of("wall")
    tree["allowance"]["extra_m3"] = 3.0
    sheet = checked(tmp_path, tree).sheet
    assert sum(volumes_of(sheet, pour).extra_m3 for pour in sheet.pour) == pytest.approx(3.0)


def test_every_line_of_the_check_list_has_what_it_needs_and_an_id_of_its_own():
    lines = listed_checks()
    assert len({line.id for line in lines}) == len(lines) > 50
    assert all(line.check and line.acceptance and line.source.citation for line in lines)
    known = {
        "vertical-form",
        "slab",
        "falsework",
        "boom",
        "line",
        "skip",
        "wall",
        "joint",
        "cold",
        "trucks",
        "site-mixer",
    }
    assert set().union(*(line.needs for line in lines)) <= known


def facts_for(there):
    return Facts(
        pump=there.pump,
        vibrators_count=4,
        top_area_m2=860.4,
        samples_count=8,
        specimens_count=33,
        coldest_air_c=12.0,
        hottest_air_c=27.0,
        placing_h=7.5,
        joint_places=("x24",),
    )


def test_check_list_holds_what_this_pour_needs_with_the_projects_own_limits(slab, tmp_path: Path):
    there = situation(checked(tmp_path, small_slab()))
    facts = facts_for(there)
    needs = needs_of(slab.sheet, there.elements, facts)
    items = readiness_list(slab.sheet, needs, facts, slab.readiness)
    by_id = {item.id: item for item in items}
    assert [item.id for item in items[:4]] == ["H1", "H2", "H3", "H4"]
    assert all(item.hold_point and item.released_by for item in items[:4])
    assert "P1" in by_id and "M4" not in by_id and "E9" not in by_id
    assert by_id["S5"].acceptance == "80 to 170 mm" and by_id["S5"].source == PROJECT
    assert by_id["T2"].acceptance.startswith("at least 40 moulds")
    assert "910" not in by_id["K4"].acceptance and "903 m²" in by_id["list K1"].acceptance
    assert by_id["F1"].state.startswith("pass")
    # The project's own F1 and the list's F1 are different checks: neither hides the other.
    assert len([item for item in items if item.id.removeprefix("list ") == "F2"]) == 1
    assert len(items) == len({item.id for item in items})


def test_what_is_not_settled_is_named_the_evening_before(slab, tmp_path: Path):
    there = situation(checked(tmp_path, small_slab()))
    facts = facts_for(there)
    items = readiness_list(slab.sheet, needs_of(slab.sheet, there.elements, facts), facts, slab.readiness)
    assert [line.split()[0] for line in unsettled(items)] == ["R2", "C2", "W1"]


def test_wall_has_no_falsework_lines_and_a_slab_no_form_pressure_lines(tmp_path: Path):
    wall_there = situation(checked(tmp_path, wall_panel()))
    needs = needs_of(wall_there.sheet, wall_there.elements, facts_for(wall_there))
    assert "falsework" not in needs and {"vertical-form", "wall"} <= needs
    slab_there = situation(checked(tmp_path, small_slab()))
    assert "vertical-form" not in needs_of(slab_there.sheet, slab_there.elements, facts_for(slab_there))


# What full trucks cannot do


def test_loads_are_small_enough_to_be_placed_before_they_are_too_old(tmp_path):
    """6 m of wall in a form for 60 kN/m² rises so slowly that a full truck would stand for hours."""
    tree = wall_panel(load_sizes_m3=[])
    tree["element"] = [{**tree["element"][0], "length_m": 8.0, "height_m": 6.0}]
    tree["formwork"]["form_height_m"] = 6.0
    slow = situation(checked(tmp_path, tree))
    rate, _ = slow.highest_rate()
    sizes = load_sizes(slow)
    ages = [8 + 40 + 5 + size / (0.8 * rate) * 60 for size in sizes]
    assert ages[0] > 120 >= ages[-1] >= 8 + 40 + 5, (rate, sizes, ages)
    assert all(size >= 1.0 for size in sizes)


def test_full_trucks_stay_where_they_are_placed_in_time(slab, wall):
    assert load_sizes(situation(slab)) == (8.0,)
    assert max(load_sizes(situation(wall))) == 8.0


def test_a_load_that_cannot_be_placed_in_time_is_named_as_what_stops_the_pour(tmp_path):
    tree = wall_panel(load_sizes_m3=[8.0])
    tree["formwork"]["permitted_pressure_kn_per_m2"] = 40
    slow = situation(checked(tmp_path, tree))
    asked = slow.candidate(placing_orders(slow)[0], 600.0, 150.0, 3, 8.0, slow.highest_rate()[0])
    assert "over the limit of 120 min" in why_not(slow, asked, 1)
    assert "rise in panel 1 by CIRIA Report 108 allows no more" in why_not(slow, asked, 1)


def test_a_plan_that_needs_loads_after_the_plant_has_closed_is_out_of_hours(tmp_path):
    """The plant of the small slab shuts while its last loads are still to be batched."""
    shares = []
    for closes in (dt.time(18), dt.time(10)):
        tree = small_slab()
        tree["plant"][0]["closes_local"] = closes
        there = situation(checked(tmp_path, tree))
        asked = there.candidate(placing_orders(there)[0], 560.0, 16.0, 6, 8.0, 32.0, "")
        sample = evaluate(there, [asked], 1, 0, 20)[0]
        shares.append(sample.failed[:, RISK_KEYS.index("placing_out_of_hours")].mean())
    assert shares == [0.0, 1.0]


def test_an_interval_is_never_shorter_than_the_trucks_can_keep_up(tmp_path):
    """One truck of 8 m³: 8 + 28 + 5 min out, 15 min of discharge, 6 + 24 min back: 86 min from load to load."""
    tree = small_slab(trucks_between=[1, 1])
    del tree["choices"]["interval_between_min"]
    one = situation(checked(tmp_path, tree))
    tried = intervals(one, 8.0, 32.0)
    assert max(tried) == pytest.approx(1.25 * 86.0, abs=1.0)
    assert min(tried) == pytest.approx(0.9 * 86.0, abs=1.0)


def test_columns_alike_may_rise_no_faster_than_one_of_them(tmp_path):
    """They are filled one after the other: forty forms carry no more rise than one."""
    rates = []
    for count in (1, 40):
        tree = wall_panel()
        column = {"id": "k", "shape": "column", "section": "circular", "diameter_m": 0.6, "height_m": 4.0}
        tree["element"] = [{**column, "count": count}]
        tree["pour"][0]["elements"] = ["k"]
        rates.append(situation(checked(tmp_path, tree)).form_rates()["k"])
    assert rates[0] == rates[1] < 0.2827 * 4.5


def test_a_single_load_into_columns_is_said_as_that(tmp_path):
    """No interval between loads where there is one, no corner to begin at where forms are filled whole."""
    tree = wall_panel(load_sizes_m3=[])
    column = {"id": "k", "shape": "column", "section": "circular", "diameter_m": 0.6, "height_m": 2.0}
    tree["element"] = [column]
    tree["pour"][0]["elements"] = ["k"]
    there = situation(checked(tmp_path, tree))
    asked = there.candidate(placing_orders(there)[0], 560.0, 20.0, 1, 8.0, 9.0, "")
    assert decision_words(there, asked) == "start 09:20, one load of 0.6 m³, 1 truck, 9 m³/h, k"
