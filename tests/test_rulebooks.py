"""The rule books: every cell read a second time, the checks on loading, and the laws of the merge."""

import math
import tomllib
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wetfront.errors import InvalidInput, OutOfRange, SheetError
from wetfront.nouns.reason import Provenance
from wetfront.rules import Rule, book, book_names, books, in_force, rule, rule_names, search, stricter_of
from wetfront.rules.book import parsed

ALL_RULES = [one for each in books() for one in each.rules.values()]
NAMES = [f"{one.book}:{one.name}" for one in ALL_RULES]

P, M, R = "published", "from memory", "recomputed"
C, O = "common practice, no source", "own rule, on the cautious side"  # noqa: E741

CYLINDERS = (8, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80, 90, 100)
CUBES = (10, 15, 20, 25, 30, 37, 45, 50, 55, 60, 67, 75, 85, 95, 105, 115)
IS_456_TABLE_5 = {
    "mild": (220, 0.60, None, 300, 0.55, 20),
    "moderate": (240, 0.60, 15, 300, 0.50, 25),
    "severe": (250, 0.50, 20, 320, 0.45, 30),
    "very-severe": (260, 0.45, 20, 340, 0.45, 35),
    "extreme": (280, 0.40, 25, 360, 0.40, 40),
}


def by_section(*lowest_c: float) -> dict[str, Any]:
    """Rows by the least dimension; the first two columns were read, the others are remembered."""
    rows = ("under 300 mm", "up to 900 mm", "up to 1800 mm", "above that")
    return {row: (low, None, "°C", known) for row, low, known in zip(rows, lowest_c, (P, P, M, M), strict=True)}


