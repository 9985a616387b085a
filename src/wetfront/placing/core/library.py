"""The compiled core as a shared library: found, checked against its source, and described by itself."""

import ctypes
import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wetfront.hashed import normal_quantile
from wetfront.placing.core.build import FOLDER, LIBRARY_NAME, SOURCES, source_hash

Floats = NDArray[np.float64]

ENVIRONMENT_VARIABLE = "WETFRONT_CORE"
"""Set to `plain`, the plain Python simulator is used even where the compiled core is there."""

_STRUCTURES = ("model", "draws", "result")
_KINDS = {"D": np.float64, "I": np.int64, "F": np.uint64, "L": np.uint64, "S": np.uint64}
_OCTAVES, _OCTAVE_PARTS, _COEFFICIENTS = 53, 32, 8


@dataclass(frozen=True, slots=True)
class Library:
    """The loaded core. `layouts` are record types by structure; a pointer is an unsigned integer there."""

    run: "ctypes._NamedFuncPointer"
    values: "ctypes._NamedFuncPointer"
    hashed: "ctypes._NamedFuncPointer"
    level: int
    """The widest instructions that the processor has, as pour.h numbers them."""
    layouts: dict[str, "np.dtype[np.void]"]
    kinds: dict[str, dict[str, str]]
    """By structure and field: D a number, I an integer, F, L, S a column of float64, int64, int32."""


FAILURE = np.dtype([("code", np.int64), ("model", np.int64), ("replication", np.int64), ("value", np.float64)])


def library_path() -> Path:
    """Where the library stands when it is built."""
    return FOLDER / LIBRARY_NAME


@cache
def load(path: Path | None = None) -> Library | None:
    """The compiled core, or None where it is not built, not from this source, or does not load here."""
    path = path or library_path()
    try:
        handle = ctypes.CDLL(str(path))
        handle.pour_source.restype = handle.pour_layout.restype = ctypes.c_char_p
        built_from = handle.pour_source().decode()
    except (OSError, AttributeError):
        return None
    has_source = all((FOLDER / name).exists() for name in SOURCES)
    if has_source and built_from != source_hash():
        return None
    layouts, kinds = {}, {}
    for number, structure in enumerate(_STRUCTURES):
        pairs = [field.split(":") for field in handle.pour_layout(ctypes.c_int64(number)).decode().split()]
        layouts[structure] = np.dtype([(name, _KINDS[kind]) for kind, name in pairs])
        kinds[structure] = {name: kind for kind, name in pairs}
    handle.pour_level.restype = handle.pour_run.restype = ctypes.c_int64
    handle.pour_run.argtypes = [
        ctypes.c_void_p,
        ctypes.c_int64,
        ctypes.c_void_p,
        ctypes.c_int64,
        ctypes.c_int64,
        ctypes.c_void_p,
        ctypes.c_void_p,
    ]
    handle.pour_values.restype = ctypes.c_int64
    handle.pour_values.argtypes = [
        ctypes.c_void_p,
        ctypes.c_void_p,
        ctypes.c_int64,
        ctypes.c_int64,
        ctypes.c_void_p,
    ]
    handle.pour_hashed.restype = None
    handle.pour_hashed.argtypes = [
        ctypes.c_uint64,
        ctypes.c_uint64,
        ctypes.c_uint64,
        ctypes.c_int64,
        ctypes.c_char,
        ctypes.c_int64,
        ctypes.c_void_p,
        ctypes.c_void_p,
    ]
    level = int(handle.pour_level())
    return Library(handle.pour_run, handle.pour_values, handle.pour_hashed, level, layouts, kinds)


def chosen() -> Library | None:
    """The compiled core unless it is not there or the plain one is asked for."""
    return None if os.environ.get(ENVIRONMENT_VARIABLE) == "plain" else load()


def core_name() -> str:
    """What simulates in this process, for the record of a plan and the screen."""
    return "plain Python" if chosen() is None else "compiled"


@cache
def quantile_table() -> Floats:
    """The standard normal quantile as polynomials, a row for each 32nd part of an octave of min(u, 1 - u).

    Fitted to `normal_quantile` on Chebyshev points; the tests hold it to 1e-13 of that. The last row is u = 1/2.
    """
    rows = np.arange(_OCTAVES * _OCTAVE_PARTS)
    octave = 2.0 ** (rows // _OCTAVE_PARTS - 54)
    begin = octave * (1 + rows % _OCTAVE_PARTS / _OCTAVE_PARTS)
    order = _COEFFICIENTS - 1
    angle = np.pi * (np.arange(order) + 0.5) / order
    half = octave[:, np.newaxis] / (2 * _OCTAVE_PARTS)
    values = -normal_quantile((begin[:, np.newaxis] + half * (1 + np.cos(angle))).ravel()).reshape(-1, order)
    middle = values[:, order // 2]
    # Chebyshev series of what differs from the middle, then powers of x from -1 to 1 over the part: no digits are lost.
    series = (values - middle[:, np.newaxis]) @ np.cos(np.outer(angle, np.arange(order))) * (2 / order)
    series[:, 0] /= 2
    powers = np.zeros((order, order))
    for degree in range(order):
        powers[degree, : degree + 1] = np.polynomial.chebyshev.cheb2poly(np.eye(order)[degree, : degree + 1])
    table = np.zeros((len(rows) + 1, _COEFFICIENTS))
    table[:-1, :order] = series @ powers
    table[:-1, 0] += middle
    return table
