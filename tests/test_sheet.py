"""Reading a pour sheet: the examples as they stand, and every kind of mistake told with its place."""

import dataclasses
import datetime as dt
import hashlib
import re
import tomllib
from functools import cache

import jsonschema
import pytest
from pydantic import TypeAdapter

from sheets import NAMES, TARNWICK, as_json, tree_of, written
from wetfront.errors import Problem, SheetError
from wetfront.intake import read_sheet
from wetfront.intake.kinds import unit_of
from wetfront.intake.schema import pour_sheet_schema
from wetfront.intake.template import KINDS, template
from wetfront.intake.toml_lines import lines_of_keys
from wetfront.nouns.sheet import PourSheet
from wetfront.takeoff.shapes import take_off


def problems_of(folder, tree) -> dict[str, Problem]:
    with pytest.raises(SheetError) as caught:
        read_sheet(written(folder, tree))
    return {problem.key: problem for problem in caught.value.problems}


@pytest.mark.parametrize("name", NAMES)
def test_every_example_is_sound(name):
    checked = read_sheet(TARNWICK / f"{name}.toml")
    assert checked.sheet.project.invented
    assert checked.weather is not None
    assert len(checked.weather.air_temperature_c) == 192
    assert checked.files[0].name == f"{name}.toml"
    for file in checked.files:
        assert file.sha256 == hashlib.sha256((TARNWICK / file.name).read_bytes()).hexdigest()


def test_examples_hold_the_volumes_that_the_scenario_expects():
    expected = tomllib.loads((TARNWICK / "expected.toml").read_text(encoding="utf-8"))
    for name in NAMES:
        sheet = read_sheet(TARNWICK / f"{name}.toml").sheet
        assert take_off(sheet.element).volume_m3 == pytest.approx(expected[name]["quantity"]["net_m3"], abs=1e-9)


def test_slab_order_is_the_scenario_s_before_rounding():
    """215.10 net + 1 % + 1.73 sub-base + 1.00 in line and hopper = 219.98."""
    expected = tomllib.loads((TARNWICK / "expected.toml").read_text(encoding="utf-8"))
    sheet = read_sheet(TARNWICK / "slab.toml").sheet
    net, allowance = take_off(sheet.element).volume_m3, sheet.allowance
    order = net * (1 + allowance.wastage_percent / 100) + allowance.extra_m3 + sheet.pump[0].line_and_hopper_content_m3
    assert order == pytest.approx(expected["slab"]["quantity"]["order_m3"], abs=0.005)


@pytest.mark.parametrize("name", NAMES)
def test_another_validator_reads_the_same_values(name, tmp_path):
    """Second method: a general-purpose validator on the same nouns accepts the tree and builds the same sheet."""
    tree = tree_of(name)
    assert TypeAdapter(PourSheet).validate_python(tree) == read_sheet(written(tmp_path, tree)).sheet


@pytest.mark.parametrize("kind", KINDS)
def test_a_new_sheet_is_sound_as_it_stands(kind, tmp_path):
    path = tmp_path / "new.toml"
    path.write_text(template(kind), encoding="utf-8")
    assert read_sheet(path).sheet.pour[0].id == kind


@pytest.mark.parametrize("kind", KINDS)
def test_every_optional_table_of_a_new_sheet_is_sound_when_uncommented(kind, tmp_path):
    """What stands behind a # is meant to be used: without it the sheet holds as well, but for files it cannot know."""
    text = re.sub(r"^# (?=\[|[a-z_]+ = )", "", template(kind), flags=re.MULTILINE)
    text = re.sub(r"^(site|standby) = .*$", "", text, flags=re.MULTILINE)
    text = text.replace('forecast = "weather.csv"', f'forecast = "{TARNWICK}/weather-forecast.csv"')
    text = text.replace('file = "readiness.csv"', f'file = "{TARNWICK}/readiness-slab.csv"')
    text = text.replace('shape = "ground-slab"', 'shape = "slab"').replace("subbase_", "# subbase_")
    path = tmp_path / "new.toml"
    path.write_text(text, encoding="utf-8")
    assert read_sheet(path).readiness


