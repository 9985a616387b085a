"""The programme as a drawing: one row a crew, pump or form set, one column a day, a bar for each pour that holds it.

For black-and-white print: what a pour places is black, what it only holds is white. One unit is one point on paper.
"""

import datetime as dt
import math
from collections.abc import Sequence

from wetfront.dossier.svg import HALO, lettered, pt, svg_document
from wetfront.dossier.words import WEEKDAYS
from wetfront.nouns.programme import Held, PlannedPour, Programme

WIDTH, LEFT, TOP, ROW, BAR = 516.0, 78.0, 26.0, 26.0, 13.0
MOST_NAMED_DAYS = 34
LETTER = 4.6
"""Width of a letter of the drawing's font, about."""


def week_chart(programme: Programme) -> str:
    """The drawing; ValueError where no pour has a day."""
    if not programme.pours:
        raise ValueError("a programme without a pour on any day has no chart")
    rows = _rows(programme)
    height = TOP + ROW * len(rows) + 4
    days = (_last_day(programme) - programme.first_day).days + 1
    day_width = (WIDTH - LEFT) / days
    parts = _day_columns(programme.first_day, days, day_width, height)
    for number, (name, held) in enumerate(rows):
        y = TOP + ROW * number
        parts.append(lettered(LEFT - 5, y + ROW / 2 + 3, name, "end"))
        parts.append(f'<path d="M{pt(LEFT)} {pt(y + ROW)}H{pt(WIDTH)}" stroke="#777" stroke-width="0.4"/>')
        parts += _bars(held, programme.first_day, day_width, y)
    return svg_document(WIDTH, height, programme.title, _sentence(programme), parts)


def _rows(programme: Programme) -> list[tuple[str, list[tuple[PlannedPour, Held]]]]:
    """Each shared resource with those that hold it, in the order in which they are first held; plain pours last."""
    rows: dict[str, list[tuple[PlannedPour, Held]]] = {}
    for kind in ("crew", "pump", "form set"):
        for pour in programme.pours:
            for held in pour.resources:
                if held.kind == kind:
                    rows.setdefault(f"{kind} {held.id}", []).append((pour, held))
    return list(rows.items())


def _last_day(programme: Programme) -> dt.date:
    """The last day on which anything is held, at least the programme's own."""
    ends = [held.until.date() for pour in programme.pours for held in pour.resources]
    return max([programme.last_day, *(pour.end_of_finishing.late.date() for pour in programme.pours), *ends])


def _day_columns(first: dt.date, days: int, width: float, height: float) -> list[str]:
    parts = []
    every = max(1, math.ceil(days / MOST_NAMED_DAYS))
    for number in range(days):
        day, x = first + dt.timedelta(days=number), LEFT + number * width
        if day.weekday() >= 5:
            shade = f'x="{pt(x)}" y="{pt(TOP)}" width="{pt(width)}" height="{pt(height - TOP)}"'
            parts.append(f'<rect {shade} fill="#e6e6e6"/>')
        parts.append(f'<path d="M{pt(x)} {pt(TOP)}V{pt(height)}" stroke="#bbb" stroke-width="0.4"/>')
        if number % every == 0:
            parts.append(lettered(x + width / 2, 9, WEEKDAYS[day.weekday()][: 2 if width > 12 else 1], "middle"))
            parts.append(lettered(x + width / 2, 20, f"{day.day}", "middle", ' font-weight="600"'))
    return parts


def _bars(held: Sequence[tuple[PlannedPour, Held]], first: dt.date, day_width: float, y: float) -> list[str]:
    parts = []
    for pour, hold in held:
        left, right = (_x(moment, first, day_width) for moment in (hold.start, hold.until))
        placed = min(_x(pour.end_of_placing.usual, first, day_width), right)
        top = y + (ROW - BAR) - 1
        frame = f'y="{pt(top)}" height="{pt(BAR)}" stroke="black" stroke-width="0.8"'
        parts.append(f'<rect x="{pt(left)}" width="{pt(max(right - left, 1.5))}" fill="white" {frame}/>')
        parts.append(f'<rect x="{pt(left)}" width="{pt(max(placed - left, 1.5))}" fill="black" {frame}/>')
        room = WIDTH - left
        side = ("start", left) if len(pour.pour) * LETTER < room else ("end", WIDTH - 1)
        parts.append(lettered(side[1], top - 2.5, pour.pour, side[0], HALO))
    return parts


def _x(moment: dt.datetime, first: dt.date, day_width: float) -> float:
    """Place of a local moment: its day's column, and the share of the day by the clock on the wall."""
    days = (moment.date() - first).days
    return LEFT + (days + (moment.hour + moment.minute / 60) / 24) * day_width


def _sentence(programme: Programme) -> str:
    starts = ", ".join(
        f"{pour.pour} {pour.start:%a} {pour.start.day} {pour.start:%b %H:%M}" for pour in programme.pours
    )
    return f"Starts: {starts}. Black: placing; white: held until free again. Grey columns: weekends."
