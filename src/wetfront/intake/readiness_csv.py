"""The state of the check list before a pour, from a CSV file with the columns of `ReadinessItem`."""

import dataclasses
from typing import Any

from wetfront.errors import Problem, SheetError
from wetfront.intake.csv_rows import table_of
from wetfront.intake.declared import table_of as kinds_of
from wetfront.intake.kinds import BAD, REQUIRED, Mistakes
from wetfront.nouns.readiness import ReadinessItem

MOST_ITEMS = 2_000
COLUMNS = tuple(field.name for field in dataclasses.fields(ReadinessItem))


def readiness_items(text: str, name: str) -> tuple[ReadinessItem, ...]:
    """The items in `text`, in the order of the file. SheetError tells all mistakes with their rows."""
    kinds = kinds_of(ReadinessItem).fields
    needed = tuple(column for column in COLUMNS if kinds[column].default is REQUIRED)
    table = table_of(text, name, needed, tuple(column for column in COLUMNS if column not in needed), MOST_ITEMS)
    problems: list[Problem] = []
    items: dict[str, ReadinessItem] = {}
    for line, row in table.rows:
        mistakes = Mistakes()
        given: dict[str, Any] = {key: cell for key, cell in row.items() if cell or key in needed}
        values = {key: kinds[key].kind.check(cell, (key,), mistakes) for key, cell in given.items()}
        problems += [
            Problem(name, str(mistake.path[0]), mistake.found, mistake.allowed, line, mistake.nearest)
            for mistake in mistakes.noted
        ]
        if row["item_id"] in items:
            problems.append(Problem(name, "item_id", repr(row["item_id"]) + " again", "each item once", line))
        if BAD not in values.values():
            items[row["item_id"]] = ReadinessItem(**values)
    if problems:
        raise SheetError(problems)
    return tuple(items.values())
