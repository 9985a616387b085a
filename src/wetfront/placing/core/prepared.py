"""Pours made ready once and simulated as often as wanted, in the compiled core or, without it, in plain Python."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.placing.chance import Chance
from wetfront.placing.check import (
    check_call_off,
    check_draws,
    check_members,
    check_model,
    check_plants,
    check_shared_parts,
)
from wetfront.placing.core.layout import Memo, Values, order_values, plant_values, shared_values
from wetfront.placing.core.library import FAILURE, Library, chosen
from wetfront.placing.core.records import (
    DONE,
    NOT_ENDED,
    Records,
    Results,
    address,
    draws_record,
    error_of,
    filled,
    values_record,
)
from wetfront.placing.draws import Draws
from wetfront.placing.model import PourModel, Replications
from wetfront.placing.seeded import SeededDraws
from wetfront.placing.simulate import blank, joined
from wetfront.placing.simulate import simulate as simulate_plain

Floats = NDArray[np.float64]
_Task = tuple[NDArray[np.int64], Records, int, slice]
"""Numbers of pours, their draws, the first replication of these, and rows."""

LEAST_FOR_THREADS = 400
"""Replications times models below which a second thread costs more than it brings."""
MANY_MODELS = 4
"""From here on, draws become minutes once for all models that share their laws."""


def simulate(
    model: PourModel, draws: Draws | SeededDraws | Chance, replications: slice | None = None, *, threads: int = 1
) -> Replications:
    """The outcome of each replication in the table of draws, or of some of them.

    A replication depends only on its own row of draws: any split into parts or threads gives the same numbers.
    Errors: `InvalidInput` for a model that contradicts itself or a table of draws without the columns that it needs,
    `OutOfRange` where a pour runs beyond the tables of clock, air or draws.
    """
    return PreparedPours([model]).simulate(draws, replications, threads=threads).of(0)


class Outcomes:
    """What a set of pours gave on the same replications."""

    def __init__(self, parts: Sequence[Replications] | Results, ended: NDArray[np.bool_]):
        self._parts = parts
        self.ended = ended
        """A row for each pour: which replications came to their end. Where one did not, its figures mean nothing."""

    def of(self, number: int) -> Replications:
        """The outcomes of one pour."""
        return self._parts.of(number) if isinstance(self._parts, Results) else self._parts[number]

    def column(self, name: str) -> NDArray[Any]:
        """One figure of all pours: a row for each pour, a column for each replication."""
        if isinstance(self._parts, Results):
            return self._parts.columns[name]
        return np.array([getattr(part, name) for part in self._parts])


class PreparedPours:
    """Pours that are checked and laid out once. Parts that several of them share are laid out once for all.

    The models' columns are read while simulating: they must not be changed as long as this object is used.
    """

    def __init__(self, models: Sequence[PourModel]):
        self.models = list(models)
        self._library = chosen()
        self._keep: list[NDArray[Any]] = []
        if self._library is not None:
            self._records = self._laid_out(self._library)

    def simulate(
        self,
        draws: Draws | SeededDraws | Chance,
        replications: slice | None = None,
        *,
        which: Sequence[int] | None = None,
        threads: int = 1,
        carry_on: bool = False,
    ) -> Outcomes:
        """Outcomes on these draws of all pours, or of those in `which`, in that order. Errors: as `simulate`.

        With `carry_on` a replication that runs beyond a table, or in which nothing is ever placed, is no error.
        """
        some = draws if replications is None else draws.part(replications)
        numbers = list(range(len(self.models))) if which is None else list(which)
        models = [self.models[number] for number in numbers]
        if self._library is None:
            return _in_plain(models, some.table() if isinstance(some, SeededDraws) else some, carry_on)
        return _in_core(self._library, models, self._records[numbers], some, threads, carry_on)

    def _laid_out(self, library: Library) -> Records:
        """A record for each model; what several share is worked out once."""
        layout, kinds = library.layouts["model"], library.kinds["model"]
        shared: dict[tuple[Any, ...], Records] = {}
        memo: Memo = {}
        checked: set[int] = set()
        weathers: set[tuple[int, ...]] = set()
        records = np.zeros(len(self.models), dtype=layout)
        for number, model in enumerate(self.models):
            key = (*_shared_parts(model), model.panel_names, model.supply.load_m3, model.day_share)
            if key not in shared:
                check_shared_parts(model)
                weather = tuple(map(id, (model.members, model.concrete, model.finishing)))
                if weather not in weathers:
                    check_members(model)
                    weathers.add(weather)
                shared[key] = np.zeros((), dtype=layout)
                filled(shared[key], shared_values(model, memo), kinds, self._keep)
            if id(model.supply.plants) not in checked:
                check_plants(model.supply.plants)
                checked.add(id(model.supply.plants))
            check_call_off(model.supply)
            records[number] = shared[key]
        _fill_supplies(records, self.models, kinds, self._keep)
        return records


def _shared_parts(model: PourModel) -> tuple[int, ...]:
    """Which objects a model is made of; the models keep them alive, so the same number is the same object."""
    parts = (model.cells, model.joints, model.site, model.acceptance, model.concrete, model.finishing, model.members)
    return (*map(id, parts), id(model.seen), id(model.watched))


def _fill_supplies(
    records: Records, models: Sequence[PourModel], kinds: dict[str, str], keep: list[NDArray[Any]]
) -> None:
    """Supply fields of all records, number by number as columns, since there may be thousands of candidates."""
    plants: dict[int, Values] = {}
    supplies = []
    for model in models:
        key = id(model.supply.plants)
        if key not in plants:
            plants[key] = plant_values(model.supply)
        supplies.append(plants[key] | order_values(model.supply))
    for name in supplies[0] if supplies else ():
        values = [supply[name] for supply in supplies]
        if kinds[name] in "DI":
            records[name] = values
            continue
        sizes = np.array([value.size for value in values])
        column = np.concatenate([value.ravel() for value in values])
        keep.append(column)
        records[name] = address(column) + column.itemsize * (np.cumsum(sizes) - sizes).astype(np.uint64)


def _in_core(
    library: Library,
    models: Sequence[PourModel],
    records: Records,
    draws: Draws | SeededDraws | Chance,
    threads: int,
    carry_on: bool,
) -> Outcomes:
    for model in {(id(model.finishing), id(model.seen)): model for model in models}.values():
        check_draws(model, draws)
    results = Results(library, models, draws.count)
    ended = np.ones((len(models), draws.count), dtype=np.bool_)
    keep: list[NDArray[Any]] = []
    first = draws.first_replication
    if len(models) < MANY_MODELS or draws.count == 0 or isinstance(draws, Chance):
        groups = [(np.arange(len(models)), draws_record(library, draws, keep), first)]
    else:
        groups = [
            (np.array(numbers), values_record(library, records[numbers[0]], draws, keep), first)
            for numbers in _same_laws(models)
        ]
    tasks = [
        (numbers[some], record, first, rows)
        for numbers, record, first in groups
        for some, rows in _shares(len(numbers), draws.count, threads)
    ]

    def run_once(task: _Task) -> NDArray[np.void]:
        numbers, record, begin, rows = task
        failure = np.zeros((), dtype=FAILURE)
        some, out = np.ascontiguousarray(records[numbers]), results.records_from(numbers, rows.start)
        library.run(
            address(some),
            len(numbers),
            address(record),
            begin + rows.start,
            begin + rows.stop,
            address(out),
            address(failure),
        )
        failure["model"] = numbers[failure["model"]] if len(numbers) else 0
        failure["replication"] -= begin
        return failure

    def run(task: _Task) -> NDArray[np.void]:
        """The task; with `carry_on` what a replication that does not end leaves undone as well."""
        left = [task]
        while True:
            numbers, record, begin, rows = left.pop()
            failure = run_once((numbers, record, begin, rows))
            if carry_on and int(failure["code"]) in NOT_ENDED:
                model, row = int(failure["model"]), int(failure["replication"])
                ended[model, row] = False
                at = int(np.flatnonzero(numbers == model)[0])
                # The pours before it are done; its rows before are not, since the core may take several at once.
                parts = [
                    (numbers[at : at + 1], slice(rows.start, row)),
                    (numbers[at : at + 1], slice(row + 1, rows.stop)),
                ]
                parts.append((numbers[at + 1 :], rows))
                left += [(some, record, begin, part) for some, part in parts if len(some) and part.start < part.stop]
            elif failure["code"] != DONE:
                return failure
            if not left:
                return np.zeros((), dtype=FAILURE)

    if threads > 1 and len(models) * draws.count >= LEAST_FOR_THREADS:
        with ThreadPoolExecutor(threads) as pool:
            failures = list(pool.map(run, tasks))
    else:
        failures = [run(task) for task in tasks]
    failed = [failure for failure in failures if failure["code"] != DONE]
    if failed:
        worst = min(failed, key=lambda failure: (int(failure["model"]), int(failure["replication"])))
        raise error_of(int(worst["code"]), float(worst["value"]), draws, models[int(worst["model"])])
    return Outcomes(results, ended)


def _in_plain(models: Sequence[PourModel], draws: Draws | Chance, carry_on: bool) -> Outcomes:
    if not carry_on:
        return Outcomes([simulate_plain(model, draws) for model in models], np.ones((len(models), draws.count), bool))
    found = [_each_row(model, draws) for model in models]
    return Outcomes([outcome for outcome, _ in found], np.array([ended for _, ended in found]))


def _each_row(model: PourModel, draws: Draws | Chance) -> tuple[Replications, NDArray[np.bool_]]:
    """All replications of a model, one by one; noughts where one does not come to its end."""
    check_model(model, draws)
    rows, ended = [], np.ones(draws.count, dtype=np.bool_)
    for row in range(draws.count):
        try:
            rows.append(simulate_plain(model, draws, slice(row, row + 1)))
        except InvalidInput:
            rows.append(blank(model, 1))
            ended[row] = False
    return joined(rows) if rows else blank(model, 0), ended


def _same_laws(models: Sequence[PourModel]) -> list[list[int]]:
    """Numbers of the models for which the same draws mean the same minutes."""
    groups: dict[tuple[Any, ...], list[int]] = {}
    same: dict[tuple[Any, ...], list[int]] = {}
    # Of thousands of candidates most are made of the same parts: these are told apart first, by which objects they are.
    for number, model in enumerate(models):
        supply = model.supply
        parts = (id(supply.plants), supply.plant_of_load if len(supply.plants) > 1 else 0, *_shared_parts(model))
        same.setdefault(parts, []).append(number)
    for numbers in same.values():
        model = models[numbers[0]]
        supply, site, concrete = model.supply, model.site, model.concrete
        laws = [(plant.batching_min, plant.haul_min, plant.return_min) for plant in supply.plants]
        key = (
            *(tuple(laws), supply.plant_of_load if len(laws) > 1 else 0),
            *(site.speed, site.rate_is_held, site.pumping_min_between_stops, site.repair_min),
            *(site.wastage, site.wastage_sd, concrete.set_factor_sd),
            *(concrete.plant_temperature_c, concrete.plant_temperature_sd_c, id(model.members)),
            *(model.finishing.strip_cv, model.finishing.strip_min.tobytes(), model.day_share),
        )
        groups.setdefault(key, []).extend(numbers)
    return list(groups.values())


def _shares(models_count: int, count: int, threads: int) -> list[tuple[slice, slice]]:
    """Models and rows cut into a few more shares than threads, so that none waits long for the others."""
    wanted = max(1, 4 * threads) if threads > 1 else 1
    by_model = min(wanted, models_count)
    by_row = min(max(1, count), -(-wanted // max(1, by_model)))
    models = np.linspace(0, models_count, by_model + 1).astype(int).tolist()
    rows = np.linspace(0, count, by_row + 1).astype(int).tolist()
    return [(slice(*some), slice(*part)) for some, part in product(pairwise(models), pairwise(rows))]
