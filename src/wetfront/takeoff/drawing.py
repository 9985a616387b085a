"""The lattice as SVG: cells, values in them, element names, scale, axes. Black and white; equal bytes each time."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray

from wetfront.errors import InvalidInput
from wetfront.takeoff.lattice import Lattice
from wetfront.takeoff.views import View

Floats = NDArray[np.float64]

_MARGIN = 36.0
_TITLE = 22.0
_FOOT = 44.0
_SMALLEST_TEXT = 5.0
_LARGEST_MARK = 13.0
_LIGHTEST, _DARKEST = 250, 110
"""Grey levels of the scale's ends; the darkest still carries black figures at a contrast of 4 to 1."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line on a drawing, in the view's plane [m]: a joint (dashed, heavy) or an arrow from start to end."""

    start: tuple[float, float]
    end: tuple[float, float]
    label: str = ""
    arrow: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """Words over several cells, as large as `box_m` (low u, low v, high u, high v) takes: stacked, or in one line."""

    box_m: tuple[float, float, float, float]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Frame:
    """Metres of a view to points on paper; y runs down."""

    low_u: float
    high_v: float
    scale: float
    left: float
    top: float

    def at(self, u: float, v: float) -> tuple[float, float]:
        return self.left + (u - self.low_u) * self.scale, self.top + (self.high_v - v) * self.scale


def front_view_svg(
    lattice: Lattice,
    *,
    view: int = 0,
    values: Sequence[float] | Floats | None = None,
    value_name: str = "",
    labels: Sequence[str] | None = None,
    layer: int | None = None,
    lines: Sequence[Line] = (),
    marks: Sequence[Mark] = (),
    title: str | None = None,
    width_pt: float = 760.0,
    highest_pt: float = 520.0,
    north_deg: float | None = None,
    largest_mark_pt: float = _LARGEST_MARK,
) -> str:
    """One view of the lattice as an SVG document.

    values: one number a cell; shades it from light (least) to dark (most) and is written in it. NaN: left white.
    labels: one text a cell, written instead of the value (an order number, a time).
    marks: words over several cells, such as the number and times of a strip.
    layer: which layer a plan shows; by default the highest of each element, and below it the front elevation of the
    layers. An elevation shows all layers.
    north_deg: direction of north, anticlockwise from site x; drawn on plans.
    width_pt, highest_pt: the paper's width, and the most that the drawing itself may take in height.
    largest_mark_pt: type of a mark that has room enough.
    InvalidInput names values, labels, view or layer where it does not fit the lattice.
    """
    _check(lattice, view, values, labels, layer)
    shown = lattice.views[view]
    cells = _cells_of_view(lattice, view, layer)
    texts = _texts(lattice, values, labels)
    shades = _shades(lattice, values)
    corners = [lattice.outline_of(int(cell)) for cell in cells]
    frame, width, height = _frame(np.concatenate(corners), width_pt, highest_pt)
    name = title or shown.title
    body = [_cell_svg(frame, outline, shades[cell], texts[cell]) for cell, outline in zip(cells, corners, strict=True)]
    body += _element_names(lattice, cells, corners, frame)
    body += [_line_svg(frame, line) for line in lines]
    body += [_mark_svg(frame, mark, largest_mark_pt) for mark in marks]
    body += _foot(shown, frame, height, width)
    if north_deg is not None and shown.kind == "plan":
        body.append(_north(north_deg, width / 2, height - 22))
    if values is not None:
        body += _key(values, value_name, width, height)
    described = f"{len(cells)} cells of {len(set(lattice.element[cells].tolist()))} elements"
    if shown.kind == "plan" and int(lattice.layers_count[cells].max()) > 1:
        stack, height = _layers_svg(lattice, view, shades, texts, height, width)
        body += stack
        described += ", with the front elevation of the layers below"
    return _document(name, described + _value_range(values, value_name), width, height, body)


def _check(
    lattice: Lattice,
    view: int,
    values: Sequence[float] | Floats | None,
    labels: Sequence[str] | None,
    layer: int | None,
) -> None:
    count = lattice.cells_count
    for key, given in (("values", values), ("labels", labels)):
        if given is not None and len(given) != count:
            raise InvalidInput(key, f"{key} has {len(given)} entries; the lattice has {count} cells")
    if not 0 <= view < len(lattice.views):
        raise InvalidInput("view", f"view is {view}; the lattice has views 0 to {len(lattice.views) - 1}")
    most = int(lattice.layers_count[lattice.view == view].max())
    if layer is not None and not 0 <= layer < most:
        raise InvalidInput("layer", f"layer is {layer}; the view has layers 0 to {most - 1}")


def _cells_of_view(lattice: Lattice, view: int, layer: int | None) -> NDArray[np.int64]:
    chosen = lattice.view == view
    if lattice.views[view].kind == "plan":
        wanted = lattice.layers_count - 1 if layer is None else np.minimum(layer, lattice.layers_count - 1)
        chosen &= lattice.layer == wanted
    return np.flatnonzero(chosen)


def _texts(lattice: Lattice, values: Sequence[float] | Floats | None, labels: Sequence[str] | None) -> list[str]:
    if labels is not None:
        return [str(label) for label in labels]
    if values is None:
        return [""] * lattice.cells_count
    return [f"{value:.0f}" if abs(value) >= 10 else f"{value:.2g}" if math.isfinite(value) else "" for value in values]


def _shades(lattice: Lattice, values: Sequence[float] | Floats | None) -> list[str]:
    """Grey of each cell as #rrggbb."""
    if values is None:
        return ["#ffffff"] * lattice.cells_count
    array = np.asarray(values, dtype=float)
    real = np.isfinite(array)
    if not real.any():
        return ["#ffffff"] * lattice.cells_count
    low, high = float(array[real].min()), float(array[real].max())
    share = (array - low) / (high - low) if high > low else np.zeros(len(array))
    grey = [
        round(_LIGHTEST + (_DARKEST - _LIGHTEST) * float(part)) if ok else 255
        for part, ok in zip(share, real, strict=True)
    ]
    return [f"#{level:02x}{level:02x}{level:02x}" for level in grey]