def test_quantities_in_other_units_are_converted_once(tmp_path):
    tree = tree_of("slab")
    tree["element"][0]["thickness_mm"] = "9 in"
    tree["element"][0]["at_m"] = ["24 m", "0 ft"]
    tree["trucks"]["capacity_m3"] = "10 cu yd"
    tree["mix"]["S1"]["temperature_at_plant_c"] = "70 F"
    tree["specification"]["concrete_temperature_at_placing_c"] = {"min": "41 F", "max": 30}
    tree["specification"]["live_edge"][0]["up_to_c"] = "68 °F"
    tree["choices"]["strip_widths_m"] = ["400 cm"]
    tree["trucks"]["longest_batching_to_end_of_discharge_min"] = "2 h"
    sheet = read_sheet(written(tmp_path, tree)).sheet
    assert sheet.element[0].thickness_mm == pytest.approx(228.6)
    assert sheet.element[0].at_m == (24.0, 0.0)
    assert sheet.trucks.capacity_m3 == pytest.approx(7.645549, abs=1e-6)
    assert sheet.mix["S1"].temperature_at_plant_c == pytest.approx(21.111, abs=1e-3)
    assert sheet.specification.concrete_temperature_at_placing_c.min == pytest.approx(5)
    assert sheet.specification.live_edge[0].up_to_c == pytest.approx(20)
    assert sheet.choices.strip_widths_m == pytest.approx((4.0,))
    assert sheet.trucks.longest_batching_to_end_of_discharge_min == pytest.approx(120)


@pytest.mark.parametrize(
    ("where", "text"),
    [
        (("prices", "concrete_cu_per_m3"), "12 cu yd"),
        (("prices", "waiting_cu_per_min"), "2 h"),
        (("specification", "rain_stop_mm_per_h"), "2 h"),
        (("mix", "S1", "temperature_spread_c"), "37 F"),
        (("weather", "dew_point_spread_c"), "37 F"),
        (("trucks", "capacity_m3"), "10 in"),
        (("trucks", "capacity_m3"), "1e999 m3"),
        (("trucks", "capacity_m3"), "8"),
    ],
)
def test_text_that_is_no_quantity_of_the_key_s_kind_is_refused(where, text, tmp_path):
    """A price per m³ is no volume, a rate per hour no time, a difference of 37 °F not the temperature 37 °F."""
    tree = tree_of("slab")
    inner = tree
    for key in where[:-1]:
        inner = inner.setdefault(key, {})
    inner[where[-1]] = text
    assert ".".join(where) in problems_of(tmp_path, tree)


@pytest.mark.parametrize("value", [True, float("nan"), float("inf"), -1, 0, "eight", [8], {"a": 1}, 10**400])
def test_what_is_no_number_in_range_is_refused(value, tmp_path):
    tree = tree_of("slab")
    tree["trucks"]["capacity_m3"] = value
    problem = problems_of(tmp_path, tree)["trucks.capacity_m3"]
    assert problem.allowed.startswith("a number over 0 to 20 m³")


