"""Two plain plots as SVG for black-and-white print: a staircase of choices, and how values are spread.

One unit of the drawing is one point on paper. Same figures, same bytes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.dossier.charts import HEIGHT, WIDTH, tick_step
from wetfront.dossier.svg import HALO, lettered, pt, svg_document
from wetfront.dossier.words import number

LEFT, RIGHT, TOP, BOTTOM = 42.0, 14.0, 20.0, 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One axis: from a round number to a round number in round steps."""

    name: str
    low: float
    step: float
    steps_count: int

    @property
    def high(self) -> float:
        return self.low + self.step * self.steps_count

    @property
    def decimals(self) -> int:
        return max(0, -math.floor(math.log10(self.step) + 1e-9))

    def share(self, value: float) -> float:
        """0 at the low end, 1 at the high end."""
        return (value - self.low) / (self.high - self.low)

    def ticks(self) -> list[float]:
        return [self.low + place * self.step for place in range(self.steps_count + 1)]


def axis(name: str, values: Sequence[float], *, margin: float = 0.04, from_zero: bool = False) -> Axis:
    """An axis that holds all values, with a margin. ValueError where there is none, or one is not finite."""
    if not values or not all(math.isfinite(value) for value in values):
        raise ValueError(f"axis {name!r} needs at least one value, all of them finite")
    low, high = min(values), max(values)
    width = max(high - low, 0.02 * max(abs(low), abs(high)), 1e-6)
    low, high = 0.0 if from_zero else low - margin * width, high + margin * width
    step = tick_step(high - low)
    first = math.floor(low / step + 1e-9)
    return Axis(name=name, low=first * step, step=step, steps_count=max(1, math.ceil(high / step - 1e-9) - first))


def _x(along: Axis, value: float) -> float:
    return LEFT + along.share(value) * (WIDTH - LEFT - RIGHT)


def _y(up: Axis, value: float) -> float:
    return HEIGHT - BOTTOM - up.share(value) * (HEIGHT - TOP - BOTTOM)


def _frame(along: Axis, up: Axis) -> list[str]:
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    parts = [lettered(2, 8, up.name), lettered((LEFT + right) / 2, HEIGHT - 6, along.name, "middle")]
    for value in up.ticks():
        y = _y(up, value)
        parts.append(f'<path d="M{pt(LEFT)} {pt(y)}H{pt(right)}" stroke="#bbb" stroke-width="0.4"/>')
        parts.append(lettered(LEFT - 3, y + 3, number(value, up.decimals), "end"))
    for value in along.ticks():
        x = _x(along, value)
        parts.append(f'<path d="M{pt(x)} {pt(bottom)}v3" stroke="black" stroke-width="0.8"/>')
        parts.append(lettered(x, bottom + 11, number(value, along.decimals), "middle"))
    parts.append(
        f'<path d="M{pt(LEFT)} {pt(TOP)}V{pt(bottom)}H{pt(right)}" fill="none" stroke="black" stroke-width="0.8"/>'
    )
    return parts


def staircase_svg(
    title: str, sentence: str, along: Axis, up: Axis, points: Sequence[tuple[float, float]], ends: tuple[str, str]
) -> str:
    """Points from left to right, each lower than all before it, joined by steps; the first and the last are named."""
    parts = _frame(along, up)
    if len(points) > 1:
        path = f"M{pt(_x(along, points[0][0]))} {pt(_y(up, points[0][1]))}"
        path += "".join(f"H{pt(_x(along, x))}V{pt(_y(up, y))}" for x, y in points[1:])
        parts.append(f'<path d="{path}" fill="none" stroke="black" stroke-width="1"/>')
    for x, y in points:
        place = f'cx="{pt(_x(along, x))}" cy="{pt(_y(up, y))}"'
        parts.append(f'<circle {place} r="2.6" fill="white" stroke="black" stroke-width="1.2"/>')
    for (x, y), name, anchor, aside in zip((points[0], points[-1]), ends, ("start", "end"), (5.0, -5.0), strict=True):
        if name:
            parts.append(lettered(_x(along, x) + aside, _y(up, y) - 5, name, anchor, HALO))
    return svg_document(WIDTH, HEIGHT, title, sentence, parts)


def histogram_svg(
    title: str,
    sentence: str,
    name: str,
    edges: Sequence[float],
    counts: Sequence[int],
    marks: Sequence[tuple[str, float]],
) -> str:
    """Counts between edges as bars; each mark a named line across. ValueError where edges and counts do not fit."""
    if len(edges) != len(counts) + 1:
        raise ValueError(f"{len(counts)} counts need {len(counts) + 1} edges, not {len(edges)}")
    along = axis(name, [*edges, *(value for _, value in marks)], margin=0.0)
    up = axis("count", [float(count) for count in counts], from_zero=True)
    parts = _frame(along, up)
    for low, high, count in zip(edges, edges[1:], counts, strict=False):
        if count:
            x, width, y = _x(along, low), _x(along, high) - _x(along, low), _y(up, count)
            parts.append(
                f'<rect x="{pt(x)}" y="{pt(y)}" width="{pt(width)}" height="{pt(HEIGHT - BOTTOM - y)}" fill="#d4d4d4" '
                'stroke="black" stroke-width="0.6"/>'
            )
    for word, value in marks:
        x = _x(along, value)
        line = f"M{pt(x)} {pt(TOP)}V{pt(HEIGHT - BOTTOM)}"
        parts.append(f'<path d="{line}" stroke="black" stroke-width="2" stroke-dasharray="10 3"/>')
        parts.append(lettered(x - 3, TOP - 4, word, "end" if along.share(value) > 0.5 else "start", HALO))
    return svg_document(WIDTH, HEIGHT, title, sentence, parts)