SECOND_READING: dict[str, Any] = {
    # A second reading, typed apart from the books: (least, most, unit, provenance), or a row each.
    "en:delivery-time-agitated": (None, 2 * 60, "min", P),
    "en:delivery-time-not-agitated": (None, 1 * 60, "min", P),
    "en:delivery-time-agitated-din": (None, 90, "min", M),
    "en:delivery-time-not-agitated-din": (None, 45, "min", M),
    "en:concrete-temperature-least": (5, None, "°C", P),
    "en:concrete-temperature-most": (None, 30, "°C", P),
    "en:concrete-temperature-least-in-cold": {"under -3 °C": (10, None, "°C", P), "up to 5 °C": (5, None, "°C", P)},
    "en:slump-classes": {
        "S1": (10, 40, "mm", P),
        "S2": (50, 90, "mm", P),
        "S3": (100, 150, "mm", P),
        "S4": (160, 210, "mm", P),
        "S5": (220, None, "mm", P),
    },
    "en:flow-classes": {
        "F1": (None, 340, "mm", P),
        "F2": (350, 410, "mm", P),
        "F3": (420, 480, "mm", P),
        "F4": (490, 550, "mm", P),
        "F5": (560, 620, "mm", P),
        "F6": (630, None, "mm", P),
    },
    "en:slump-spot-limits": {
        "S1": (0, 60, "mm", P),
        "S2": (30, 110, "mm", P),
        "S3": (80, 170, "mm", P),
        "S4": (140, 230, "mm", P),
    },
    "en:slump-tolerance": {
        "under 50 mm": (None, 30, "mm", P),
        "under 100 mm": (None, 40, "mm", P),
        "above that": (None, 50, "mm", P),
    },
    "en:slump-tolerance-composite": {
        "under 50 mm": (None, 10, "mm", M),
        "under 100 mm": (None, 20, "mm", M),
        "above that": (None, 30, "mm", P),
    },
    "en:vebe-classes": {
        "V0": (31, None, "s", P),
        "V1": (21, 30, "s", P),
        "V2": (11, 20, "s", P),
        "V3": (6, 10, "s", P),
        "V4": (3, 5, "s", P),
    },
    "en:compactability-classes": {
        "C0": (1.46, None, "1", P),
        "C1": (1.26, 1.45, "1", P),
        "C2": (1.11, 1.25, "1", P),
        "C3": (1.04, 1.10, "1", P),
        "C4": (1, 1.04 - 0.01, "1", P),
    },
    "en:slump-flow-classes": {"SF1": (550, 650, "mm", P), "SF2": (660, 750, "mm", P), "SF3": (760, 850, "mm", P)},
    "en:slump-under-class": (None, 10, "mm", M),
    "en:slump-over-class": (None, 20, "mm", M),
    "en:flow-under-class": (None, 15, "mm", M),
    "en:flow-over-class": (None, 30, "mm", M),
    "en:flow-under-class-spot": (None, 25, "mm", M),
    "en:flow-over-class-spot": (None, 40, "mm", M),
    "en:slump-flow-limits": {"SF1": (520, 700, "mm", P), "SF2": (640, 800, "mm", P), "SF3": (740, 900, "mm", P)},
    "en:slump-flow-tolerance": (None, 80, "mm", P),
    "en:air-under-specified": (None, 0.5, "%", M),
    "en:air-over-specified": (None, 4 + 1.0, "%", M),
    "aci:delivery-time-agitated": (None, 90, "min", P),
    "aci:drum-turns": (None, 300, "count", P),
    "aci:concrete-temperature-least": {
        "under 300 mm": (13, None, "°C", P),
        "up to 900 mm": (10, None, "°C", P),
        "up to 1800 mm": (7, None, "°C", M),
        "above that": (5, None, "°C", M),
    },
    "aci:concrete-temperature-most": (None, 35, "°C", P),
    "aci:cold-weather-air": (5, None, "°C", P),
    "aci:evaporation-precaution": (None, 1.0, "kg/m²h", P),
    "aci:evaporation-precaution-low-bleed": (None, 0.5, "kg/m²h", M),
    "aci:slump-tolerance": {
        "up to 50 mm": (None, 15, "mm", M),
        "up to 100 mm": (None, 25, "mm", P),
        "above that": (None, 40, "mm", M),
    },
    "aci:revibration-interval": (None, 15, "min", P),
    "aci:vibrator-spacing": (None, 1.5, "1", P),
    "aci:vibrator-spacing-square": (None, 1.414, "1", R),
    "aci:vibrator-form-distance": (None, 0.75, "1", P),
    "aci:overhead-line-clearance": {"up to 350 kV": (6, None, "m", P), "above that": (15, None, "m", P)},
    "aci:slump-under-maximum": {"up to 75 mm": (None, 40, "mm", M), "above that": (None, 65, "mm", M)},
    "aci:air-under-specified": (None, 1.5, "%", M),
    "aci:air-over-specified": (None, 1.5, "%", M),
    "aci:placing-over-least": (None, round(20 / 1.8), "°C", P),
    "aci:mixing-over-least": (None, round(15 / 1.8), "°C", P),
    "aci:mixing-temperature-least-mild": by_section(16, 13, 10, 7),
    "aci:mixing-temperature-least-frost": by_section(18, 16, 13, 10),
    "aci:mixing-temperature-least-hard": by_section(21, 18, 16, 13),
    "aci:temperature-fall-after-cover": {
        row: (high, low, unit, known) for row, (low, high, unit, known) in by_section(28, 22, 17, 11).items()
    },
    "aci:water-for-25-mm-slump": (None, 5, "l/m³", P),
    "aci:discharged-before-water": (None, 0.2, "m³", P),
    "aci:remixing-turns": (30, None, "count", M),
    "nz:slump-tolerance": {"under 120 mm": (None, 20, "mm", P), "above that": (None, 30, "mm", P)},
    "nz:slump-tolerance-snatch": {
        "under 70 mm": (None, 20, "mm", P),
        "under 120 mm": (None, 30, "mm", P),
        "above that": (None, 40, "mm", P),
    },
    "is:delivery-time-agitated": (None, 2 * 60, "min", P),
    "is:discharge-after-arrival": (None, 30, "min", P),
    "is:concrete-temperature-most": (None, 40, "°C", M),
    "is:slump-tolerance": (None, 25, "mm", M),
    "is:slump-tolerance-divisor": (3, None, "1", M),
    "as:delivery-time-agitated": (None, 90, "min", M),
    "as:concrete-temperature-least": (5, None, "°C", M),
    "as:concrete-temperature-most": (None, 35, "°C", M),
    "as:slump-tolerance": {
        "under 60 mm": (None, 10, "mm", M),
        "up to 80 mm": (None, 15, "mm", M),
        "up to 110 mm": (None, 20, "mm", M),
        "up to 150 mm": (None, 30, "mm", M),
        "above that": (None, 40, "mm", M),
    },
    # Table F.1, by its columns: maximum w/c, minimum class, minimum cement.
    "en:water-cement-ratio": {
        **{f"XC{n}": (None, ratio, "ratio", P) for n, ratio in enumerate((0.65, 0.60, 0.55, 0.50), 1)},
        **{f"XS{n}": (None, ratio, "ratio", P) for n, ratio in enumerate((0.50, 0.45, 0.45), 1)},
        **{f"XD{n}": (None, ratio, "ratio", P) for n, ratio in enumerate((0.55, 0.55, 0.45), 1)},
        **{f"XF{n}": (None, ratio, "ratio", P) for n, ratio in enumerate((0.55, 0.55, 0.50, 0.45), 1)},
        **{f"XA{n}": (None, ratio, "ratio", P) for n, ratio in enumerate((0.55, 0.50, 0.45), 1)},
    },
    "en:strength-least": {
        "X0": (12, None, "MPa", P),
        **{f"XC{n}": (strength, None, "MPa", P) for n, strength in enumerate((20, 25, 30, 30), 1)},
        **{f"XS{n}": (strength, None, "MPa", P) for n, strength in enumerate((30, 35, 35), 1)},
        **{f"XD{n}": (strength, None, "MPa", P) for n, strength in enumerate((30, 30, 35), 1)},
        **{f"XF{n}": (strength, None, "MPa", P) for n, strength in enumerate((30, 25, 30, 30), 1)},
        **{f"XA{n}": (strength, None, "MPa", P) for n, strength in enumerate((30, 30, 35), 1)},
    },
    "en:cement-content-least": {
        **{f"XC{n}": (cement, None, "kg/m³", P) for n, cement in enumerate((260, 280, 280, 300), 1)},
        **{f"XS{n}": (cement, None, "kg/m³", P) for n, cement in enumerate((300, 320, 340), 1)},
        **{f"XD{n}": (cement, None, "kg/m³", P) for n, cement in enumerate((300, 300, 320), 1)},
        **{f"XF{n}": (cement, None, "kg/m³", P) for n, cement in enumerate((300, 300, 320, 340), 1)},
        **{f"XA{n}": (cement, None, "kg/m³", P) for n, cement in enumerate((300, 320, 360), 1)},
    },
    "en:air-content-least-for-exposure": {f"XF{n}": (4, None, "%", P) for n in (2, 3, 4)},
    "en:water-cement-ratio-deviation": (None, 0.02, "ratio", M),
    "en:cement-content-deviation": (None, 10, "kg/m³", M),
    "en:strength-classes-cylinder": {
        f"C{cylinder}/{cube}": (cylinder, None, "MPa", M) for cylinder, cube in zip(CYLINDERS, CUBES, strict=True)
    },
    "en:strength-classes-cube": {
        f"C{cylinder}/{cube}": (cube, None, "MPa", M) for cylinder, cube in zip(CYLINDERS, CUBES, strict=True)
    },
    "en:chloride-content": {
        "Cl 1,0": (None, 1, "%", M),
        "Cl 0,40": (None, 0.4, "%", M),
        "Cl 0,30": (None, 0.3, "%", M),
        "Cl 0,20": (None, 0.2, "%", M),
        "Cl 0,15": (None, 0.15, "%", M),
        "Cl 0,10": (None, 0.1, "%", M),
    },
    "en:chloride-content-by-use": {
        "without steel": (None, 1, "%", M),
        "reinforced": (None, 0.4, "%", M),
        "prestressed": (None, 0.2, "%", M),
    },
    "en:chloride-content-by-use-british": {
        "reinforced": (None, 0.4, "%", P),
        "heat-cured or pretensioned": (None, 0.1, "%", P),
    },
    "en:admixture-chloride": (None, 0.1, "%", M),
    "en:admixture-dose": (None, 50, "g/kg", M),
    "en:admixture-dose-undispersed": (2, None, "g/kg", M),
    "en:admixture-water-counts": (None, 3, "l/m³", M),
    "en:batching-tolerance": {
        "cement": (None, 3, "%", P),
        "water": (None, 3, "%", P),
        "aggregates": (None, 3, "%", P),
        "additions over 5 % of cement": (None, 3, "%", P),
        "additions to 5 % of cement": (None, 5, "%", P),
        "admixtures": (None, 5, "%", P),
    },
    "en:added-at-delivery": (None, 0, "l/m³", P),
    "en:remixing-time-per-m3": (1, None, "min/m³", P),
    "en:remixing-time": (5, None, "min", P),
    "en:identity-volume": (None, 400, "m³", P),
    "en:identity-results": (1, 6, "count", P),
    "aci:water-cement-ratio": {
        "frost with deicing salts": (None, 0.40, "ratio", P),
        "chlorides from outside": (None, 0.40, "ratio", P),
        "low permeability": (None, 0.50, "ratio", P),
    },
    "aci:water-cement-ratio-durability": {
        "severe, thin or cover under 25 mm": (None, 0.45, "ratio", M),
        "severe, other": (None, 0.50, "ratio", M),
        "sea water or sulfate, thin or cover under 25 mm": (None, 0.40, "ratio", M),
        "sea water or sulfate, other": (None, 0.45, "ratio", M),
    },
    "aci:batching-tolerance": {
        "cement": (None, 1, "%", M),
        "aggregates": (None, 2, "%", M),
        "water": (None, 3, "%", M),
        "admixtures": (None, 3, "%", M),
    },
    "aci:sample-volume": (None, 110, "m³", P),
    "aci:sample-area": (None, 460, "m²", P),
    "aci:samples-per-day": (1, None, "count", P),
    "aci:samples-for-project": (5, None, "count", P),
    "aci:sampling-waiver-volume": (None, 38, "m³", P),
    "aci:specimens-per-sample": {"150 mm cylinders": (2, None, "count", P), "100 mm cylinders": (3, None, "count", P)},
    # IS 456 Table 5, exposure by exposure: plain cement, ratio, grade; reinforced cement, ratio, grade.
    "is:water-cement-ratio": {row: (None, line[4], "ratio", P) for row, line in IS_456_TABLE_5.items()},
    "is:cement-content-least": {row: (line[3], None, "kg/m³", P) for row, line in IS_456_TABLE_5.items()},
    "is:grade-least": {row: (line[5], None, "MPa", P) for row, line in IS_456_TABLE_5.items()},
    "is:water-cement-ratio-plain": {row: (None, line[1], "ratio", P) for row, line in IS_456_TABLE_5.items()},
    "is:cement-content-least-plain": {row: (line[0], None, "kg/m³", P) for row, line in IS_456_TABLE_5.items()},
    "is:grade-least-plain": {row: (line[2], None, "MPa", P) for row, line in IS_456_TABLE_5.items() if line[2]},
    "is:cement-content-for-size": {
        "10 mm": (40, None, "kg/m³", M),
        "20 mm": (0, None, "kg/m³", M),
        "40 mm": (-30, None, "kg/m³", M),
    },
    "is:cement-content-most": (None, 450, "kg/m³", P),
    "is:samples-by-volume": {
        "up to 5 m³": (1, None, "count", P),
        "up to 15 m³": (2, None, "count", P),
        "up to 30 m³": (3, None, "count", P),
        "up to 50 m³": (4, None, "count", P),
    },
    "is:sample-volume-further": (None, 50, "m³", P),
    "is:samples-per-shift": (1, None, "count", P),
    "is:specimens-per-sample": (3, None, "count", P),
    "as:sample-volume": (None, 50, "m³", M),
    "practice:free-fall": (None, 1.5, "m", O),
    "practice:layer-thickness": (None, 500, "mm", P),
    "practice:layer-thickness-least": (300, None, "mm", C),
    "practice:vibrator-overlap": (150, None, "mm", C),
    "practice:vibration-time": (5, 15, "s", C),
    "practice:vibrator-withdrawal": (None, 75, "mm/s", M),
    "practice:vibrators-per-spare": (None, 3, "count", C),
    "practice:joint-margin": (30, None, "min", O),
    "practice:pipe-to-aggregate": (4, None, "1", P),
    "practice:line-pressure": (None, 85, "bar", C),
}

