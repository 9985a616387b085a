"""Consistence, air, time, temperature, water on site and ticket: laws, edges and errors beyond the check cases."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.rules import CHECK_FIRST


def ask(name, **inputs):
    return calculation(name).ask(inputs)


def result(name, **inputs):
    return ask(name, **inputs).result


def error_key(name, **inputs):
    with pytest.raises(InvalidInput) as refusal:
        ask(name, **inputs)
    return refusal.value.key


# Consistence classes

CLASSES = {
    # A reading apart from the rule book: lowest and highest reported value of each class, rising.
    "slump": [("S1", 10, 40), ("S2", 50, 90), ("S3", 100, 150), ("S4", 160, 210), ("S5", 220, 300)],
    "flow-table": [
        ("F1", 200, 340), ("F2", 350, 410), ("F3", 420, 480), ("F4", 490, 550), ("F5", 560, 620), ("F6", 630, 700),
    ],
    "vebe": [("V4", 3, 5), ("V3", 6, 10), ("V2", 11, 20), ("V1", 21, 30), ("V0", 31, 60)],
    "compactability": [
        ("C4", 1.00, 1.03), ("C3", 1.04, 1.10), ("C2", 1.11, 1.25), ("C1", 1.26, 1.45), ("C0", 1.46, 1.80),
    ],
    "slump-flow": [("SF1", 550, 650), ("SF2", 660, 750), ("SF3", 760, 850)],
}  # fmt: skip
STEP = {"slump": 10, "flow-table": 10, "slump-flow": 10, "vebe": 1, "compactability": 0.01}


@pytest.mark.parametrize("test", CLASSES)
def test_every_reported_value_is_in_its_class_and_in_no_other(test):
    for name, low, high in CLASSES[test]:
        for value in (low, high, round((low + high) / 2 / STEP[test]) * STEP[test]):
            found = result("consistence-class", test=test, value=value)
            assert found["consistence_class"] == name
            assert found["reported_value"] == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("test", CLASSES)
def test_a_half_step_is_rounded_up_and_less_than_half_down(test):
    for (_, _, high), (name, low, _) in zip(CLASSES[test], CLASSES[test][1:], strict=False):
        assert result("consistence-class", test=test, value=low - STEP[test] / 2)["consistence_class"] == name
        below = result("consistence-class", test=test, value=low - 0.51 * STEP[test])
        assert below["reported_value"] == pytest.approx(high, abs=1e-9)


@pytest.mark.parametrize(
    ("test", "value"),
    [
        ("slump", 0), ("slump", 4.9), ("slump", 301), ("vebe", 2), ("vebe", 2.4), ("slump-flow", 544),
        ("slump-flow", 540), ("slump-flow", 855), ("compactability", 0.99),
    ],
)  # fmt: skip
def test_a_value_in_no_class_is_refused(test, value):
    assert error_key("consistence-class", test=test, value=value) == "value"


@pytest.mark.parametrize(
    ("test", "value", "suitable"),
    [
        ("slump", 10, True), ("slump", 210, True), ("slump", 214, True), ("slump", 220, False),
        ("vebe", 5, False), ("vebe", 6, True), ("vebe", 30, True), ("vebe", 31, False),
        ("compactability", 1.03, False), ("compactability", 1.04, True), ("compactability", 1.45, True),
        ("compactability", 1.46, False),
        ("flow-table", 340, False), ("flow-table", 350, True), ("flow-table", 620, True), ("flow-table", 630, False),
        ("slump-flow", 550, True), ("slump-flow", 850, True),
    ],
)  # fmt: skip
def test_the_range_in_which_a_test_is_sensitive(test, value, suitable):
    assert result("consistence-class", test=test, value=value)["test_suitable"] is suitable


def test_over_700_mm_flow_it_is_said_to_be_self_compacting():
    assert any("self-compacting" in one for one in ask("consistence-class", test="flow-table", value=710).cautions)
    assert not any("self-compacting" in one for one in ask("consistence-class", test="flow-table", value=700).cautions)


# Slump

TOLERANCES = {
    # basis -> (target, tolerance), typed again from the rules; both sides of every step.
    "bs-8500-spot": [(10, 30), (40, 30), (49.9, 30), (50, 40), (99.9, 40), (100, 50), (210, 50)],
    "en-206-composite": [(10, 10), (49, 10), (50, 20), (99, 20), (100, 30), (210, 30)],
    "astm-c94": [(50, 15), (50.1, 25), (100, 25), (100.1, 40), (200, 40)],
    "as-1379": [(59.9, 10), (60, 15), (80, 15), (80.1, 20), (110, 20), (110.1, 30), (150, 30), (151, 40)],
    "nzs-3104-representative": [(60, 20), (64, 20), (110, 20), (119.9, 20), (120, 30)],
    "nzs-3104-snatch": [(60, 20), (69.9, 20), (70, 30), (110, 30), (119.9, 30), (120, 40)],
    "is-4926": [(30, 10), (60, 20), (75, 25), (90, 25), (150, 25)],
}


@pytest.mark.parametrize("basis", TOLERANCES)
def test_limits_are_the_target_and_its_tolerance_and_a_limit_just_met_is_met(basis):
    for target, tolerance in TOLERANCES[basis]:
        found = result("slump-acceptance", basis=basis, target_mm=target, measured_mm=target)
        assert found["lower_limit_mm"] == pytest.approx(max(0, target - tolerance))
        assert found["upper_limit_mm"] == pytest.approx(target + tolerance)
        assert found["decision"] == "accept"
        for edge in (found["lower_limit_mm"], min(300, found["upper_limit_mm"])):
            assert result("slump-acceptance", basis=basis, target_mm=target, measured_mm=edge)["decision"] == "accept"
        over = found["upper_limit_mm"] + 0.01
        assert result("slump-acceptance", basis=basis, target_mm=target, measured_mm=over)["decision"] == "check-test"


@pytest.mark.parametrize(
    ("basis", "name", "low", "high"),
    [
        ("bs-8500-spot", "S1", 0, 60), ("bs-8500-spot", "S2", 30, 110), ("bs-8500-spot", "S3", 80, 170),
        ("bs-8500-spot", "S4", 140, 230), ("en-206-composite", "S1", 0, 60), ("en-206-composite", "S2", 40, 110),
        ("en-206-composite", "S3", 90, 170), ("en-206-composite", "S4", 150, 230),
    ],
)  # fmt: skip
def test_limits_of_a_class(basis, name, low, high):
    found = result("slump-acceptance", basis=basis, consistence_class=name, measured_mm=100)
    assert (found["lower_limit_mm"], found["upper_limit_mm"]) == (low, high)


@pytest.mark.parametrize(("target", "low"), [(30, 0), (40, 0), (75, 35), (75.1, 10.1), (150, 85)])
def test_a_specified_maximum_has_nothing_over_it(target, low):
    found = result("slump-acceptance", basis="astm-c94", target_mm=target, specified_as_maximum=True, measured_mm=50)
    assert found["lower_limit_mm"] == pytest.approx(low)
    assert found["upper_limit_mm"] == target


@pytest.mark.parametrize(
    ("key", "inputs"),
    [
        ("target_mm", {"basis": "astm-c94"}),
        ("target_mm", {"basis": "bs-8500-spot"}),
        ("target_mm", {"basis": "en-206-composite", "consistence_class": "S2", "target_mm": 70}),
        ("consistence_class", {"basis": "bs-8500-spot", "consistence_class": "S5"}),
        ("consistence_class", {"basis": "en-206-composite", "consistence_class": "S5"}),
        ("consistence_class", {"basis": "as-1379", "consistence_class": "S3"}),
        ("consistence_class", {"basis": "bs-8500-spot", "consistence_class": "F3"}),
        ("specified_as_maximum", {"basis": "as-1379", "target_mm": 80, "specified_as_maximum": True}),
        ("measured_mm", {"basis": "as-1379", "target_mm": 80, "measured_mm": 301}),
        ("check_test_mm", {"basis": "as-1379", "target_mm": 80, "check_test_mm": -1}),
    ],
)
def test_slump_acceptance_names_what_is_wrong(key, inputs):
    assert error_key("slump-acceptance", **{"measured_mm": 80, **inputs}) == key


@pytest.mark.parametrize(
    ("name", "inputs", "says"),
    [
        ("slump-acceptance", {"basis": "as-1379", "target_mm": 80, "measured_mm": 80}, "accept"),
        ("slump-acceptance", {"basis": "as-1379", "target_mm": 80, "measured_mm": 99}, "check-test"),
        ("slump-acceptance", {"basis": "as-1379", "target_mm": 80, "measured_mm": 99, "check_test_mm": 99}, "reject"),
        (
            "air-content-acceptance",
            {"basis": "en-206", "specified_percent": 4, "measured_percent": 4},
            "within the limits",
        ),
        ("delivery-time-check", {"basis": "as-1379", "elapsed_min": 91}, "outside the limits"),
        ("placing-temperature-limits", {"basis": "as-1379", "concrete_temperature_c": 20}, "within the limits"),
        ("slump-acceptance", {"basis": "bs-8500-spot", "target_mm": 80, "measured_mm": 80}, ""),
        ("slump-flow-acceptance", {"target_mm": 700, "measured_mm": 700}, ""),
        ("delivery-time-check", {"basis": "as-1379", "elapsed_min": 91, "agreed_limit_min": 95}, ""),
        ("delivery-time-check", {"basis": "is-4926", "elapsed_min": 91}, ""),
        ("placing-temperature-limits", {"concrete_temperature_c": 20}, ""),
    ],
)
def test_a_verdict_on_a_remembered_limit_says_so_first_and_others_do_not(name, inputs, says):
    cautions = ask(name, **inputs).cautions
    assert any(CHECK_FIRST in one for one in cautions) == bool(says)
    assert not says or cautions[0] == f"{CHECK_FIRST}: {says}"


def test_remembered_tolerances_say_so_and_read_ones_do_not():
    remembered = ask("slump-acceptance", basis="as-1379", target_mm=80, measured_mm=80)
    assert remembered.rests_on_memory and any("from memory" in one for one in remembered.cautions)
    assert not ask("slump-acceptance", basis="nzs-3104-snatch", target_mm=80, measured_mm=80).rests_on_memory


@pytest.mark.parametrize(
    ("inputs", "low", "high"),
    [
        ({"slump_flow_class": "SF1"}, 520, 700),
        ({"slump_flow_class": "SF2"}, 640, 800),
        ({"slump_flow_class": "SF3"}, 740, 900),
        ({"target_mm": 50}, 0, 130),
        ({"target_mm": 700}, 620, 780),
    ],
)
def test_slump_flow_limits_and_edges(inputs, low, high):
    for measured, accepted in ((low, True), (high, True), (high + 0.1, False)):
        found = result("slump-flow-acceptance", measured_mm=measured, **inputs)
        assert (found["lower_limit_mm"], found["upper_limit_mm"], found["accepted"]) == (low, high, accepted)


def test_slump_flow_needs_exactly_one_of_class_and_target():
    assert error_key("slump-flow-acceptance", measured_mm=600) == "target_mm"
    assert error_key("slump-flow-acceptance", measured_mm=600, slump_flow_class="SF1", target_mm=600) == "target_mm"


@pytest.mark.parametrize(
    ("shapes", "step", "reported"),
    [
        (["true"], "report", 90),
        (["collapse"], "repeat-on-new-portion", None),
        (["shear", "collapse"], "concrete-not-suitable-for-slump-test", None),
        (["collapse", "shear"], "concrete-not-suitable-for-slump-test", None),
        (["shear", "shear", "true"], "report", 90),
        (["true", "shear"], "repeat-on-new-portion", None),
    ],
)
def test_the_last_slump_decides(shapes, step, reported):
    found = result("slump-test-evaluation", shapes=shapes, slumps_mm=[85] * len(shapes))
    assert (found["next_step"], found.get("reported_slump_mm")) == (step, reported)
    assert found["valid"] is (step == "report")


@pytest.mark.parametrize(
    ("key", "shapes", "slumps"),
    [("slumps_mm", ["true"], []), ("slumps_mm", ["true"], [80, 90]), ("shapes", [], []), ("shapes", ["flat"], [80])],
)
def test_slump_tests_that_do_not_fit_are_refused(key, shapes, slumps):
    assert error_key("slump-test-evaluation", shapes=shapes, slumps_mm=slumps) == key


# Air


@pytest.mark.parametrize(
    ("basis", "specified", "low", "high"),
    [("en-206", 0.3, 0, 5.3), ("en-206", 4, 3.5, 9), ("astm-c94", 1, 0, 2.5), ("astm-c94", 6, 4.5, 7.5)],
)
def test_air_limits_and_edges(basis, specified, low, high):
    for measured, accepted in ((low, True), (high, True), (high + 0.01, False)):
        found = result("air-content-acceptance", basis=basis, specified_percent=specified, measured_percent=measured)
        assert found["lower_limit_percent"] == pytest.approx(low)
        assert found["upper_limit_percent"] == pytest.approx(high)
        assert found["accepted"] is accepted


# Time


@pytest.mark.parametrize(
    ("basis", "agitated", "limit"),
    [
        ("astm-c94-2016-and-older", True, 90), ("astm-c94-2016-and-older", False, 90), ("bs-8500", True, 120),
        ("bs-8500", False, 60), ("din-1045", True, 90), ("din-1045", False, 45), ("is-4926", True, 120),
        ("as-1379", True, 90),
    ],
)  # fmt: skip
def test_each_basis_has_its_time_and_exactly_it_is_within(basis, agitated, limit):
    met = result("delivery-time-check", basis=basis, elapsed_min=limit, agitated=agitated)
    assert met == {"limit_min": limit, "remaining_min": 0, "within_limit": True}
    assert not result("delivery-time-check", basis=basis, elapsed_min=limit + 0.1, agitated=agitated)["within_limit"]
    agreed = result("delivery-time-check", basis=basis, elapsed_min=100, agitated=agitated, agreed_limit_min=100)
    assert agreed == {"limit_min": 100, "remaining_min": 0, "within_limit": True}


def test_turns_bind_in_the_oldest_rule_only_and_beside_an_agreed_time():
    over = {"elapsed_min": 10, "drum_revolutions_count": 301}
    assert not result("delivery-time-check", basis="astm-c94-2016-and-older", **over)["within_limit"]
    assert not result("delivery-time-check", basis="astm-c94-2016-and-older", agreed_limit_min=60, **over)[
        "within_limit"
    ]
    assert result("delivery-time-check", basis="astm-c94-2021", agreed_limit_min=60, **over)["within_limit"]
    assert result("delivery-time-check", basis="as-1379", **over)["within_limit"]


def test_the_clock_is_doubted_and_the_last_quarter_of_an_hour_is_told():
    assert error_key("delivery-time-check", basis="bs-8500", elapsed_min=-0.1) == "elapsed_min"
    near = ask("delivery-time-check", basis="bs-8500", elapsed_min=105).cautions
    assert any("15 min left" in one for one in near)
    early = ask("delivery-time-check", basis="bs-8500", elapsed_min=104).cautions
    assert not any("min left" in one for one in early)


# Temperature

COLD = {
    # section -> lowest placed, mixing over -1, -18 to -1, under -18, largest fall
    299.9: (13, 16, 18, 21, 28),
    300: (10, 13, 16, 18, 22),
    900: (10, 13, 16, 18, 22),
    900.1: (7, 10, 13, 16, 17),
    1800: (7, 10, 13, 16, 17),
    1800.1: (5, 7, 10, 13, 11),
}


@pytest.mark.parametrize("section", COLD)
def test_cold_weather_by_section_and_air(section):
    least, *mixing, fall = COLD[section]
    for air, expected in zip((-0.9, -1, -18, -18.1), (mixing[0], mixing[1], mixing[1], mixing[2]), strict=True):
        found = result(
            "placing-temperature-limits",
            concrete_temperature_c=least,
            section_size_mm=section,
            cold_weather=True,
            air_temperature_c=air,
        )
        assert found == {
            "minimum_c": least,
            "maximum_c": least + 11,
            "minimum_mixing_temperature_c": expected,
            "maximum_drop_24_h_c": fall,
            "accepted": True,
        }
        colder = {"section_size_mm": section, "cold_weather": True}
        assert not result("placing-temperature-limits", concrete_temperature_c=least - 0.1, **colder)["accepted"]
        assert not result("placing-temperature-limits", concrete_temperature_c=least + 11.1, **colder)["accepted"]


def test_what_each_basis_gives_and_leaves_out():
    assert result("placing-temperature-limits", concrete_temperature_c=-5) == {"maximum_c": 35, "accepted": True}
    assert result("placing-temperature-limits", concrete_temperature_c=50, basis="en-206") == {
        "minimum_c": 5,
        "accepted": True,
    }
    both = {"minimum_c": 5, "maximum_c": 35, "accepted": True}
    assert result("placing-temperature-limits", concrete_temperature_c=35, basis="as-1379") == both
    assert error_key("placing-temperature-limits", concrete_temperature_c=10, cold_weather=True) == "section_size_mm"
    assert error_key("placing-temperature-limits", concrete_temperature_c=61) == "concrete_temperature_c"


# Water

LOADS = st.fixed_dictionaries(
    {
        "load_volume_m3": st.floats(0.5, 12),
        "cementitious_kg_per_m3": st.floats(200, 500),
        "free_water_batched_kg_per_m3": st.floats(100, 250),
        "maximum_water_cement_ratio": st.floats(0.3, 0.8),
        "measured_slump_mm": st.floats(0, 250),
        "maximum_slump_mm": st.floats(0, 250),
    }
)


@given(inputs=LOADS, design=st.none() | st.floats(100, 250))
@settings(max_examples=200, deadline=None)
def test_allowed_water_keeps_ratio_design_and_slump_and_uses_one_of_them_up(inputs, design):
    found = result("water-addition-on-site", **inputs, design_water_kg_per_m3=design)
    per_m3 = found["allowable_water_l"] / inputs["load_volume_m3"]
    assert found["permitted"] is (per_m3 > 0)
    assert found["remixing_revolutions_count"] == (30 if found["permitted"] else 0)
    if not found["permitted"]:
        assert found["water_cement_ratio_after"] == found["water_cement_ratio_now"]
        assert found["expected_slump_mm"] == inputs["measured_slump_mm"]
        return
    left = [
        inputs["maximum_water_cement_ratio"] - found["water_cement_ratio_after"],
        inputs["maximum_slump_mm"] - found["expected_slump_mm"],
    ]
    if design is not None:
        left.append(design - inputs["free_water_batched_kg_per_m3"] - per_m3)
    assert min(left) == pytest.approx(0, abs=1e-9)


@given(inputs=LOADS, added=st.floats(1e-3, 500))
@settings(max_examples=100, deadline=None)
def test_no_water_twice_or_after_discharge_began_and_added_water_counts_in_the_ratio(inputs, added):
    first = result("water-addition-on-site", **inputs)
    again = result("water-addition-on-site", **inputs, water_already_added_l=added)
    begun = result("water-addition-on-site", **inputs, discharge_started=True)
    assert again["allowable_water_l"] == begun["allowable_water_l"] == 0
    grown = added / inputs["load_volume_m3"] / inputs["cementitious_kg_per_m3"]
    assert again["water_cement_ratio_now"] == pytest.approx(first["water_cement_ratio_now"] + grown)


def test_less_than_a_millionth_of_a_litre_is_no_water():
    inputs = {
        "load_volume_m3": 8, "cementitious_kg_per_m3": 300, "free_water_batched_kg_per_m3": 150 - 5e-7,
        "maximum_water_cement_ratio": 0.5, "measured_slump_mm": 50, "maximum_slump_mm": 100,
    }  # fmt: skip
    found = result("water-addition-on-site", **inputs)
    assert (found["permitted"], found["allowable_water_l"], found["remixing_revolutions_count"]) == (False, 0, 0)


# Ticket


def test_only_designed_concrete_and_certified_plants_owe_more_entries():
    base = result("delivery-ticket-check", present_fields=[], designed_concrete=False)["missing_fields"]
    designed = result("delivery-ticket-check", present_fields=[])["missing_fields"]
    certified = result("delivery-ticket-check", present_fields=[], designed_concrete=False, certified=True)
    after = result("delivery-ticket-check", present_fields=[], designed_concrete=False, stage="after-discharge")
    assert len(base) == 10 and "loading-time" in base
    assert set(designed) - set(base) == {
        "strength-class", "exposure-classes", "chloride-class", "consistence", "maximum-aggregate-size",
    }  # fmt: skip
    assert set(certified["missing_fields"]) - set(base) == {"certification-body"}
    assert set(after["missing_fields"]) - set(base) == {"unloading-start", "unloading-end"}


def test_unknown_entries_and_stages_are_refused():
    assert error_key("delivery-ticket-check", present_fields=["colour"]) == "present_fields"
    assert error_key("delivery-ticket-check", present_fields=[], stage="later") == "stage"
    assert any("hold the load" in one for one in ask("delivery-ticket-check", present_fields=[]).cautions)