def _frame(points: Floats, width_pt: float, highest_pt: float) -> tuple[_Frame, float, float]:
    low, high = points.min(axis=0), points.max(axis=0)
    span_u, span_v = max(float(high[0] - low[0]), 1e-3), max(float(high[1] - low[1]), 1e-3)
    scale = min((width_pt - 2 * _MARGIN) / span_u, highest_pt / span_v)
    frame = _Frame(float(low[0]), float(high[1]), scale, _MARGIN, _TITLE + _MARGIN / 2)
    return frame, width_pt, frame.top + span_v * scale + _FOOT


def _n(number: float) -> str:
    """Two decimals, no minus zero, no needless zeros."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _escape(text: str) -> str:
    kept = "".join(sign for sign in text if sign >= " " or sign in "\t\n")
    return kept.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def _text(x: float, y: float, size: float, text: str, style: str = "", anchor: str = "middle") -> str:
    return f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" text-anchor="{anchor}"{style}>{_escape(text)}</text>'


def _cell_svg(frame: _Frame, outline: Floats, shade: str, text: str) -> str:
    points = [frame.at(float(u), float(v)) for u, v in outline]
    drawn = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
    cell = f'<polygon points="{drawn}" fill="{shade}" stroke="#000" stroke-width="0.4"/>'
    if text:
        low_u, low_v, high_u, high_v = _room(outline, len(text))
        size = _type_size(high_u - low_u, high_v - low_v, len(text), frame.scale)
        if size >= _SMALLEST_TEXT:
            x, y = frame.at((low_u + high_u) / 2, (low_v + high_v) / 2)
            cell += _text(x, y + size * 0.35, size, text)
    return cell


def _type_size(wide_m: float, high_m: float, letters: int, scale: float) -> float:
    return min(10.0, 0.68 * high_m * scale, wide_m * scale / (0.62 * letters))


def _room(outline: Floats, letters: int) -> tuple[float, float, float, float]:
    """The box [m] within a cell that takes a text of so many letters in the largest type."""
    (low_u, low_v), (high_u, high_v) = outline.min(axis=0).tolist(), outline.max(axis=0).tolist()
    polygon = shapely.Polygon(outline)
    if polygon.area > (1 - 1e-6) * (high_u - low_u) * (high_v - low_v):
        return low_u, low_v, high_u, high_v
    us, vs = np.unique(outline[:, 0].round(9)), np.unique(outline[:, 1].round(9))
    if len(us) * len(vs) <= 64:
        boxes = np.array([(a, c, b, d) for a, b in combinations(us, 2) for c, d in combinations(vs, 2)])
        inside = boxes[shapely.covers(shapely.buffer(polygon, 1e-6), shapely.box(*boxes.T))]
        if len(inside):
            sizes = [_type_size(b - a, d - c, letters, 1e-3) for a, c, b, d in inside]
            a, c, b, d = inside[int(np.argmax(sizes))].tolist()
            return a, c, b, d
    line = shapely.maximum_inscribed_circle(polygon, tolerance=0.02 * min(high_u - low_u, high_v - low_v))
    (u, v), _ = line.coords
    across, up = 0.85 * float(line.length), 0.52 * float(line.length)
    return u - across, v - up, u + across, v + up


def _element_names(lattice: Lattice, cells: NDArray[np.int64], corners: list[Floats], frame: _Frame) -> list[str]:
    """A heavy border round each element's cells and its name above them."""
    drawn = []
    for element in dict.fromkeys(lattice.element[cells].tolist()):
        own = [outline for cell, outline in zip(cells, corners, strict=True) if lattice.element[cell] == element]
        for start, end in _border(own):
            (x0, y0), (x1, y1) = frame.at(*start), frame.at(*end)
            drawn.append(f'<path d="M{_n(x0)} {_n(y0)}L{_n(x1)} {_n(y1)}" stroke="#000" stroke-width="1.4"/>')
        points = np.concatenate(own)
        x, y = frame.at(float((points[:, 0].min() + points[:, 0].max()) / 2), float(points[:, 1].max()))
        drawn.append(_text(x, y - 4, 9, lattice.element_ids[element], ' font-weight="bold"'))
    return drawn


