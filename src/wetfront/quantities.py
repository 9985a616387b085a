"""Units: every conversion factor stands here and nowhere else.

Inside the program a quantity is a plain number in the unit that its name ends in. Other units exist only at the border.
Source of the factors: exact definitions of the international yard and pound agreement of 1959 (0.3048 m, 0.45359237 kg,
US gallon 231 cubic inches), standard gravity 9.80665 m/s² (3rd CGPM, 1901).
"""

import re

from wetfront.errors import WetfrontError

KELVIN_AT_0_C = 273.15
GRAVITY_M_PER_S2 = 9.81
"""Rounded value that the formwork standards use in w = density × g (ACI 347R, SI form)."""
GAS_CONSTANT_J_PER_MOL_K = 8.3145
G_PER_KG_IN_PERCENT = 10.0
"""1 % by mass is so many grams in a kilogram."""

_INCH_M = 0.0254
_FOOT_M = 0.3048
_YARD_M = 0.9144
_POUND_KG = 0.45359237
_POUND_FORCE_KN = _POUND_KG * 9.80665 / 1000
_GALLON_M3 = 231 * _INCH_M**3

# Dimension -> unit -> factor to the dimension's first unit.
_FACTORS: dict[str, dict[str, float]] = {
    "length": {"m": 1, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "in": _INCH_M, '"': _INCH_M, "ft": _FOOT_M, "yd": _YARD_M},
    "area": {"m2": 1, "m²": 1, "mm2": 1e-6, "sq ft": _FOOT_M**2, "ft2": _FOOT_M**2, "sq yd": _YARD_M**2},
    "volume": {
        "m3": 1,
        "m³": 1,
        "l": 1e-3,
        "cu yd": _YARD_M**3,
        "yd3": _YARD_M**3,
        "cu ft": _FOOT_M**3,
        "ft3": _FOOT_M**3,
        "gal": _GALLON_M3,
    },
    "mass": {"kg": 1, "t": 1e3, "g": 1e-3, "lb": _POUND_KG},
    "time": {"h": 1, "min": 1 / 60, "s": 1 / 3600, "d": 24},
    "stress": {
        "kn/m2": 1,
        "kpa": 1,
        "mpa": 1e3,
        "n/mm2": 1e3,
        "psi": _POUND_FORCE_KN / _INCH_M**2,
        "ksi": 1e3 * _POUND_FORCE_KN / _INCH_M**2,
        "psf": _POUND_FORCE_KN / _FOOT_M**2,
        "bar": 100,
    },
    "density": {
        "kg/m3": 1,
        "lb/ft3": _POUND_KG / _FOOT_M**3,
        "pcf": _POUND_KG / _FOOT_M**3,
        "lb/yd3": _POUND_KG / _YARD_M**3,
    },
    "flow": {"m3/h": 1, "m³/h": 1, "cu yd/h": _YARD_M**3, "yd3/h": _YARD_M**3},
    "speed": {"m/s": 1, "km/h": 1 / 3.6, "mph": 1609.344 / 3600, "m/h": 1 / 3600, "ft/h": _FOOT_M / 3600},
    "force": {"kn": 1, "n": 1e-3, "kip": 1e3 * _POUND_FORCE_KN, "lbf": _POUND_FORCE_KN},
}

# Ending of a key -> (dimension, unit). Longest ending wins.
_SUFFIXES: dict[str, tuple[str, str]] = {
    "_m": ("length", "m"),
    "_mm": ("length", "mm"),
    "_km": ("length", "km"),
    "_m2": ("area", "m2"),
    "_m3": ("volume", "m3"),
    "_l": ("volume", "l"),
    "_kg": ("mass", "kg"),
    "_h": ("time", "h"),
    "_min": ("time", "min"),
    "_d": ("time", "d"),
    "_kn_per_m2": ("stress", "kn/m2"),
    "_mpa": ("stress", "mpa"),
    "_kg_per_m3": ("density", "kg/m3"),
    "_m3_per_h": ("flow", "m3/h"),
    "_m_per_s": ("speed", "m/s"),
    "_m_per_h": ("speed", "m/h"),
    "_kn": ("force", "kn"),
}

_TEXT = re.compile(r"^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S.*?)\s*$")


_DIFFERENCES = ("_by_c", "_spread_c")
"""5 °F of difference are not the temperature of 5 °F."""


def suffix_of(key: str) -> str | None:
    """The unit ending of a key (`_m3_per_h`), or None where it has none that another unit could be read for."""
    if key.endswith(_DIFFERENCES):
        return None
    endings = [ending for ending in (*_SUFFIXES, "_c", "_percent") if key.endswith(ending)]
    ending = max(endings, key=len, default=None)
    if ending is None or "per" in key.removesuffix(ending).split("_"):
        return None  # a price per m3 or a rain rate in mm per h is neither a volume nor a time
    return ending


def from_text(key: str, text: str) -> float:
    """Convert "4 in", "3000 psi", "12 cu yd", "70 F" to the unit that `key` ends in.

    Raises WetfrontError where the text is no number with a unit of the key's kind.
    >>> round(from_text("thickness_mm", "4 in"), 6)
    101.6
    >>> round(from_text("concrete_temperature_c", "68 F"), 6)
    20.0
    """
    found = _TEXT.match(text)
    suffix = suffix_of(key)
    if found is None or suffix is None:
        raise WetfrontError(f"{text!r} is not a number with a unit")
    number, unit = float(found[1]), found[2].lower().removesuffix(".")
    if suffix == "_c":
        return _celsius(number, unit)
    if suffix == "_percent":
        if unit not in ("%", "percent"):
            raise WetfrontError(f"{unit!r} is no unit of a percentage; use %")
        return number
    dimension, own = _SUFFIXES[suffix]
    factors = _FACTORS[dimension]
    if unit not in factors:
        raise WetfrontError(f"{unit!r} is no unit of {dimension}; known: {', '.join(factors)}")
    return number * factors[unit] / factors[own]


def _celsius(number: float, unit: str) -> float:
    match unit.removeprefix("°"):
        case "c":
            return number
        case "f":
            return (number - 32) / 1.8
        case "k":
            return number - KELVIN_AT_0_C
    raise WetfrontError(f"{unit!r} is no unit of temperature; known: °C, °F, K")
