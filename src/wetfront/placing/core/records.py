"""Records for the compiled core: numbers and addresses in the order in which the library lays them out."""

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput, OutOfRange, WetfrontError
from wetfront.placing.chance import Chance
from wetfront.placing.core.layout import Values
from wetfront.placing.core.library import Library, quantile_table
from wetfront.placing.draws import DAY_LEVELS, STOPS_COUNT, Draws
from wetfront.placing.model import Ints, PourModel, Replications
from wetfront.placing.seeded import SeededDraws

Records = NDArray[np.void]
_COLUMN_TYPES = {"F": np.dtype(np.float64), "L": np.dtype(np.int64), "S": np.dtype(np.int32)}

WIDE_COLUMNS = ("highest_rise_m_per_h", "edge_set_margin_min", "edge_specified_margin_min", "watched_min")
COUNT_COLUMNS = frozenset(column.name for column in fields(Replications) if column.type is Ints)
PLAIN_COLUMNS = tuple(column.name for column in fields(Replications) if column.name not in WIDE_COLUMNS)

DONE, NO_MEMORY, LOADS_RUN_OUT, STOPS_RUN_OUT, OUTSIDE_CLOCK, OUTSIDE_AIR, NOTHING_PLACED, OUTSIDE_EVAPORATION = range(
    8
)


NOT_ENDED = (LOADS_RUN_OUT, STOPS_RUN_OUT, OUTSIDE_CLOCK, OUTSIDE_AIR, NOTHING_PLACED, OUTSIDE_EVAPORATION)
"""Codes of a replication that does not come to its end; the others are no matter of one replication."""


def address(column: NDArray[Any]) -> int:
    """Where the first number of a column stands in memory."""
    # Not by the array interface, which writes out the layout of a record each time.
    place: int = column.ctypes.data
    return place


def filled(record: Records, values: Values, kinds: dict[str, str], keep: list[NDArray[Any]]) -> None:
    """Write these fields into a record; the columns are kept alive in `keep`."""
    for name, value in values.items():
        kind = kinds[name]
        if kind in "DI":
            record[name] = value
            continue
        if value.dtype != _COLUMN_TYPES[kind] or not value.flags.c_contiguous:
            raise TypeError(f"{name} is {value.dtype}")
        keep.append(value)
        record[name] = address(value)


def draws_record(library: Library, draws: Draws | SeededDraws | Chance, keep: list[NDArray[Any]]) -> Records:
    """The streams that the core reads or hashes."""
    record = np.zeros((), dtype=library.layouts["draws"])
    filled(record, draw_values(draws) | {"level": library.level}, library.kinds["draws"], keep)
    return record


def draw_values(draws: Draws | SeededDraws | Chance) -> Values:
    """Fields of struct pour_draws."""
    if isinstance(draws, Draws):
        return _rows({name: getattr(draws, name) for name in _COLUMNS}, draws.first_replication)
    if isinstance(draws, Chance):
        figures = {name: getattr(draws, name) for name in _FIGURES}
        figures["wastage"] = 1.0 + draws.wastage[:, np.newaxis]
        return _rows(figures, draws.first_replication) | {"is_value": 1}
    return {
        "seed": int(np.uint64(draws.seed).astype(np.int64)),
        "loads_count": draws.loads_count,
        "stops_count": STOPS_COUNT,
        "strips_count": draws.strips_count,
        "is_hashed": 1,
        "quantile": quantile_table(),
    }


_STREAMS = (
    "batching",
    "haul",
    "back",
    "speed",
    "set",
    "temperature",
    "consistence",
    "up",
    "repair",
    "finishing",
    "wastage",
    "day",
)
"""Fields of struct pour_draws, in the order of its streams."""
_COLUMNS = (
    *("batching_z", "haul_z", "return_z", "speed_z", "set_z", "temperature_z", "consistence_u"),
    *("up_e", "repair_z", "finishing_z", "wastage_z", "day_z"),
)
"""Of `Draws`, in the same order."""
_FIGURES = (
    *("batching_min", "haul_min", "return_min", "speed", "set_factor", "plant_temperature_c", "consistence_u"),
    *("up_min", "repair_min", "finishing_min", "wastage"),
)
"""Of `Chance`, in the same order, without the day."""
_STOPS_AND_STRIPS = (("up_e", "up_min"), ("finishing_z", "finishing_min"))


def _rows(columns: dict[str, NDArray[Any]], first: int) -> Values:
    """Columns in the order of the streams; the day's may be left out where it is in the others already."""
    count, loads = next(iter(columns.values())).shape
    stops, strips = (next(columns[name] for name in names if name in columns).shape[1] for names in _STOPS_AND_STRIPS)
    rows = {}
    for stream, (name, values), width in zip(_STREAMS, columns.items(), _widths(loads, stops, strips), strict=False):
        if values.shape != (count, width) or stops < 1 or loads < 1:
            raise InvalidInput("draws", f"draws: {name} must have {count} rows of {width} numbers")
        rows[stream] = np.ascontiguousarray(values, dtype=np.float64)
    sizes = {"loads_count": loads, "stops_count": stops, "strips_count": strips}
    return rows | sizes | {"first": first}


