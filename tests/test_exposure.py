"""Exposure classes, chloride and the number of samples: laws of the limits, edges, refusals."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetfront.calculations import calculation
from wetfront.errors import InvalidInput
from wetfront.nouns.reason import Provenance
from wetfront.rules import composition, rule, strength_class_name
from wetfront.rules.exposure import strictest

CLASSES = [cell.word for cell in rule("en", "strength-least").cells]
SOME = st.lists(st.sampled_from(CLASSES), min_size=1, max_size=6)
KEYS = ("water_cement_ratio", "strength", "cement", "air")


def limits(classes: list[str]) -> tuple[float | None, ...]:
    """Ratio, strength, cement, air, each so that more is stricter; None where there is no limit."""
    found = composition(classes)
    ratio, strength, cement, air = (getattr(found, key) for key in KEYS)
    return (
        None if ratio is None else -ratio.high,
        strength.low,
        None if cement is None else cement.low,
        None if air is None else air.low,
    )


def asked(name: str, **inputs: object) -> dict[str, object]:
    return dict(calculation(name).ask(inputs).result)


@given(SOME, st.randoms(use_true_random=False))
@settings(max_examples=100, deadline=None)
def test_the_order_of_the_classes_and_repetition_change_nothing(classes, chance):
    other = [*classes, chance.choice(classes)]
    chance.shuffle(other)
    assert composition(other) == composition(classes)


@given(SOME, SOME)
@settings(max_examples=200, deadline=None)
def test_a_further_class_never_loosens_a_limit(first, second):
    for alone, both in zip(limits(first), limits([*first, *second]), strict=True):
        assert alone is None or (both is not None and both >= alone)


@given(SOME, SOME)
@settings(max_examples=200, deadline=None)
def test_classes_together_ask_no_more_than_the_stricter_of_them(first, second):
    for one, other, both in zip(limits(first), limits(second), limits([*first, *second]), strict=True):
        assert both == max((each for each in (one, other) if each is not None), default=None)


@pytest.mark.parametrize("family", ["XC", "XS", "XD", "XA"])
def test_a_harder_class_of_one_attack_asks_no_less(family):
    rows = [limits([each]) for each in CLASSES if each.startswith(family)]
    assert len(rows) >= 3
    for before, after in pairwise(rows):
        assert all(a is None or b >= a for a, b in zip(before, after, strict=True))


def test_every_class_can_be_asked_alone_and_gives_a_named_strength_class():
    for each in CLASSES:
        result = asked("exposure-limits-en-206", exposure_classes=[each])
        cylinder = int(result["minimum_strength_class"].removeprefix("C").split("/")[0])
        assert cylinder == rule("en", "strength-least").at(each).low
        assert ("minimum_air_content_percent" in result) == (each in ("XF2", "XF3", "XF4"))
        assert ("maximum_water_cement_ratio" in result) == ("minimum_cement_kg_per_m3" in result) == (each != "X0")


def test_the_governing_classes_are_named():
    found = composition(["XC4", "XF1", "XD3", "XS2"])
    assert found.water_cement_ratio.title.endswith("exposure class XS2, XD3")
    assert found.cement.high is None and found.cement.low == 320


def test_a_remembered_row_is_not_hidden_behind_an_equal_one_that_was_read():
    table = rule("en", "water-cement-ratio")
    cells = tuple(
        replace(cell, provenance=Provenance.MEMORY, readings=0) if cell.word == "XD3" else cell for cell in table.cells
    )
    assert strictest(replace(table, cells=cells), ["XS2", "XD3"]).rests_on_memory
    assert not strictest(replace(table, cells=cells), ["XS2", "XC1"]).rests_on_memory


@pytest.mark.parametrize(
    "classes", [[], ["XC5"], ["xc4"], "XC4", [4], None, ["XC4", ["XF1"]], {"XC4": 1}, ["XC1"] * 101]
)
def test_what_is_no_exposure_class_is_refused_by_its_key(classes):
    with pytest.raises(InvalidInput) as caught:
        asked("exposure-limits-en-206", exposure_classes=classes)
    assert caught.value.key == "exposure_classes"


def test_no_strength_class_is_named_beyond_the_last():
    assert strength_class_name(100) == "C100/115"
    assert strength_class_name(26) == "C30/37"
    with pytest.raises(InvalidInput):
        strength_class_name(100.1)


# IS 456


@pytest.mark.parametrize("exposure", ["mild", "moderate", "severe", "very-severe", "extreme"])
@pytest.mark.parametrize("kind", ["plain", "reinforced"])
def test_smaller_aggregate_needs_more_cement_and_the_rest_stays(exposure, kind):
    by_size = [
        asked("exposure-limits-is-456", exposure=exposure, concrete_kind=kind, maximum_aggregate_size_mm=size)
        for size in (10, 20, 40)
    ]
    cement = [result.pop("minimum_cement_kg_per_m3") for result in by_size]
    assert [cement[0] - cement[1], cement[2] - cement[1]] == [40, -30]
    assert by_size[0] == by_size[1] == by_size[2]
    assert ("minimum_grade_mpa" in by_size[0]) == (exposure != "mild" or kind == "reinforced")


def test_20_mm_and_reinforced_are_the_defaults():
    whole = asked("exposure-limits-is-456", exposure="mild", concrete_kind="reinforced", maximum_aggregate_size_mm=20)
    assert asked("exposure-limits-is-456", exposure="mild") == whole


@pytest.mark.parametrize("size", [12.5, 0, -10, 21, "20", True, math.nan])
def test_a_size_between_the_printed_ones_is_refused(size):
    with pytest.raises(InvalidInput) as caught:
        asked("exposure-limits-is-456", exposure="mild", maximum_aggregate_size_mm=size)
    assert caught.value.key == "maximum_aggregate_size_mm"


def test_the_remembered_correction_says_so_only_where_it_counts():
    contract = calculation("exposure-limits-is-456")
    corrected = contract.ask({"exposure": "mild", "maximum_aggregate_size_mm": 40})
    assert corrected.rests_on_memory and any("from memory" in text for text in corrected.cautions)
    assert not contract.ask({"exposure": "mild"}).rests_on_memory


# Chloride

MASSES = st.lists(st.tuples(st.floats(0, 2000), st.floats(0, 0.5)), min_size=0, max_size=6)


@given(MASSES, st.floats(100, 600), st.sampled_from(["Cl 1,0", "Cl 0,40", "Cl 0,30", "Cl 0,20", "Cl 0,15", "Cl 0,10"]))
@settings(max_examples=100, deadline=None)
def test_chloride_adds_up_and_is_judged_by_the_number_in_the_name(parts, cement, name):
    parts = [(cement, 0.05), *parts]
    inputs = {
        "masses_kg_per_m3": [mass for mass, _ in parts],
        "chloride_percents": [share for _, share in parts],
        "cement_kg_per_m3": cement,
        "chloride_class": name,
    }
    result = asked("chloride-content", **inputs)
    grams = sum(10 * mass * share for mass, share in parts)
    assert result["chloride_percent_of_cement"] == pytest.approx(grams / (10 * cement), rel=1e-9)
    assert result["limit_percent"] == float(name.removeprefix("Cl ").replace(",", "."))
    if abs(result["chloride_percent_of_cement"] - result["limit_percent"]) > 1e-6:
        assert result["accepted"] == (result["chloride_percent_of_cement"] < result["limit_percent"])


def test_a_chloride_limit_just_met_is_met():
    inputs = {"masses_kg_per_m3": [300], "cement_kg_per_m3": 300, "chloride_class": "Cl 0,10"}
    assert asked("chloride-content", chloride_percents=[0.1], **inputs)["accepted"] is True
    assert asked("chloride-content", chloride_percents=[0.1001], **inputs)["accepted"] is False


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"chloride_percents": [0.1]}, "chloride_percents"),
        ({"chloride_percents": [0.1, 101]}, "chloride_percents"),
        ({"masses_kg_per_m3": [200, 50]}, "masses_kg_per_m3"),
        ({"masses_kg_per_m3": [-1, 400]}, "masses_kg_per_m3"),
        ({"cement_kg_per_m3": 0}, "cement_kg_per_m3"),
        ({"chloride_class": "Cl 0.20"}, "chloride_class"),
    ],
)
def test_chloride_refuses_by_the_key_that_is_wrong(change, key):
    inputs = {
        "masses_kg_per_m3": [300, 180],
        "chloride_percents": [0.05, 0.01],
        "cement_kg_per_m3": 300,
        "chloride_class": "Cl 0,20",
    }
    with pytest.raises(InvalidInput) as caught:
        asked("chloride-content", **{**inputs, **change})
    assert caught.value.key == key


# Samples


@pytest.mark.parametrize(
    ("volume", "count"),
    [
        (0.1, 1),
        (5, 1),
        (5.5, 2),
        (6, 2),
        (15, 2),
        (15.1, 3),
        (30, 3),
        (50, 4),
        (50.1, 5),
        (100, 5),
        (100.1, 6),
        (500, 13),
    ],
)
def test_is_456_takes_the_upper_row_and_one_more_for_each_begun_50_m3(volume, count):
    result = asked("strength-samples", basis="is-456", volume_m3=volume)
    assert result == {"samples_count": count, "specimens_count": 3 * count}


@pytest.mark.parametrize(
    ("volume", "area", "days", "count", "waived"),
    [
        (10, None, 1, 1, True),
        (37.99, 0, 1, 1, True),
        (38, 0, 1, 1, False),
        (110, 460, 1, 1, False),
        (110.01, 460, 1, 2, False),
        (110, 460.1, 1, 2, False),
        (360, 0, 3, 4, False),
        (30, 0, 3, 3, True),
    ],
)
def test_aci_318_takes_the_most_of_days_volume_and_area(volume, area, days, count, waived):
    result = asked("strength-samples", basis="aci-318", volume_m3=volume, area_m2=area, days_count=days)
    assert result == {"samples_count": count, "minimum_for_project_count": 5, "may_be_waived": waived}


def test_several_days_say_that_the_number_is_only_the_least_possible():
    answer = calculation("strength-samples").ask({"basis": "aci-318", "volume_m3": 360, "days_count": 3})
    assert any("least possible number" in text for text in answer.cautions)


@given(st.floats(0.01, 5000), st.floats(0.01, 5000), st.sampled_from(["aci-318", "is-456"]))
@settings(max_examples=100, deadline=None)
def test_more_concrete_never_needs_fewer_samples_and_a_split_never_saves_one(first, second, basis):
    counts = [
        asked("strength-samples", basis=basis, volume_m3=volume)["samples_count"]
        for volume in (first, second, first + second)
    ]
    assert max(counts[:2]) <= counts[2] <= sum(counts[:2])


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"basis": "as-1379"}, "basis"),
        ({"volume_m3": 0}, "volume_m3"),
        ({"area_m2": -1}, "area_m2"),
        ({"days_count": 0}, "days_count"),
        ({"days_count": 1.5}, "days_count"),
    ],
)
def test_samples_refuse_by_the_key_that_is_wrong(change, key):
    with pytest.raises(InvalidInput) as caught:
        asked("strength-samples", **{"basis": "aci-318", "volume_m3": 100, **change})
    assert caught.value.key == key
