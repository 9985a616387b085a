"""Line charts of hourly series as SVG, for black-and-white print: line styles, direct labels, named limit lines.

One unit of the drawing is one point on paper. Same series, same bytes.
"""

import datetime as dt
import math
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.dossier.svg import FONT_SIZE, HALO, lettered, pt, svg_document
from wetfront.dossier.words import MONTHS, NB, number, plain, short
from wetfront.nouns.plan import HourlySeries

WIDTH, HEIGHT = 262.0, 152.0
LEFT, RIGHT, TOP, BOTTOM = 30.0, 72.0, 20.0, 18.0
STROKES = ("", "5 2", "1.2 2", "7 2 1.2 2", "3 1.5", "9 3")
"""Dash patterns by line; the first one is solid."""
MOST_LETTERS = 13
"""In one line of a name beside the chart."""
BAND = "band"
FLAT = 1e-9
"""Data that differ by less are drawn as a level line."""
FARTHEST_LIMIT = 3.0
"""A limit higher than so many times the data is named at the edge instead of squeezing the data flat."""


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where data lands on paper."""

    first: dt.datetime
    hours: float
    low: float
    step: float
    steps_count: int

    @property
    def high(self) -> float:
        return self.low + self.step * self.steps_count

    def x(self, moment: dt.datetime) -> float:
        share = (moment - self.first).total_seconds() / 3600 / self.hours
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def chart_svg(series: HourlySeries) -> str:
    """One chart. A pair of lines whose names end in "5 %" and "95 %" is drawn as a grey band.

    ValueError where the series has no time, or lines of another length than its times.
    """
    if not series.times or any(len(values) != len(series.times) for _, values in series.lines):
        raise ValueError(f"chart {series.title!r}: every line needs one value for each time, and at least one time")
    frame = _frame(series)
    band, lines = _band_apart(series)
    parts = [*_grid(series, frame)]
    labels: list[_EndLabel] = []
    if band:
        parts += _band_shape(series.times, band[0], band[1], frame)
        labels += _end_label("5 to 95 %", band[1], frame, BAND)
    for index, (name, values) in enumerate(lines):
        dashes = STROKES[index % len(STROKES)]
        parts += _line(series.times, values, frame, dashes)
        labels += _end_label(plain(name), values, frame, dashes)
    parts += _limits(series, frame)
    parts += _placed_labels(labels)
    title = f"{series.title} [{series.unit}]"
    return svg_document(WIDTH, HEIGHT, title, series.sentence, parts)


def _frame(series: HourlySeries) -> _Frame:
    values = [value for _, line in series.lines for value in line if value is not None]
    if not all(math.isfinite(value) for value in (*values, *(limit for _, limit in series.limits))):
        raise ValueError(f"chart {series.title!r} holds a figure that is not finite")
    low, high = min(values, default=0.0), max(values, default=0.0)
    near = [limit for _, limit in series.limits if limit <= FARTHEST_LIMIT * max(high, 1e-9) or high <= 0]
    low, high = min(low, 0.0, *near), max(high, *near) if near else high
    if high - low < FLAT:
        high = low + 1.0
    step = tick_step(high - low)
    hours = (series.times[-1] - series.times[0]).total_seconds() / 3600
    bottom = math.floor(low / step)
    return _Frame(series.times[0], max(hours, 1.0), bottom * step, step, max(1, math.ceil(high / step) - bottom))


def tick_step(width: float) -> float:
    """A step of 1, 2 or 5 times a power of ten that cuts `width` into three to seven parts."""
    magnitude = 10.0 ** math.floor(math.log10(width / 4))
    return next(factor * magnitude for factor in (1, 2, 5, 10) if width / (factor * magnitude) <= 6)


def _grid(series: HourlySeries, frame: _Frame) -> list[str]:
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    parts = [lettered(2, 8, series.unit)]
    decimals = max(0, -math.floor(math.log10(frame.step)))
    for index in range(frame.steps_count + 1):
        value = frame.low + index * frame.step
        y = frame.y(value)
        parts.append(f'<path d="M{pt(LEFT)} {pt(y)}H{pt(right)}" stroke="#bbb" stroke-width="0.4"/>')
        parts.append(lettered(LEFT - 3, y + 3, number(value, decimals), "end"))
    every = next(hours for hours in (1, 2, 3, 4, 6, 12, 24, 48) if frame.hours / hours <= 8 or hours == 48)
    for moment in series.times:
        if moment.minute == 0 and moment.hour % every == 0:
            x = frame.x(moment)
            parts.append(f'<path d="M{pt(x)} {pt(bottom)}v3" stroke="black" stroke-width="0.8"/>')
            parts.append(lettered(x, bottom + 11, f"{moment:%H}", "middle"))
            if moment.hour == 0 and moment != series.times[0]:
                parts.append(
                    f'<path d="M{pt(x)} {pt(TOP)}V{pt(bottom)}" stroke="#777" stroke-width="0.6" '
                    'stroke-dasharray="1 2"/>'
                )
                parts.append(lettered(x + 2, TOP + 7, f"{moment.day} {MONTHS[moment.month - 1][:3]}"))
    parts.append(lettered(right + 12, bottom + 11, "o'clock"))
    parts.append(
        f'<path d="M{pt(LEFT)} {pt(TOP)}V{pt(bottom)}H{pt(right)}" fill="none" stroke="black" stroke-width="0.8"/>'
    )
    return parts


_Values = Sequence[float | None]


_EARLY, _LATE = re.compile(r"(?<!\d)5 %\)?$"), re.compile(r"(?<!\d)95 %\)?$")


def _band_apart(series: HourlySeries) -> tuple[tuple[_Values, _Values] | None, list[tuple[str, _Values]]]:
    """The 5 % and the 95 % line where there is one of each, and the other lines."""
    low = [values for name, values in series.lines if _EARLY.search(name)]
    high = [values for name, values in series.lines if _LATE.search(name)]
    if len(low) != 1 or len(high) != 1:
        return None, list(series.lines)
    rest: list[tuple[str, _Values]] = [
        (name, values) for name, values in series.lines if not (_EARLY.search(name) or _LATE.search(name))
    ]
    return (low[0], high[0]), rest


def _band_shape(times: Sequence[dt.datetime], low: _Values, high: _Values, frame: _Frame) -> list[str]:
    parts = []
    run: list[tuple[float, float, float]] = []
    for moment, below, above in (*zip(times, low, high, strict=True), (times[-1], None, None)):
        if below is not None and above is not None:
            run.append((frame.x(moment), frame.y(below), frame.y(above)))
        elif run:
            there = " ".join(f"{pt(x)},{pt(y)}" for x, y, _ in run)
            back = " ".join(f"{pt(x)},{pt(y)}" for x, _, y in reversed(run))
            parts.append(f'<polygon points="{there} {back}" fill="#d4d4d4" stroke="#8a8a8a" stroke-width="0.5"/>')
            run = []
    return parts


def _line(times: Sequence[dt.datetime], values: _Values, frame: _Frame, dashes: str) -> list[str]:
    style = f' stroke-dasharray="{dashes}"' if dashes else ""
    parts = []
    run: list[str] = []
    for moment, value in (*zip(times, values, strict=True), (times[-1], None)):
        if value is not None:
            run.append(f"{pt(frame.x(moment))},{pt(frame.y(value))}")
        elif run:
            if len(run) == 1:
                x, y = run[0].split(",")
                parts.append(f'<circle cx="{x}" cy="{y}" r="1.6"/>')
            else:
                points = " ".join(run)
                parts.append(
                    f'<polyline points="{points}" fill="none" stroke="black" stroke-width="1.5" '
                    f'stroke-linejoin="round"{style}/>'
                )
            run = []
    return parts


@dataclass(frozen=True, slots=True)
class _EndLabel:
    """A line's name at its end, with a sample of its stroke."""

    y: float
    words: tuple[str, ...]
    dashes: str


