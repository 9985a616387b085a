/** The drawn front: where cells lie on the screen, how dark they are, which of their sides are live edges. */

import type { CellView } from "../contract";
import { earlier } from "./clock";

export type Point = readonly [number, number];

export interface Frame {
  readonly width: number;
  readonly height: number;
  /** From metres of the drawing to units of the picture. */
  readonly at: (point: Point) => Point;
}

/** A joint clock with this much left is drawn white, one that has run out at the dark end. */
export const LIGHT_AT_MIN = 120;

/** Fits all outlines into a picture 1000 units wide; `turned` lays the longer way of a plan upright. */
export function frame(cells: readonly CellView[], turned: boolean): Frame {
  const all = cells.flatMap((each) => each.outline_m);
  const us = all.map((each) => each[0]);
  const vs = all.map((each) => each[1]);
  const [u0, u1, v0, v1] = [Math.min(...us), Math.max(...us), Math.min(...vs), Math.max(...vs)];
  const across = Math.max(turned ? v1 - v0 : u1 - u0, 1e-6);
  const scale = 1000 / across;
  const height = (turned ? u1 - u0 : v1 - v0) * scale;
  const at = ([u, v]: Point): Point =>
    turned ? [(v - v0) * scale, (u - u0) * scale] : [(u - u0) * scale, (v1 - v) * scale];
  return { width: 1000, height: Math.max(height, 1), at };
}

/** The shorter side of the narrowest of some cells, in units of the picture. */
export function narrowest(cells: readonly CellView[], view: Frame): number {
  const sides = cells.flatMap((cell) => {
    const points = cell.outline_m.map((point) => view.at(point));
    const span = (along: 0 | 1): number => Math.max(...points.map((each) => each[along])) - Math.min(...points.map((each) => each[along]));
    return [span(0), span(1)];
  });
  return Math.max(1e-6, Math.min(...sides.filter((each) => each > 1e-6), Infinity));
}

/** When the joint clock of a cell ends: by the specification or by setting, whichever comes first. */
export function joinBy(cell: CellView): string | null {
  return earlier(cell.join_by_specification, cell.join_by_setting?.usual);
}

/** 0 (light, much time) to 1 (dark, run out), without steps. */
export function darkness(minutes: number): number {
  return Math.min(1, Math.max(0, 1 - minutes / LIGHT_AT_MIN));
}

/** One scale from light to dark in grey-blue that keeps its order in grey print. */
export function shade(minutes: number): string {
  const dark = darkness(minutes);
  const mix = (light: number, deep: number): number => Math.round(light + (deep - light) * dark);
  return `rgb(${mix(232, 16)}, ${mix(238, 28)}, ${mix(242, 40)})`;
}

export function centre(outline: readonly Point[]): Point {
  const us = outline.map((each) => each[0]);
  const vs = outline.map((each) => each[1]);
  return [(Math.min(...us) + Math.max(...us)) / 2, (Math.min(...vs) + Math.max(...vs)) / 2];
}

/** The stretches where the outline of one cell runs along that of another. */
export function shared(one: readonly Point[], other: readonly Point[]): [Point, Point][] {
  const found: [Point, Point][] = [];
  for (const [a, b] of sides(one)) {
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (length < 1e-6) continue;
    const along: Point = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
    for (const [c, d] of sides(other)) {
      const off = (point: Point): number => along[0] * (point[1] - a[1]) - along[1] * (point[0] - a[0]);
      if (Math.abs(off(c)) > 1e-3 || Math.abs(off(d)) > 1e-3) continue;
      const on = (point: Point): number => along[0] * (point[0] - a[0]) + along[1] * (point[1] - a[1]);
      const from = Math.max(0, Math.min(on(c), on(d)));
      const to = Math.min(length, Math.max(on(c), on(d)));
      if (to - from > 1e-3)
        found.push([
          [a[0] + along[0] * from, a[1] + along[1] * from],
          [a[0] + along[0] * to, a[1] + along[1] * to],
        ]);
    }
  }
  return found;
}

function sides(outline: readonly Point[]): [Point, Point][] {
  return outline.map((each, place) => [each, outline[(place + 1) % outline.length]!]);
}

export interface Label {
  /** In units of the picture. */
  readonly at: Point;
  /** Minutes left of the cell that has least; null where no clock is known. */
  readonly minutes: number | null;
}

/**
 * Where minutes are written: in each cell with an open edge that has room for a number, else once for the neighbouring
 * cells of one load, with the least of their minutes.
 */
export function labels(
  cells: readonly CellView[],
  view: Frame,
  least: readonly [number, number],
  minutes: (cell: CellView) => number | null,
): Label[] {
  const open = cells.filter((each) => each.state === "placed" && each.edge_open);
  const box = (some: readonly CellView[]): [number, number, number, number] => {
    const points = some.flatMap((each) => each.outline_m.map((point) => view.at(point)));
    const us = points.map((each) => each[0]);
    const vs = points.map((each) => each[1]);
    return [Math.min(...us), Math.min(...vs), Math.max(...us), Math.max(...vs)];
  };
  const fits = (some: readonly CellView[]): boolean => {
    const [u0, v0, u1, v1] = box(some);
    return u1 - u0 >= least[0] && v1 - v0 >= least[1];
  };
  const groups: CellView[][] = [];
  for (const cell of open) {
    const last = groups.at(-1);
    const same = last && last[0]!.place === cell.place && last[0]!.ticket_number === cell.ticket_number;
    if (last && same && !fits(last)) last.push(cell);
    else groups.push([cell]);
  }
  return groups.map((group) => {
    const [u0, v0, u1, v1] = box(group);
    const known = group.map(minutes).filter((each) => each !== null);
    return { at: [(u0 + u1) / 2, (v0 + v1) / 2], minutes: known.length ? Math.min(...known) : null };
  });
}

/** Sides of the cells of an edge that have an open cell of the same layer beside them. */
export function edgeLines(cells: readonly CellView[], numbers: readonly number[]): [Point, Point][] {
  const along = new Set(numbers);
  const placed = cells.filter((each) => along.has(each.index) && each.state === "placed");
  const free = cells.filter((each) => each.state === "open");
  return placed.flatMap((cell) =>
    free
      .filter((each) => each.layer === cell.layer)
      .flatMap((each) => shared(cell.outline_m, each.outline_m)),
  );
}

/** A, B, … Z, AA: the letter of an edge by its place in the list. */
export function letter(place: number): string {
  return place < 26 ? String.fromCharCode(65 + place) : letter(Math.floor(place / 26) - 1) + letter(place % 26);
}
