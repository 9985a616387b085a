"""Whatever is in a sheet's file, the reader ends soon with a checked sheet or with its mistakes."""

import copy
import math
import time
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sheets import NAMES, TARNWICK, as_toml, tree_of
from wetfront.errors import SheetError
from wetfront.intake import read_sheet
from wetfront.intake.template import KINDS, template
from wetfront.intake.weather_csv import weather_series
from wetfront.nouns.sheet import CheckedSheet

TREES = {name: tree_of(name) for name in NAMES}
TEXTS = [template(kind).encode() for kind in KINDS] + [(TARNWICK / f"{name}.toml").read_bytes() for name in NAMES]
WEATHER = "\n".join((TARNWICK / "weather-forecast.csv").read_text(encoding="utf-8").split("\n")[:12])
FUZZ = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))

ODD = st.one_of(
    st.none().map(lambda _: {}),
    st.booleans(),
    st.integers(),
    st.sampled_from([0, -1, 10**12, 10**400, 1e308, 5e-324, math.nan, math.inf, -math.inf]),
    st.floats(),
    st.text(max_size=50),
    st.sampled_from(["4 in", "1e999 m", "-3 m", "70 F", "nan m", "\x00", "../../etc", "/dev/zero", "a" * 5000]),
    st.dates(),
    st.times(),
    st.datetimes(),
    st.lists(st.integers(-3, 3), max_size=4),
    st.dictionaries(st.text(max_size=8), st.integers(), max_size=3),
)


def ends_well(path) -> CheckedSheet | None:
    start = time.process_time()
    try:
        checked = read_sheet(path)
    except SheetError as error:
        assert error.problems
        for problem in error.problems:
            assert problem.file
            assert len(str(problem)) < 2_000
        checked = None
    assert time.process_time() - start < 10
    return checked


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, entry in pairs:
        found += places(entry, (*path, key))
    return found


@FUZZ
@given(data=st.data(), name=st.sampled_from(NAMES))
def test_any_values_in_any_places_end_in_a_sheet_or_in_its_mistakes(data, name, tmp_path_factory):
    tree = copy.deepcopy(TREES[name])
    for _ in range(data.draw(st.integers(1, 4))):
        *path, last = data.draw(st.sampled_from(places(tree)))
        inner = tree
        for key in path:
            inner = inner[key]
        match data.draw(st.sampled_from(["put", "take away", "double", "rename"])):
            case "put":
                inner[last] = data.draw(ODD)
            case "take away":
                del inner[last]
            case "double" if isinstance(inner, list):
                inner.append(copy.deepcopy(inner[last]))
            case "rename" if isinstance(inner, dict):
                inner[data.draw(st.text(max_size=12))] = inner.pop(last)
    path = tmp_path_factory.getbasetemp() / "mutated.toml"
    path.write_text(as_toml(tree), encoding="utf-8")
    ends_well(path)


@FUZZ
@given(data=st.data(), text=st.sampled_from(TEXTS))
def test_any_bytes_in_any_places_end_in_a_sheet_or_in_its_mistakes(data, text, tmp_path_factory):
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, min(len(text), start + 40)))
    path = tmp_path_factory.getbasetemp() / "bytes.toml"
    path.write_bytes(text[:start] + data.draw(st.binary(max_size=40)) + text[end:])
    ends_well(path)


@FUZZ
@given(data=st.data())
def test_any_weather_text_ends_in_a_series_or_in_its_mistakes(data):
    start = data.draw(st.integers(0, len(WEATHER)))
    end = data.draw(st.integers(start, min(len(WEATHER), start + 60)))
    text = WEATHER[:start] + data.draw(st.text(max_size=40)) + WEATHER[end:]
    try:
        series = weather_series(text, "w.csv")
    except SheetError as error:
        assert error.problems
    else:
        assert all(math.isfinite(value) for value in series.air_temperature_c)


@pytest.mark.parametrize(
    "text",
    [
        "a." * 60_000 + "a = 1",
        "[" + "a." * 60_000 + "a]",
        "x = {" + "a." * 60_000 + "a = 1}",
        "1." * 60_000 + "1 = 1",
        "'a'.\"b\"." * 60_000 + "a = 1",
        "a = " + "[" * 100_000 + "]" * 100_000,
        "a = " + "{a=" * 50_000,
        "a = " + "9" * 10_000,
        "a = 1e99999999999",
        'a = "' + "x" * 900_000 + '"',
        "element = [" + "{}," * 100_000 + "]",
        "element = 5",
        "element = [[[]]]",
        "[[element]]\n" * 70_000,
        'a = """' + '"' * 500_000,
        "\n" * 900_000,
        'site = "../../../../../../etc/passwd"',
        'site = "/dev/zero"',
        'site = "\\u0000"',
        'site = ""',
        "site = 3",
    ],
    ids=lambda text: text[:12],
)
def test_texts_made_to_hurt_are_refused_soon(text, tmp_path):
    path = tmp_path / "pour.toml"
    path.write_text(text, encoding="utf-8")
    assert ends_well(path) is None


def test_two_thousand_elements_in_one_place_are_told_soon(tmp_path):
    tree = copy.deepcopy(TREES["slab"])
    tree["element"] += [{**tree["element"][0], "id": f"copy {number}"} for number in range(1_990)]
    path = tmp_path / "pour.toml"
    path.write_text(as_toml(tree), encoding="utf-8")
    assert ends_well(path) is None