def _widths(loads: int, stops: int, strips: int) -> tuple[int, ...]:
    return (*[loads] * 7, stops, stops, strips, 1, len(DAY_LEVELS))


def values_record(
    library: Library, model: Records, draws: Draws | SeededDraws | Chance, keep: list[NDArray[Any]]
) -> Records:
    """The same draws as the minutes and factors that they mean for this model, from row 0 on."""
    source = draws_record(library, draws, keep)
    loads, stops, strips = (int(source[name]) for name in ("loads_count", "stops_count", "strips_count"))
    rows = {
        stream: np.zeros((draws.count, width))
        for stream, width in zip(_STREAMS, _widths(loads, stops, strips), strict=True)
    }
    streams = np.array([address(column) for column in rows.values()], dtype=np.uint64)
    first = draws.first_replication
    model = np.ascontiguousarray(model)
    if library.values(address(model), address(source), first, first + draws.count, address(streams)) != DONE:
        raise WetfrontError("not enough memory for the table of draws")
    record = np.zeros((), dtype=library.layouts["draws"])
    sizes = {"loads_count": loads, "stops_count": stops, "strips_count": strips}
    kind = {"is_value": 1, "first": first, "level": library.level}
    filled(record, rows | sizes | kind, library.kinds["draws"], keep)
    return record


def error_of(code: int, value: float, draws: Draws | SeededDraws | Chance, model: PourModel) -> WetfrontError:
    """The error that the plain simulator raises for the same replication."""
    concrete = model.concrete
    if code == LOADS_RUN_OUT:
        return OutOfRange("draws", value, f"at most {draws.loads_count} loads", "the table of draws")
    if code == STOPS_RUN_OUT:
        stops = STOPS_COUNT if isinstance(draws, SeededDraws) else draws.stops_count
        return OutOfRange("draws", stops, f"less than {stops} breakdowns", "the table of draws")
    if code == OUTSIDE_CLOCK:
        end = (len(concrete.clock_min) - 1) * concrete.clock_step_min
        return OutOfRange("clock_min", value, f"0 to {end:g} min", "the table of the setting clock")
    if code == OUTSIDE_AIR:
        end = (len(concrete.air_temperature_c) - 1) * concrete.clock_step_min
        return OutOfRange("air_temperature_c", value, f"0 to {end:g} min", "the table of air temperatures")
    if code == OUTSIDE_EVAPORATION:
        end = (len(model.finishing.evaporation_kg_per_m2_h) - 1) * concrete.clock_step_min
        return OutOfRange("evaporation_kg_per_m2_h", value, f"0 to {end:g} min", "the table of evaporation")
    if code == NOTHING_PLACED:
        return InvalidInput("supply", "supply: no load is ever placed")
    return WetfrontError("not enough memory for the pour's working rows")


class Results:
    """Room for the outcomes of several models on the same number of replications."""

    def __init__(self, library: Library, models: Sequence[PourModel], count: int):
        self.models, self.count = models, count
        # One block: memory of this size is handed out again, of many columns each would be fetched anew.
        block = np.empty((len(PLAIN_COLUMNS), len(models), count))
        self.columns: dict[str, NDArray[Any]] = {
            name: column.view(np.int64) if name in COUNT_COLUMNS else column
            for name, column in zip(PLAIN_COLUMNS, block, strict=True)
        }
        panels = [len(model.panel_names) for model in models]
        edges = [len(model.joints.edge_names) for model in models]
        watched = [len(model.watched) for model in models]
        self.widths = dict(zip(WIDE_COLUMNS, (panels, edges, edges, watched), strict=True))
        self.wide = {name: np.empty(sum(width) * count) for name, width in self.widths.items()}
        self.begins = {
            name: np.concatenate([[0], np.cumsum(width)[:-1]]) * count for name, width in self.widths.items()
        }
        self.records = np.zeros(len(models), dtype=library.layouts["result"])
        self._row_bytes = self.records.copy()
        for name in PLAIN_COLUMNS:
            self.records[name] = address(self.columns[name]) + 8 * count * np.arange(len(models))
            self._row_bytes[name] = 8
        for name in WIDE_COLUMNS:
            self.records[name] = address(self.wide[name]) + 8 * self.begins[name]
            self._row_bytes[name] = 8 * np.array(self.widths[name], dtype=np.uint64)

    def records_from(self, models: NDArray[np.int64], row: int) -> Records:
        """Records of some models that write from this row on."""
        # All fields are addresses: added to as one row of numbers.
        begins, by_row = self.records[models].view(np.uint64), self._row_bytes[models].view(np.uint64)
        return (begins + np.uint64(row) * by_row).view(self.records.dtype)

    def of(self, number: int) -> Replications:
        """The outcomes of one model."""
        values: dict[str, Any] = {name: column[number] for name, column in self.columns.items()}
        for name in WIDE_COLUMNS:
            width, begin = self.widths[name][number], int(self.begins[name][number])
            values[name] = self.wide[name][begin : begin + width * self.count].reshape(self.count, width)
        return Replications(**values)
