"""A CSV file with named columns as rows of text, with every slip in its form told by its row."""

from dataclasses import dataclass
from difflib import get_close_matches

from wetfront.errors import Problem, SheetError
from wetfront.intake.table_lines import csv_lines

MOST_COLUMNS = 100


@dataclass(frozen=True, slots=True)
class Table:
    """Header and rows; `rows` holds (line number, text by column)."""

    columns: tuple[str, ...]
    rows: tuple[tuple[int, dict[str, str]], ...]


def table_of(text: str, name: str, needed: tuple[str, ...], optional: tuple[str, ...], most_rows: int) -> Table:
    """Parse `text`. SheetError tells missing, unknown and doubled columns, and rows of another length, all at once."""
    lines = csv_lines(text, name)
    header = next(lines, None)
    if header is None:
        raise SheetError([Problem(name, "", "an empty file", "a first row with " + ", ".join(needed))])
    columns = tuple(cell.strip() for cell in header[1])
    problems = _of_columns(columns, name, header[0], needed, optional)
    rows: list[tuple[int, dict[str, str]]] = []
    for line, cells in lines:
        if not any(cell.strip() for cell in cells):
            continue
        if len(rows) >= most_rows:
            problems.append(Problem(name, "", f"more than {most_rows} rows", f"at most {most_rows} rows", line))
            break
        if len(cells) != len(columns):
            problems.append(Problem(name, "", f"{len(cells)} cells", f"{len(columns)} cells as in the first row", line))
        else:
            rows.append((line, {column: cell.strip() for column, cell in zip(columns, cells, strict=True)}))
    if problems:
        raise SheetError(problems)
    return Table(columns, tuple(rows))


def _of_columns(
    columns: tuple[str, ...], name: str, line: int, needed: tuple[str, ...], optional: tuple[str, ...]
) -> list[Problem]:
    known = (*needed, *optional)
    if len(columns) > MOST_COLUMNS:
        return [Problem(name, "", f"{len(columns)} columns", "the columns " + ", ".join(known), line)]
    problems = [
        Problem(name, column, "no such column", "a column of this name", line)
        for column in needed
        if column not in columns
    ]
    for place, column in enumerate(columns):
        if column in columns[:place]:
            problems.append(Problem(name, column, "a column named twice", "each column once", line))
        elif column not in known:
            near = get_close_matches(column, known, n=1)
            shown = column if len(column) <= 60 else column[:57] + "..."
            problems.append(
                Problem(name, shown, "an unknown column", ", ".join(known), line, near[0] if near else None)
            )
    return problems