def test_all_mistakes_are_told_at_once_with_line_and_nearest_key(tmp_path):
    path = tmp_path / "pour.toml"
    text = template("slab")
    for right, wrong in (
        ("thickness_mm = 250\nsub", "thicknes_mm = 250\nsub"),
        ("capacity_m3 = 8.0", "capacity_m3 = -8.0"),
        ("count_promised = 6", "count_promised = 0"),
        ('mix = "M1"\n', 'mix = "M2"\n'),
        ('kind = "boom"', 'kind = "bom"'),
        ("up_to_c = 25", "up_to_c = 15"),
        ("[sampling]", "[samplin]"),
    ):
        assert text.count(right) == 1, right
        text = text.replace(right, wrong)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SheetError) as caught:
        read_sheet(path)
    found = {problem.key: problem for problem in caught.value.problems}
    assert set(found) == {
        "element[1].thickness_mm",
        "element[1].thicknes_mm",
        "trucks.capacity_m3",
        "trucks.count_promised",
        "pour[1].mix",
        "pump[1].kind",
        "specification.live_edge[2].up_to_c",
        "samplin",
    }
    lines = text.split("\n")
    assert found["element[1].thicknes_mm"].nearest == "thickness_mm"
    assert found["samplin"].nearest == "sampling"
    assert found["pump[1].kind"].nearest == "boom"
    assert found["pour[1].mix"].allowed == "a mix of this sheet: M1"
    for key, begins in (
        ("trucks.capacity_m3", "capacity_m3"),
        ("element[1].thickness_mm", "[[element]]"),
        ("specification.live_edge[2].up_to_c", "  { up_to_c = 15"),
        ("samplin", "[samplin]"),
    ):
        assert lines[found[key].line - 1].startswith(begins)
    assert str(found["trucks.count_promised"]) == (
        f"pour.toml:{found['trucks.count_promised'].line}: trucks.count_promised: "
        "found 0; allowed: a whole number from 1 to 200"
    )


def test_a_mistake_in_the_site_file_is_told_with_that_file(tmp_path):
    site = (TARNWICK / "site.toml").read_text(encoding="utf-8").replace("return_min = 24", "return_min = 0")
    (tmp_path / "site.toml").write_text(site, encoding="utf-8")
    sheet = (TARNWICK / "raft.toml").read_text(encoding="utf-8").replace("weather-", f"{TARNWICK}/weather-")
    (tmp_path / "raft.toml").write_text(sheet, encoding="utf-8")
    with pytest.raises(SheetError) as caught:
        read_sheet(tmp_path / "raft.toml")
    (problem,) = caught.value.problems
    assert (problem.file, problem.key) == ("site.toml", "plant[1].return_min")
    assert site.split("\n")[problem.line - 1].startswith("return_min")


def test_a_table_of_the_sheet_replaces_the_site_s_and_mixes_come_one_by_one(tmp_path):
    (tmp_path / "site.toml").write_text((TARNWICK / "site.toml").read_text(encoding="utf-8"), encoding="utf-8")
    own = {"R1": {**tree_of("raft")["mix"]["R1"], "slump_mm": 200.0}}
    tree = {key: entry for key, entry in tree_of("raft").items() if key in ("schema", "pour", "pump", "element")}
    path = written(tmp_path, {**tree, "site": "site.toml", "mix": own, "prices": {"concrete_cu_per_m3": 99}})
    sheet = read_sheet(path).sheet
    assert sheet.mix["R1"].slump_mm == 200
    assert set(sheet.mix) == {"R1", "S1", "W1"}
    assert (sheet.prices.concrete_cu_per_m3, sheet.prices.pump_cu_per_h) == (99, 0)


def change(tree, where, value):
    *path, last = where
    for part in path:
        tree = tree[part]
    tree[last] = value


