"""The replications of one plan, those that do not come to an end told apart from those that do."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from wetfront.placing.model import Replications


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried(Replications):
    """Outcomes in which a replication that does not come to an end stands as the latest of those that do."""

    ended: NDArray[np.bool_]

    @property
    def unended_count(self) -> int:
        """Replications that do not come to an end."""
        return int((~self.ended).sum())


def carried(outcome: Replications, ended: NDArray[np.bool_]) -> Carried | None:
    """The outcome with what a replication that has not ended says replaced; None where not one has ended."""
    if not ended.any():
        return None
    columns = {column.name: getattr(outcome, column.name) for column in fields(Replications)}
    if not ended.all():
        latest = int(np.where(ended, outcome.end_of_pour_min, -np.inf).argmax())
        rows = np.where(ended, np.arange(outcome.count), latest)
        columns = {name: column[rows] for name, column in columns.items()}
    return Carried(**columns, ended=ended)