PLAUSIBLE = {
    # What a site would ever meet under such a name: start of the name -> lowest, highest limit.
    "delivery-time": (45, 150),
    "discharge-after-arrival": (15, 60),
    "drum-turns": (100, 300),
    "concrete-temperature-least": (5, 13),
    "concrete-temperature-most": (30, 40),
    "cold-weather-air": (4, 5),
    "evaporation": (0.5, 1.0),
    "slump-classes": (10, 220),
    "slump-spot-limits": (0, 230),
    "slump-tolerance-divisor": (2, 5),
    "slump-under": (10, 65),
    "slump-over": (20, 20),
    "slump-flow": (520, 900),
    "slump-flow-tolerance": (50, 80),
    "vebe-classes": (3, 31),
    "compactability-classes": (1, 1.46),
    "flow-under": (15, 25),
    "flow-over": (30, 40),
    "air-under": (0.5, 1.5),
    "air-over": (1.5, 5),
    "remixing-turns": (30, 30),
    "placing-over-least": (8, 11),
    "mixing-over-least": (8, 11),
    "mixing-temperature": (7, 21),
    "temperature-fall": (11, 28),
    "water-for-25-mm": (5, 5),
    "discharged-before-water": (0.1, 0.3),
    "slump-tolerance": (10, 50),
    "flow-classes": (340, 630),
    "revibration-interval": (10, 30),
    "vibrator-spacing": (1.4, 1.5),
    "vibrator-form-distance": (0.5, 0.75),
    "overhead-line": (3, 15),
    "water-cement-ratio": (0.35, 0.70),
    "water-cement-ratio-deviation": (0.01, 0.05),
    "strength-least": (8, 50),
    "grade-least": (10, 50),
    "cement-content-least": (200, 400),
    "cement-content-most": (400, 500),
    "cement-content-deviation": (5, 20),
    "cement-content-for-size": (-40, 40),
    "air-content-least-for-exposure": (3.0, 5.0),
    "strength-classes": (8, 115),
    "chloride-content": (0.05, 1.0),
    "admixture-chloride": (0.05, 0.2),
    "admixture-dose": (20, 60),
    "admixture-dose-undispersed": (1, 5),
    "admixture-water-counts": (1, 5),
    "batching-tolerance": (1, 5),
    "added-at-delivery": (0, 0),
    "remixing-time": (1, 10),
    "identity-volume": (100, 600),
    "identity-results": (1, 6),
    "sample-volume": (25, 150),
    "sample-area": (300, 600),
    "samples": (1, 6),
    "sampling-waiver-volume": (30, 50),
    "specimens-per-sample": (1, 4),
    "free-fall": (1.0, 2.5),
    "layer-thickness": (300, 500),
    "vibrator-overlap": (100, 200),
    "vibration-time": (5, 15),
    "vibrator-withdrawal": (50, 100),
    "vibrators-per-spare": (1, 3),
    "joint-margin": (15, 60),
    "pipe-to-aggregate": (3, 4),
    "line-pressure": (50, 130),
}


