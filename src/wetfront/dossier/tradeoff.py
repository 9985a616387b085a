"""Cost against risk as a chart, and the effect of a change as a bar: SVG for black-and-white print."""

import math

from wetfront.dossier.charts import HEIGHT, WIDTH, tick_step
from wetfront.dossier.svg import HALO, lettered, pt, svg_document
from wetfront.dossier.words import number, plain, short
from wetfront.nouns.plan import Frontier, FrontierPoint

TITLE = "Cost against risk"
LEFT, RIGHT, TOP, BOTTOM = 42.0, 14.0, 20.0, 30.0
BAR_WIDTH, BAR_HEIGHT = 64.0, 9.0
LEAST_COST_SHARE = 0.002
"""Of the cost: the axis never shows less than this, or noise would look like a choice."""


class _Frame:
    """Where shares of a limit and costs land on paper."""

    def __init__(self, points: list[FrontierPoint]):
        self.share_step = tick_step(max(1.0, *(each.worst_share for each in points)) * 1.04)
        self.most_share = self.share_step * math.ceil(
            max(1.0, *(each.worst_share for each in points)) * 1.04 / self.share_step - 1e-9
        )
        costs = [each.cost_cu for each in points]
        middle = (min(costs) + max(costs)) / 2
        half = max((max(costs) - min(costs)) * 0.55, abs(middle) * LEAST_COST_SHARE, 0.5)
        self.cost_step = tick_step(2 * half)
        self.low = math.floor((middle - half) / self.cost_step) * self.cost_step
        self.steps_count = max(1, math.ceil((middle + half - self.low) / self.cost_step - 1e-9))

    def x(self, share: float) -> float:
        return LEFT + min(max(share, 0.0), self.most_share) / self.most_share * (WIDTH - LEFT - RIGHT)

    def y(self, cost: float) -> float:
        part = (cost - self.low) / (self.cost_step * self.steps_count)
        return HEIGHT - BOTTOM - part * (HEIGHT - TOP - BOTTOM)


def frontier_svg(frontier: Frontier, currency: str) -> str:
    """Each plan to which none is both cheaper and at less risk; the chosen one as a square; limits end at 100 %.

    ValueError where a figure is not finite.
    """
    points = [*frontier.points, frontier.chosen]
    if not all(math.isfinite(value) for each in points for value in (each.cost_cu, each.worst_share)):
        raise ValueError(f"chart {TITLE!r} holds a figure that is not finite")
    frame = _Frame(points)
    parts = [*_axes(frame, currency), *_steps(frame, frontier)]
    for each in frontier.points:
        parts += _point(frame, each)
    x, y = frame.x(frontier.chosen.worst_share), frame.y(frontier.chosen.cost_cu)
    parts.append(f'<rect x="{pt(x - 3.5)}" y="{pt(y - 3.5)}" width="7" height="7" fill="black"/>')
    # Above and to the right no plan is on the staircase.
    right = x + 50 < WIDTH
    parts.append(lettered(x + 6 if right else x - 6, y - 6, "this plan", "start" if right else "end", HALO))
    return svg_document(WIDTH, HEIGHT, f"{TITLE} [{plain(currency)}]", frontier.sentence, parts)


def _axes(frame: _Frame, currency: str) -> list[str]:
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    parts = [lettered(2, 8, f"expected cost, {plain(currency)[:8]}")]
    decimals = max(0, -math.floor(math.log10(frame.cost_step)))
    for index in range(frame.steps_count + 1):
        cost = frame.low + index * frame.cost_step
        parts.append(f'<path d="M{pt(LEFT)} {pt(frame.y(cost))}H{pt(right)}" stroke="#bbb" stroke-width="0.4"/>')
        parts.append(lettered(LEFT - 3, frame.y(cost) + 3, number(cost, decimals), "end"))
    for index in range(round(frame.most_share / frame.share_step) + 1):
        x = frame.x(index * frame.share_step)
        parts.append(f'<path d="M{pt(x)} {pt(bottom)}v3" stroke="black" stroke-width="0.8"/>')
        parts.append(lettered(x, bottom + 11, short(100 * index * frame.share_step, 2), "middle"))
    parts.append(lettered((LEFT + right) / 2, HEIGHT - 6, "largest risk, % of its limit", "middle"))
    parts.append(
        f'<path d="M{pt(LEFT)} {pt(TOP)}V{pt(bottom)}H{pt(right)}" fill="none" stroke="black" stroke-width="0.8"/>'
    )
    at = frame.x(1.0)
    parts.append(
        f'<path d="M{pt(at)} {pt(TOP)}V{pt(bottom)}" stroke="black" stroke-width="2" stroke-dasharray="10 3"/>'
    )
    parts.append(lettered(at - 3, TOP - 4, "limit", "end", ' font-weight="600"'))
    return parts


def _steps(frame: _Frame, frontier: Frontier) -> list[str]:
    """The staircase: from each plan on, its cost is the least, until the next one may be had."""
    if len(frontier.points) < 2:
        return []
    first = frontier.points[0]
    path = f"M{pt(frame.x(first.worst_share))} {pt(frame.y(first.cost_cu))}"
    for each in frontier.points[1:]:
        path += f"H{pt(frame.x(each.worst_share))}V{pt(frame.y(each.cost_cu))}"
    return [f'<path d="{path}" fill="none" stroke="black" stroke-width="1"/>']


def _point(frame: _Frame, each: FrontierPoint) -> list[str]:
    x, y = frame.x(each.worst_share), frame.y(each.cost_cu)
    low, high = frame.x(each.worst_share - each.worst_share_error), frame.x(each.worst_share + each.worst_share_error)
    return [
        f'<path d="M{pt(low)} {pt(y)}H{pt(high)}" stroke="#777" stroke-width="2.2"/>',
        f'<circle cx="{pt(x)}" cy="{pt(y)}" r="2.6" fill="white" stroke="black" stroke-width="1.2"/>',
    ]


def bar_svg(value: float, largest: float, title: str, sentence: str) -> str:
    """A bar from the middle: black to the right for more, white to the left for less; beyond `largest` with a tip."""
    if not math.isfinite(value) or not math.isfinite(largest):
        raise ValueError(f"bar {title!r} holds a figure that is not finite")
    middle, half = BAR_WIDTH / 2, BAR_WIDTH / 2 - 5
    share = 0.0 if largest <= 0 else max(-1.0, min(1.0, value / largest))
    beyond = abs(value) > largest * (1 + 1e-9)
    end = middle + share * half
    parts = [f'<path d="M{pt(middle)} 0V{pt(BAR_HEIGHT)}" stroke="black" stroke-width="0.8"/>']
    if share:
        fill = "black" if share > 0 else "white"
        parts.append(
            f'<rect x="{pt(min(middle, end))}" y="1.5" width="{pt(abs(end - middle))}" height="{pt(BAR_HEIGHT - 3)}" '
            f'fill="{fill}" stroke="black" stroke-width="0.8"/>'
        )
    if beyond and share:
        tip = end + math.copysign(4.5, share)
        parts.append(f'<path d="M{pt(end)} 0L{pt(tip)} {pt(BAR_HEIGHT / 2)}L{pt(end)} {pt(BAR_HEIGHT)}Z"/>')
    return svg_document(BAR_WIDTH, BAR_HEIGHT, title, sentence, parts)