def _end_label(name: str, values: _Values, frame: _Frame, dashes: str) -> list[_EndLabel]:
    last = next((value for value in reversed(values) if value is not None), None)
    words = tuple(textwrap.wrap(name.replace(" %", f"{NB}%"), MOST_LETTERS, max_lines=5, placeholder="…")) or ("",)
    return [] if last is None else [_EndLabel(frame.y(last), words, dashes)]


def _limits(series: HourlySeries, frame: _Frame) -> list[str]:
    parts = []
    for name, value in series.limits:
        text = f"{plain(name)} {short(value, 2)}"
        if not frame.low <= value <= frame.high:
            parts.append(lettered(WIDTH - RIGHT, TOP - 4, f"{text}: off the chart", "end", ' font-weight="600"'))
            continue
        y = frame.y(value)
        parts.append(
            f'<path d="M{pt(LEFT)} {pt(y)}H{pt(WIDTH - RIGHT)}" stroke="black" stroke-width="2" '
            'stroke-dasharray="10 3"/>'
        )
        above = y - 3 if y - 3 > TOP - 6 else y + 9
        parts.append(
            lettered(
                LEFT + 4,
                above,
                text,
                "start",
                HALO,
            )
        )
    return parts


def _placed_labels(labels: Sequence[_EndLabel]) -> list[str]:
    """Names beside the ends of their lines, pushed apart where they would overlap."""
    ordered = sorted(labels, key=lambda label: (label.y, label.words))
    tops: list[float] = []
    for label in ordered:
        free = tops[-1] + _height(ordered[len(tops) - 1]) if tops else TOP - 6
        tops.append(max(label.y - FONT_SIZE / 2, free))
    lowest = HEIGHT - BOTTOM
    for index in range(len(ordered) - 1, -1, -1):
        tops[index] = min(tops[index], lowest - _height(ordered[index]))
        lowest = tops[index]
    parts = []
    for top, label in zip(tops, ordered, strict=True):
        x, middle = WIDTH - RIGHT + 3, top + FONT_SIZE / 2
        if label.dashes == BAND:
            parts.append(
                f'<rect x="{pt(x)}" y="{pt(top + 1)}" width="14" height="6" fill="#d4d4d4" stroke="#8a8a8a" '
                'stroke-width="0.5"/>'
            )
        else:
            style = f' stroke-dasharray="{label.dashes}"' if label.dashes else ""
            parts.append(f'<path d="M{pt(x)} {pt(middle)}h14" stroke="black" stroke-width="1.5"{style}/>')
        for index, word in enumerate(label.words):
            parts.append(lettered(x + 17, middle + 3 + index * FONT_SIZE, word))
    return parts


def _height(label: _EndLabel) -> float:
    return FONT_SIZE * len(label.words) + 2