def cells_of(one: Rule) -> list[tuple[str, float | None, float | None, Provenance, int]]:
    if not one.cells:
        return [("", one.low, one.high, one.provenance, one.readings)]
    return [(cell.label(one.by_unit), cell.low, cell.high, cell.provenance, cell.readings) for cell in one.cells]


@pytest.mark.parametrize("one", ALL_RULES, ids=NAMES)
def test_every_cell_equals_its_second_reading(one):
    second = SECOND_READING[f"{one.book}:{one.name}"]
    rows = second if isinstance(second, dict) else {"": second}
    found = {row: (low, high, one.unit, str(known)) for row, low, high, known, _ in cells_of(one)}
    assert found == rows
    assert list(found) == list(rows)


def test_the_second_reading_holds_no_rule_that_the_books_lack():
    assert set(SECOND_READING) == set(NAMES)


@pytest.mark.parametrize("one", ALL_RULES, ids=NAMES)
def test_every_cell_lies_within_what_a_site_would_meet(one):
    start = max((begin for begin in PLAUSIBLE if one.name.startswith(begin)), key=len)
    lowest, highest = PLAUSIBLE[start]
    for row, low, high, _, _ in cells_of(one):
        for limit in (low, high):
            assert limit is None or lowest <= limit <= highest, f"{row}: {limit}"