def _border(outlines: list[Floats]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Edges that no other cell of the element has the other way round."""
    edges: dict[tuple[tuple[float, float], tuple[float, float]], None] = {}
    for outline in outlines:
        points = [(round(float(u), 6), round(float(v), 6)) for u, v in outline]
        for start, end in zip(points, points[1:] + points[:1], strict=True):
            if (end, start) in edges:
                del edges[end, start]
            else:
                edges[start, end] = None
    return list(edges)


def _line_svg(frame: _Frame, line: Line) -> str:
    (x0, y0), (x1, y1) = frame.at(*line.start), frame.at(*line.end)
    style = 'stroke-width="1.2" marker-end="url(#arrow)"' if line.arrow else 'stroke-width="2" stroke-dasharray="7 3"'
    drawn = f'<path d="M{_n(x0)} {_n(y0)}L{_n(x1)} {_n(y1)}" stroke="#000" fill="none" {style}/>'
    if line.label:
        halo = ' paint-order="stroke" stroke="#fff" stroke-width="3"'
        drawn += _text((x0 + x1) / 2, (y0 + y1) / 2 - 3, 8, line.label, halo)
    return drawn


def _mark_svg(frame: _Frame, mark: Mark, largest_pt: float) -> str:
    low_u, low_v, high_u, high_v = mark.box_m
    wide, high = 0.92 * (high_u - low_u) * frame.scale, 0.92 * (high_v - low_v) * frame.scale
    ways = [mark.words, (" ".join(mark.words),)]
    sizes = [
        min(largest_pt, wide / (0.55 * max(len(word) for word in words)), high / (1.15 * len(words))) for words in ways
    ]
    size, words = max(zip(sizes, ways, strict=True), key=lambda way: way[0])
    if size < _SMALLEST_TEXT:
        return ""
    x, middle = frame.at((low_u + high_u) / 2, (low_v + high_v) / 2)
    top = middle + size * (0.35 - 0.575 * (len(words) - 1))
    style = ' font-weight="bold" paint-order="stroke" stroke="#fff" stroke-width="2.5" stroke-linejoin="round"'
    return "".join(_text(x, top + 1.15 * size * index, size, word, style) for index, word in enumerate(words))


def _foot(view: View, frame: _Frame, height: float, width: float) -> list[str]:
    """Scale bar, and the axes: x, y of the site on a plan, direction and level on an elevation."""
    bar_m = _round_length((width - 2 * _MARGIN) / frame.scale / 5)
    y, x0 = height - 14, _MARGIN
    x1 = x0 + bar_m * frame.scale
    drawn = [
        f'<path d="M{_n(x0)} {_n(y - 4)}V{_n(y)}H{_n(x1)}V{_n(y - 4)}" stroke="#000" fill="none" stroke-width="1"/>',
        _text((x0 + x1) / 2, y - 5, 8, f"{bar_m:g} m"),
    ]
    across, up = ("x", "y") if view.kind == "plan" else ("along", "level")
    if view.kind == "elevation" and view.to_place:
        across = f"along, {view.direction_deg:g}° from x"
    at = x1 + 40
    drawn.append(f'<path d="M{_n(at)} {_n(y)}h18" stroke="#000" marker-end="url(#arrow)"/>')
    drawn.append(f'<path d="M{_n(at)} {_n(y)}v-18" stroke="#000" marker-end="url(#arrow)"/>')
    drawn.append(_text(at + 24, y + 3, 8, across, anchor="start"))
    drawn.append(_text(at + 5, y - 17, 8, up, anchor="start"))
    return drawn


def _north(north_deg: float, x: float, y: float) -> str:
    angle = math.radians(north_deg)
    along, down = 11 * math.cos(angle), -11 * math.sin(angle)
    path = f"M{_n(x - along)} {_n(y - down)}l{_n(2 * along)} {_n(2 * down)}"
    arrow = f'<path d="{path}" stroke="#000" marker-end="url(#arrow)"/>'
    return arrow + _text(x + along * 1.8, y + down * 1.8 + 3, 9, "N")


def _round_length(wanted_m: float) -> float:
    """The largest of 1, 2, 5 × a power of ten that is not over the wanted length."""
    power = 10.0 ** math.floor(math.log10(wanted_m))
    return max(step * power for step in (1, 2, 5) if step * power <= wanted_m * (1 + 1e-9))


def _key(values: Sequence[float] | Floats, name: str, width: float, height: float) -> list[str]:
    """The shade scale with its ends."""
    array = np.asarray(values, dtype=float)
    array = array[np.isfinite(array)]
    if len(array) == 0:
        return []
    steps, step = 12, 9.0
    x0, y = width - _MARGIN - steps * step, height - 24
    drawn = []
    for k in range(steps):
        grey = round(_LIGHTEST + (_DARKEST - _LIGHTEST) * k / (steps - 1))
        shade = f"#{grey:02x}{grey:02x}{grey:02x}"
        drawn.append(f'<rect x="{_n(x0 + k * step)}" y="{_n(y)}" width="{_n(step)}" height="8" fill="{shade}"/>')
    drawn.append(f'<rect x="{_n(x0)}" y="{_n(y)}" width="{_n(steps * step)}" height="8" fill="none" stroke="#000"/>')
    drawn.append(_text(x0, y + 18, 8, f"{array.min():.3g}"))
    drawn.append(_text(x0 + steps * step, y + 18, 8, f"{array.max():.3g}"))
    drawn.append(_text(x0 + steps * step / 2, y - 4, 8, name))
    return drawn


def _value_range(values: Sequence[float] | Floats | None, name: str) -> str:
    if values is None:
        return ""
    array = np.asarray(values, dtype=float)
    array = array[np.isfinite(array)]
    return f"; {name or 'values'} from {array.min():.3g} to {array.max():.3g}" if len(array) else ""


def _layers_svg(
    lattice: Lattice, view: int, shades: list[str], texts: list[str], top: float, width: float
) -> tuple[list[str], float]:
    """Under a plan: the layers seen from the front, one row a layer, the nearest cell of each column. Not to scale."""
    chosen = np.flatnonzero((lattice.view == view) & (lattice.layers_count > 1))
    spans = {cell: lattice.outline_of(cell)[:, 0] for cell in chosen.tolist()}
    low = min(float(span.min()) for span in spans.values())
    high = max(float(span.max()) for span in spans.values())
    scale = (width - 2 * _MARGIN) / max(high - low, 1e-3)
    rows, row_pt = int(lattice.layers_count[chosen].max()), 16.0
    front: Mapping[tuple[int, int, int], int] = _front_cells(lattice, spans)
    drawn = [_text(_MARGIN, top + 10, 9, "Layers from the front, heights not to scale", anchor="start")]
    for (_, layer, _), cell in sorted(front.items()):
        span = spans[cell]
        x0 = _MARGIN + (float(span.min()) - low) * scale
        wide = float(np.ptp(span)) * scale
        y = top + 16 + (rows - 1 - layer) * row_pt
        drawn.append(
            f'<rect x="{_n(x0)}" y="{_n(y)}" width="{_n(wide)}" height="{_n(row_pt)}" '
            f'fill="{shades[cell]}" stroke="#000" stroke-width="0.4"/>'
        )
        size = min(8.0, wide / (0.62 * max(len(texts[cell]), 1)))
        if texts[cell] and size >= _SMALLEST_TEXT:
            drawn.append(_text(x0 + wide / 2, y + row_pt / 2 + size * 0.35, size, texts[cell]))
    return drawn, top + 16 + rows * row_pt + 12


def _front_cells(lattice: Lattice, spans: Mapping[int, Floats]) -> dict[tuple[int, int, int], int]:
    """(element, layer, i) -> the cell with the smallest j."""
    front: dict[tuple[int, int, int], int] = {}
    for cell in spans:
        key = (int(lattice.element[cell]), int(lattice.layer[cell]), int(lattice.i[cell]))
        if key not in front or lattice.j[cell] < lattice.j[front[key]]:
            front[key] = cell
    return front


def _document(title: str, description: str, width: float, height: float, body: Sequence[str]) -> str:
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(width)} {_n(height)}" '
        f'width="{_n(width)}pt" height="{_n(height)}pt" role="img" aria-labelledby="title desc" '
        f'font-family="Source Sans 3, Source Sans Pro, sans-serif">'
    )
    arrow = (
        '<defs><marker id="arrow" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="7" markerHeight="7" '
        'orient="auto-start-reverse"><path d="M0 0L10 5L0 10z"/></marker></defs>'
    )
    parts = [
        head,
        f'<title id="title">{_escape(title)}</title>',
        f'<desc id="desc">{_escape(description)}</desc>',
        arrow,
        f'<rect width="{_n(width)}" height="{_n(height)}" fill="#fff"/>',
        _text(_MARGIN, 16, 12, title, ' font-weight="bold"', anchor="start"),
        *body,
        "</svg>",
    ]
    return "\n".join(parts) + "\n"
