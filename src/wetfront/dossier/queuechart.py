"""Trucks on site over the day as a drawing: how many, how many of them waiting, against the places; stops marked.

For black-and-white print. One unit is one point on paper.
"""

import datetime as dt
from collections.abc import Sequence

from wetfront.dossier.svg import HALO, lettered, pt, svg_document
from wetfront.dossier.words import counted, later
from wetfront.nouns.delivery_day import DeliveryDay, Queue, QueuePoint

WIDTH, HEIGHT = 516.0, 132.0
LEFT, RIGHT, TOP, BOTTOM = 22.0, 6.0, 22.0, 18.0
LEAST_ROWS = 4
HOUR = dt.timedelta(hours=1)


def queue_chart(day: DeliveryDay) -> str:
    """The drawing; ValueError where no truck's time on site is known."""
    points = day.queue.points
    if len(points) < 2:
        raise ValueError("a queue of no trucks has no chart")
    frame = _Frame(points[0].at, points[-1].at, max(day.queue.most_on_site, day.queue.waiting_places, LEAST_ROWS))
    parts = [*_stops(day, frame), *_grid(frame)]
    parts.append(f'<path d="{_steps(points, frame, waiting=True)}Z" fill="#c4c4c4" stroke="#777" stroke-width="0.5"/>')
    parts.append(f'<path d="{_steps(points, frame, waiting=False)}" fill="none" stroke="black" stroke-width="1.5"/>')
    y = frame.y(day.queue.waiting_places)
    parts.append(
        f'<path d="M{pt(LEFT)} {pt(y)}H{pt(WIDTH - RIGHT)}" stroke="black" stroke-width="1.8" stroke-dasharray="9 3"/>'
    )
    parts.append(lettered(LEFT + 4, y - 3, counted(day.queue.waiting_places, "waiting place"), "start", HALO))
    return svg_document(WIDTH, HEIGHT, "Trucks on site", queue_sentence(day.queue), parts)


def queue_sentence(queue: Queue) -> str:
    """What the drawing shows, in words."""
    if queue.most_from is None or queue.most_until is None:
        return "No truck's time on site is known."
    text = (
        f"Black line: trucks on site, at most {queue.most_on_site} from {queue.most_from:%H:%M} to "
        f"{queue.most_until:%H:%M}. Grey: those that wait to discharge, at most {queue.most_waiting}; dashed: the "
        f"{counted(queue.waiting_places, 'waiting place')}. Hatched: nothing was placed."
    )
    if queue.unknown:
        text += f" Not shown, without arrival or leaving: {', '.join(queue.unknown[:12])}."
    return text


class _Frame:
    """Where a moment and a count land on paper."""

    def __init__(self, first: dt.datetime, last: dt.datetime, rows: int):
        self.first, self.last, self.rows = first, last, rows
        self._seconds = max((last - first).total_seconds(), 60.0)

    def x(self, moment: dt.datetime) -> float:
        share = (moment - self.first).total_seconds() / self._seconds
        return LEFT + min(max(share, 0.0), 1.0) * (WIDTH - LEFT - RIGHT)

    def y(self, count: float) -> float:
        return HEIGHT - BOTTOM - count / self.rows * (HEIGHT - TOP - BOTTOM)


def _grid(frame: _Frame) -> list[str]:
    parts = []
    every = 1 if frame.rows <= 10 else 5
    for count in range(0, frame.rows + 1, every):
        y = frame.y(count)
        parts.append(f'<path d="M{pt(LEFT)} {pt(y)}H{pt(WIDTH - RIGHT)}" stroke="#bbb" stroke-width="0.4"/>')
        parts.append(lettered(LEFT - 4, y + 3, str(count), "end"))
    moment = frame.first.replace(minute=0, second=0)
    hours = int((frame.last - moment) / HOUR) + 1
    for number in range(hours + 1):
        at = later(moment, number * HOUR)
        if frame.first <= at <= frame.last and number % max(1, hours // 16) == 0:
            x = frame.x(at)
            parts.append(f'<path d="M{pt(x)} {pt(HEIGHT - BOTTOM)}v3" stroke="black" stroke-width="0.8"/>')
            parts.append(lettered(x, HEIGHT - BOTTOM + 12, f"{at:%H:%M}", "middle"))
    parts.append(f'<path d="M{pt(LEFT)} {pt(HEIGHT - BOTTOM)}H{pt(WIDTH - RIGHT)}" stroke="black" stroke-width="0.8"/>')
    return parts


def _steps(points: Sequence[QueuePoint], frame: _Frame, *, waiting: bool) -> str:
    first = points[0]
    path = f"M{pt(frame.x(first.at))} {pt(frame.y(0))}"
    for point in points:
        count = point.waiting if waiting else point.on_site
        path += f"H{pt(frame.x(point.at))}V{pt(frame.y(count))}"
    return path


def _stops(day: DeliveryDay, frame: _Frame) -> list[str]:
    parts = [
        '<defs><pattern id="idle" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path d="M0 0V4" stroke="#555" stroke-width="0.9"/></pattern></defs>'
    ]
    free_from = 0.0
    for stop in day.stops:
        left, right = frame.x(stop.start), frame.x(stop.end)
        size = f'x="{pt(left)}" y="{pt(TOP)}" width="{pt(max(right - left, 1.0))}" height="{pt(HEIGHT - TOP - BOTTOM)}"'
        parts.append(f'<rect {size} fill="url(#idle)"/>')
        text = f"{stop.gap_min:.0f} min"
        if left >= free_from:
            parts.append(lettered((left + right) / 2, TOP - 5, text, "middle", HALO))
            free_from = right + 34
    return parts