@pytest.mark.parametrize("one", ALL_RULES, ids=NAMES)
def test_what_is_read_counts_its_readings_and_what_is_remembered_has_none(one):
    for row, _, _, known, readings in [*cells_of(one), ("rule", 0, 0, one.provenance, one.readings)]:
        if known is Provenance.PUBLISHED:
            assert readings >= 1, row
        else:
            assert readings == 0, row
    if one.rests_on_memory:
        assert "FROM MEMORY" in one.standing
        assert "check the standard" in one.standing
    else:
        assert "MEMORY" not in one.standing


def test_a_rule_read_only_once_says_so():
    for one in ALL_RULES:
        if one.provenance is Provenance.PUBLISHED:
            assert ("read once" in one.standing) == (one.readings == 1)


@pytest.mark.parametrize("name", rule_names())
def test_one_name_has_one_title_unit_and_side_in_all_books(name):
    """Else the columns of the comparison would not compare."""
    having = [each.rules[name] for each in books() if name in each.rules]
    assert len({one.title for one in having}) == 1
    assert len({one.unit for one in having}) == 1
    sides = {(low is None, high is None) for one in having for _, low, high, _, _ in cells_of(one)}
    assert len(having) == 1 or len(sides) == 1


def test_times_say_what_they_count_from_and_to():
    times = [one for one in ALL_RULES if one.unit == "min"]
    assert times
    assert all(one.counts_from and one.counts_to for one in times)