CROSSED = {
    "an unknown zone": ("slab", ("project", "time_zone"), "Europe/Tarnwick", "project.time_zone"),
    "an offset that no clock has": ("slab", ("project", "time_zone"), "UTC+99:99", "project.time_zone"),
    "a start after the end of hours": (
        "slab",
        ("pour", 0, "planned_start_local"),
        "19:00",
        "pour[1].planned_start_local",
    ),
    "a start before the hours": ("slab", ("pour", 0, "planned_start_local"), "06:59", "pour[1].planned_start_local"),
    "a start window outside the hours": (
        "slab",
        ("choices", "start_between_local"),
        ["06:00", "09:00"],
        "choices.start_between_local[1]",
    ),
    "a start window back to front": (
        "slab",
        ("choices", "start_between_local"),
        ["10:00", "09:00"],
        "choices.start_between_local",
    ),
    "a pour on a day without hours": ("slab", ("pour", 0, "date"), dt.date(2027, 6, 20), "pour[1].date"),
    "zero trucks": ("slab", ("trucks", "count_promised"), 0, "trucks.count_promised"),
    "more promised than there are": ("slab", ("trucks", "count_promised"), 12, "trucks.count_in_fleet"),
    "a load over the truck's capacity": ("slab", ("choices", "load_sizes_m3"), [6, 9], "choices.load_sizes_m3[2]"),
    "a ban that ends before it starts": (
        "slab",
        ("delivery_ban", 0, "end_local"),
        "08:00",
        "delivery_ban[1].end_local",
    ),
    "live edge limits that do not rise": (
        "slab",
        ("specification", "live_edge", 1, "up_to_c"),
        20,
        "specification.live_edge[2].up_to_c",
    ),
    "temperatures back to front": (
        "slab",
        ("specification", "concrete_temperature_at_placing_c", "max"),
        5,
        "specification.concrete_temperature_at_placing_c.max",
    ),
    "slump limits back to front": (
        "slab",
        ("specification", "slump_limits_mm"),
        [170, 80],
        "specification.slump_limits_mm",
    ),
    "a usual time under the low one": (
        "slab",
        ("plant", 0, "travel_loaded_min", "usual"),
        20,
        "plant[1].travel_loaded_min.usual",
    ),
    "final set before initial set": ("slab", ("mix", "S1", "final_set_at_20c_h"), 5, "mix.S1.final_set_at_20c_h"),
    "an unknown mix": ("slab", ("pour", 0, "mix"), "S9", "pour[1].mix"),
    "a mix that only the standby plant has": ("slab", ("plant", 0, "mixes"), ["R1"], "pour[1].mix"),
    "an unknown pump": ("slab", ("pour", 0, "pump"), "crane", "pour[1].pump"),
    "an unknown element": ("slab", ("pour", 0, "elements"), ["C", "D"], "pour[1].elements[2]"),
    "an element poured twice": ("wall", ("pour", 1, "elements"), ["panel 1"], "pour[2].elements[1]"),
    "an element named twice": ("wall", ("element", 1, "id"), "panel 1", "element[2].id"),
    "an order that names a stranger": ("slab", ("choices", "element_order"), ["C", "X"], "choices.element_order[2]"),
    "a wall without formwork": ("wall", ("formwork",), None, "formwork"),
    "a wall higher than its form": ("wall", ("formwork", "form_height_m"), 4.0, "element[1].height_m"),
    "falsework for less concrete": ("slab", ("falsework", 0, "designed_for_thickness_mm"), 200, "element[1]"),
    "more vibrators than there are": ("slab", ("pour", 0, "vibrators_count"), 9, "pour[1].vibrators_count"),
    "a layer over the largest": ("raft", ("choices", "layers_mm"), [900], "choices.layers_mm[1]"),
    "a line in no direction": ("slab", ("overhead_line", 0, "x_m"), 3.0, "overhead_line[1]"),
    "a weekday with two hours": ("slab", ("hours", 1, "days"), ["fri"], "hours[2].days"),
    "an opening larger than the wall": (
        "wall",
        ("element", 0, "opening", 0, "width_m"),
        12,
        "element[1].opening[1].width_m",
    ),
    "an opening larger than the slab": ("slab", ("element", 1, "opening", 0, "length_m"), 20, "element[2].opening[1]"),
    "elements that overlap": ("slab", ("element", 0, "at_m"), [20.0, 0.0], "element[2].at_m"),
    "a negative size": ("wall", ("element", 0, "height_m"), -4.2, "element[1].height_m"),
    "an absurd size": ("wall", ("element", 0, "thickness_mm"), 1e6, "element[1].thickness_mm"),
    "a number that is none": ("wall", ("element", 0, "height_m"), float("nan"), "element[1].height_m"),
    "another schema": ("slab", ("schema",), 2, "schema"),
    "a name that reads backwards": ("slab", ("pour", 0, "id"), "a\u202eb", "pour[1].id"),
    "a name of spaces": ("slab", ("pour", 0, "id"), "  ", "pour[1].id"),
    "a day of another age": ("slab", ("pour", 0, "date"), dt.date(9999, 12, 31), "pour[1].date"),
    "layers of a millimetre": ("raft", ("choices", "layers_mm"), [1], "choices.layers_mm[1]"),
}