def test_the_square_grid_factor_closes_the_middle_of_the_square():
    """Second method: the middle of a square of side s lies s/√2 from its corners, which must be within one radius."""
    factor = rule("aci", "vibrator-spacing-square").high
    assert factor / math.sqrt(2) <= 1 < rule("aci", "vibrator-spacing").high / math.sqrt(2)


def test_spot_limits_are_wider_than_the_class_on_both_sides():
    classes, spot = rule("en", "slump-classes"), rule("en", "slump-spot-limits")
    for cell in spot.cells:
        of_class = classes.at(cell.word)
        assert cell.low < of_class.low
        assert cell.high > of_class.high


def test_books_are_packaged():
    found = {path.name for path in files("wetfront.rules").joinpath("rulebooks").iterdir()}
    assert found == {f"{name}.toml" for name in book_names()}


# Asking


def test_a_step_is_picked_at_its_very_bound():
    least = rule("aci", "concrete-temperature-least")
    sizes = {0: 13, 299.9: 13, 300: 10, 900: 10, 900.1: 7, 1800: 7, 1800.1: 5, 5000: 5}
    assert {size: least.at(size).low for size in sizes} == sizes


def test_a_picked_row_keeps_its_own_provenance():
    least = rule("aci", "concrete-temperature-least")
    assert least.at(250).provenance is Provenance.PUBLISHED
    assert least.at(1200).provenance is Provenance.MEMORY
    assert least.at(1200).rests_on_memory


@pytest.mark.parametrize("where", [-1, math.nan, math.inf])
def test_a_stepped_table_is_not_extrapolated(where):
    with pytest.raises(OutOfRange, match="least dimension"):
        rule("aci", "concrete-temperature-least").at(where)


def test_air_above_the_last_step_has_no_row():
    with pytest.raises(OutOfRange):
        rule("en", "concrete-temperature-least-in-cold").at(5.1)


def test_only_a_rule_with_one_limit_is_one_number():
    assert rule("en", "concrete-temperature-least").number == 5
    assert rule("aci", "sample-volume").number == 110
    for book_name, name in (("practice", "vibration-time"), ("en", "water-cement-ratio")):
        with pytest.raises(InvalidInput, match="not one number"):
            _ = rule(book_name, name).number


def test_an_unknown_class_names_the_rows():
    with pytest.raises(InvalidInput, match="S1, S2, S3, S4"):
        rule("en", "slump-spot-limits").at("S5")


def test_unknown_names_are_met_with_the_nearest():
    with pytest.raises(InvalidInput, match="did you mean free-fall"):
        rule("practice", "freefall")
    with pytest.raises(InvalidInput, match="it stands in: aci"):
        rule("en", "drum-turns")
    with pytest.raises(InvalidInput, match="no rule book"):
        book("din")


def test_practice_answers_only_where_the_book_is_silent():
    assert in_force("en", "free-fall").book == "practice"
    assert in_force("as", "concrete-temperature-most").book == "as"
    assert in_force("en", "drum-turns") is None
    with pytest.raises(InvalidInput):
        in_force("en", "no-such-rule")


def test_search_finds_only_rules_in_which_every_word_stands():
    found = search("SLUMP memory")
    assert {one.book for one in found} == {"en", "aci", "is", "as"}
    assert all("slump" in one.name for one in found)
    assert search("quicksilver") == ()


# Loading

GOOD = """
[book]
name = "try"
title = "Trial"
covers = "nothing"

[rule.drum-turns]
title = "Most turns"
unit = "count"
most = 300
source = "X"
edition = "1"
clause = "2"
provenance = "published"
readings = 1

[rule.warmth]
title = "Lowest temperature"
unit = "°C"
by = "size"
by_unit = "mm"
by_least = 0
order = "falling"
rows = [ { under = 300, least = 13 }, { to = 900, least = 10 }, { least = 7 } ]
source = "X"
edition = ""
clause = ""
provenance = "from memory"
readings = 0
"""


def test_the_trial_book_is_good():
    assert set(parsed(GOOD, "try.toml").rules) == {"drum-turns", "warmth"}


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("most = 300", "most = 30000", "rule.drum-turns.most"),
        ("most = 300", "most = nan", "rule.drum-turns.most"),
        ("most = 300", 'most = "2 * 150"', "rule.drum-turns.most"),
        ("most = 300", "most = true", "rule.drum-turns.most"),
        ("most = 300", "", "rule.drum-turns"),
        ("most = 300", "most = 300\nleast = 400", "rule.drum-turns.least"),
        ("most = 300", "moast = 300", "rule.drum-turns.moast"),
        ('unit = "count"', 'unit = "turns"', "rule.drum-turns.unit"),
        ('unit = "count"', 'unit = "min"', "rule.drum-turns.counts_from"),
        ('title = "Most turns"', 'title = " "', "rule.drum-turns.title"),
        ('provenance = "published"', 'provenance = "heard"', "rule.drum-turns.provenance"),
        ('provenance = "published"', 'provenance = "input"', "rule.drum-turns.provenance"),
        (
            'provenance = "published"\nreadings = 1',
            'provenance = "published"\nreadings = 0',
            "rule.drum-turns.readings",
        ),
        (
            'provenance = "from memory"\nreadings = 0',
            'provenance = "from memory"\nreadings = 2',
            "rule.warmth.readings",
        ),
        ('order = "falling"', 'order = "rising"', "rule.warmth.rows"),
        ('order = "falling"', 'order = "rising or level"', "rule.warmth.rows"),
        ('order = "falling"', "", "rule.warmth.order"),
        ('by = "size"', "", "rule.warmth.by"),
        ("by_least = 0", "", "rule.warmth.by_least"),
        ("{ to = 900, least = 10 }", "{ to = 200, least = 10 }", "rule.warmth.rows[2]"),
        ("{ to = 900, least = 10 }", "{ least = 10 }", "rule.warmth.rows[2]"),
        ("{ to = 900, least = 10 }", '{ class = "A", least = 10 }', "rule.warmth.rows"),
        ("{ to = 900, least = 10 }", "{ to = 900, least = 14 }", "rule.warmth.rows"),
        ("{ to = 900, least = 10 }", "{ to = 900 }", "rule.warmth.rows[2]"),
        ("{ least = 7 }", "{ least = 7, most = 3 }", "rule.warmth.rows[3].least"),
        ('name = "try"', 'name = "other"', "book.name"),
        ('covers = "nothing"', "", "book.covers"),
    ],
)
def test_loading_refuses_and_names_file_and_key(old, new, key):
    assert old in GOOD
    with pytest.raises(SheetError) as caught:
        parsed(GOOD.replace(old, new), "try.toml")
    assert key in {problem.key for problem in caught.value.problems}
    assert all(str(problem).startswith("try.toml: ") for problem in caught.value.problems)


def test_loading_reports_all_mistakes_at_once():
    broken = GOOD.replace("most = 300", "most = nan").replace('order = "falling"', 'order = "down"')
    with pytest.raises(SheetError) as caught:
        parsed(broken, "try.toml")
    assert {"rule.drum-turns.most", "rule.warmth.order"} <= {problem.key for problem in caught.value.problems}


@pytest.mark.parametrize("text", ["", "[book]", "rule = 3", "[book", "[book]\nname='x'\n[rule]\na=1"])
def test_what_is_no_book_is_refused(text):
    with pytest.raises(SheetError):
        parsed(text, "try.toml")


@pytest.mark.parametrize("name", book_names())
def test_a_book_holds_values_never_expressions(name):
    """Every number of a book is a number in the file; no limit hides in a text."""
    data = tomllib.loads(files("wetfront.rules").joinpath("rulebooks", f"{name}.toml").read_text(encoding="utf-8"))
    for one in data["rule"].values():
        for holder in [one, *one.get("rows", [])]:
            assert all(type(holder[side]) in (int, float) for side in ("least", "most") if side in holder)


# The merge

LIMIT = st.floats(-1000, 1000)


def of(low: float | None, high: float | None, provenance: Provenance = Provenance.PUBLISHED) -> Rule:
    return Rule(
        book="try",
        name="limit",
        title="Limit",
        unit="mm",
        low=low,
        high=high,
        source="X",
        edition="",
        clause="",
        provenance=provenance,
        readings=1 if provenance is Provenance.PUBLISHED else 0,
    )