@pytest.mark.parametrize("case", CROSSED)
def test_what_does_not_fit_together_is_told_by_its_key(case, tmp_path):
    name, where, value, key = CROSSED[case]
    tree = tree_of(name)
    change(tree, where, value)
    tree = {key: entry for key, entry in tree.items() if entry is not None}
    assert key in problems_of(tmp_path, tree)


def test_a_pour_over_midnight_is_inside_night_hours(tmp_path):
    tree = tree_of("slab")
    tree["hours"] = [{"days": ["thu"], "start_local": "20:00", "end_local": "06:00"}]
    tree["pour"][0]["planned_start_local"] = "02:00"
    assert read_sheet(written(tmp_path, tree)).sheet.hours[0].end_local == dt.time(6)


def test_a_name_of_an_unsound_entry_is_not_told_as_missing(tmp_path):
    """One mistake, one line: a pour may name a pump whose reach is wrong."""
    tree = tree_of("slab")
    tree["pump"][0]["horizontal_reach_m"] = -1
    assert set(problems_of(tmp_path, tree)) == {"pump[1].horizontal_reach_m"}


@pytest.mark.parametrize("name", NAMES)
def test_every_key_of_the_examples_has_its_line(name):
    text = (TARNWICK / f"{name}.toml").read_text(encoding="utf-8")
    lines, found = text.split("\n"), lines_of_keys(text)

    def walk(value, path):
        if path:
            assert path in found, path
            if isinstance(path[-1], str):
                assert path[-1] in lines[found[path] - 1]
        pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for key, entry in pairs:
            walk(entry, (*path, key))

    walk(tomllib.loads(text), ())


def test_lines_are_right_after_text_over_several_lines():
    text = (
        'a = """x\n[b]\nc = 1\n"""\nd = [ # one ]\n  1,\n  { e = "}" },\n]\n"f.g" = 1\nh.i = 2\n[[j]]\n[[j.k]]\nl = 1\n'
    )
    found = lines_of_keys(text)
    tomllib.loads(text)
    assert {path: found[path] for path in (("d",), ("d", 1, "e"), ("f.g",), ("h", "i"), ("j", 0, "k", 0, "l"))} == {
        ("d",): 5,
        ("d", 1, "e"): 7,
        ("f.g",): 9,
        ("h", "i"): 10,
        ("j", 0, "k", 0, "l"): 13,
    }


@cache
def validator() -> jsonschema.Draft202012Validator:
    schema = pour_sheet_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("name", NAMES)
def test_the_schema_accepts_the_examples_with_and_without_their_site(name):
    text = (TARNWICK / f"{name}.toml").read_text(encoding="utf-8")
    for tree in (tomllib.loads(text), tree_of(name)):
        assert [error.message for error in validator().iter_errors(as_json(tree))] == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_accepts_a_new_sheet(kind):
    assert validator().is_valid(as_json(tomllib.loads(template(kind))))


@pytest.mark.parametrize(
    ("where", "value", "sound"),
    [
        (("trucks", "capacity_m3"), "10 cu yd", True),
        (("trucks", "capacity_m3"), "ten", False),
        (("trucks", "capacity_m3"), -1, False),
        (("prices", "concrete_cu_per_m3"), "12 cu yd", False),
        (("pour", 0, "planned_start_local"), "7:20", False),
        (("element", 0, "shape"), "wal", False),
        (("pump", 0, "kind"), "bom", False),
        (("colour",), "red", False),
    ],
)
def test_the_schema_and_the_reader_agree_on_one_key(where, value, sound, tmp_path):
    tree = tree_of("slab")
    change(tree, where, value)
    assert validator().is_valid(as_json(tree)) is sound
    if sound:
        read_sheet(written(tmp_path, tree))
    else:
        problems_of(tmp_path, tree)