@given(LIMIT, LIMIT)
@settings(max_examples=100, deadline=None)
def test_an_upper_limit_is_never_looser_than_either(ours, theirs):
    applied = stricter_of(of(None, ours), theirs)
    assert applied.value == min(ours, theirs)
    assert applied.loosened == (theirs > ours) == applied.needs_approval
    assert applied.governs == ("both" if ours == theirs else "rule" if ours < theirs else "project")


@given(LIMIT, LIMIT)
@settings(max_examples=100, deadline=None)
def test_a_lower_limit_is_never_looser_than_either(ours, theirs):
    applied = stricter_of(of(ours, None), theirs)
    assert applied.value == max(ours, theirs)
    assert applied.loosened == (theirs < ours)


@given(LIMIT, LIMIT, LIMIT, LIMIT)
@settings(max_examples=200, deadline=None)
def test_a_range_holds_exactly_what_both_allow(a, b, c, d):
    ours, theirs = of(min(a, b), max(a, b)), (min(c, d), max(c, d))
    try:
        applied = stricter_of(ours, theirs)
    except InvalidInput:
        assert theirs[1] < ours.low or theirs[0] > ours.high
        return
    for probe in (a, b, c, d, (a + b) / 2, (c + d) / 2):
        allowed = ours.low <= probe <= ours.high and theirs[0] <= probe <= theirs[1]
        assert (applied.low <= probe <= applied.high) == allowed


@given(LIMIT, LIMIT)
@settings(max_examples=50, deadline=None)
def test_laying_the_result_over_the_rule_again_changes_nothing(ours, theirs):
    once = stricter_of(of(None, ours), theirs)
    again = stricter_of(of(None, ours), once.value)
    assert again.value == once.value
    assert not again.loosened


@given(LIMIT, LIMIT, LIMIT)
@settings(max_examples=50, deadline=None)
def test_a_stricter_project_never_gives_a_looser_limit(ours, first, second):
    strict, loose = sorted((first, second))
    assert stricter_of(of(None, ours), strict).value <= stricter_of(of(None, ours), loose).value


def test_a_silent_project_leaves_the_rule():
    applied = stricter_of(rule("en", "delivery-time-agitated"), None)
    assert (applied.value, applied.governs, applied.loosened) == (120, "rule", False)
    assert "counted from loading to arrival on site" in applied.text


def test_a_loosening_holds_only_with_a_name():
    limit = rule("is", "discharge-after-arrival")
    assert stricter_of(limit, 45).value == 30
    assert stricter_of(limit, 45, approved_by="  ").needs_approval
    approved = stricter_of(limit, 45, approved_by="designer")
    assert (approved.value, approved.governs, approved.loosened, approved.needs_approval) == (
        45,
        "project",
        True,
        False,
    )
    assert "approved by designer" in approved.text


def test_a_name_without_a_loosening_approves_nothing():
    assert stricter_of(rule("is", "discharge-after-arrival"), 20, approved_by="designer").approved_by == ""


def test_a_remembered_limit_is_marked_where_it_governs_and_not_where_the_project_does():
    limit = rule("as", "delivery-time-agitated")
    by_rule, by_project = stricter_of(limit, 120), stricter_of(limit, 60)
    assert by_rule.rests_on_memory
    assert "by remembered limit, check the standard" in by_rule.text
    assert not by_project.rests_on_memory
    assert by_project.value == 60


@pytest.mark.parametrize("value", [math.nan, math.inf, (5, 3), (None, math.nan)])
def test_the_merge_refuses_what_is_no_figure(value):
    with pytest.raises(InvalidInput):
        stricter_of(of(0, 10) if isinstance(value, tuple) else of(None, 10), value)


def test_the_merge_refuses_the_wrong_shape():
    with pytest.raises(InvalidInput, match="lowest and its highest"):
        stricter_of(of(0, 10), 5)
    with pytest.raises(InvalidInput, match="one limit"):
        stricter_of(of(None, 10), (1, 5))
    with pytest.raises(InvalidInput, match="pick the row"):
        stricter_of(rule("en", "slump-spot-limits"), (80, 170))


def test_nothing_meets_both_is_said_and_not_clamped():
    with pytest.raises(InvalidInput, match="nothing meets both"):
        stricter_of(of(0, 10), (20, 30))