def test_a_sheet_without_site_must_hold_every_table(tmp_path):
    tree = tree_of("slab")
    del tree["prices"]
    assert not validator().is_valid(as_json(tree))
    assert validator().is_valid(as_json({**tree, "site": "site.toml"}))
    assert "prices" in problems_of(tmp_path, tree)


def test_every_key_with_a_unit_says_so_in_the_schema():
    definitions = pour_sheet_schema()["$defs"]
    for name, noun in definitions.items():
        for key, entry in noun["properties"].items():
            if unit_of(key):
                assert f"Unit: {unit_of(key)}." in entry["description"], (name, key)


def test_the_checked_sheet_cannot_be_changed():
    checked = read_sheet(TARNWICK / "raft.toml")
    with pytest.raises(dataclasses.FrozenInstanceError):
        checked.sheet.pour = ()


LIST = """id,shape,x_m,y_m,length_m,width_m,thickness_mm
C,slab,24,0,12,24,250
B,slab,12,0,12,24,10 in
A,slab,0,0,12,24,250
"""


def listed(folder, text) -> dict:
    (folder / "list.csv").write_text(text, encoding="utf-8")
    return {**{key: entry for key, entry in tree_of("slab").items() if key != "element"}, "elements_file": "list.csv"}


def test_elements_come_from_a_list_beside_the_sheet(tmp_path):
    tree = listed(tmp_path, LIST)
    tree["falsework"] = []
    assert validator().is_valid(as_json(tree))
    checked = read_sheet(written(tmp_path, tree))
    assert [(one.id, one.thickness_mm) for one in checked.sheet.element] == [("C", 250), ("B", 254), ("A", 250)]
    assert [file.kind for file in checked.files] == ["sheet", "elements"]


def test_mistakes_of_the_list_are_told_with_its_rows(tmp_path):
    tree = listed(tmp_path, LIST.replace("B,slab,12,0,12", "B,slab,20,0,12").replace("A,slab,0,0,12", "A,slab,0,0,-12"))
    tree["trucks"]["count_promised"] = 0
    with pytest.raises(SheetError) as caught:
        read_sheet(written(tmp_path, tree))
    found = [(problem.file, problem.line, problem.key) for problem in caught.value.problems]
    assert found[0][::2] == ("pour.toml", "trucks.count_promised")
    assert found[1:] == [("list.csv", 3, "at_m"), ("list.csv", 4, "length_m")]


def test_a_list_that_cannot_be_read_is_told(tmp_path):
    tree = listed(tmp_path, "id,shape\nA,slab,3\n")
    with pytest.raises(SheetError) as caught:
        read_sheet(written(tmp_path, tree))
    assert {problem.file for problem in caught.value.problems} == {"list.csv"}
    tree["elements_file"] = "none.csv"
    with pytest.raises(SheetError, match=r"none\.csv: found no such file"):
        read_sheet(written(tmp_path, tree))


def test_a_list_of_100_000_elements_is_refused(tmp_path):
    rows = "".join(f"e{number},slab,0,0,1,1,250\n" for number in range(100_000))
    with pytest.raises(SheetError) as caught:
        read_sheet(written(tmp_path, listed(tmp_path, LIST + rows)))
    assert any("5000" in str(problem) or "2000" in str(problem) for problem in caught.value.problems)


@pytest.mark.parametrize(
    ("text", "said", "line"),
    [
        ('mix = "S1"\nmix = "S2"\n[a]\n', "a key or table that was given before", 2),
        ("[allowance]\n[allowance]\n", "a key or table that was given before", 2),
        (f"schema = {'9' * 5000}\n", "a whole number of thousands of digits", None),
    ],
    ids=["key twice", "table twice", "endless number"],
)
def test_the_parser_s_words_are_put_into_the_sheet_s(text, said, line, tmp_path):
    path = tmp_path / "pour.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SheetError) as told:
        read_sheet(path)
    (problem,) = told.value.problems
    assert (problem.found, problem.line) == (f"no valid TOML: {said}", line)
