import { describe, expect, it } from "vitest";
import { darkness, edgeLines, frame, labels, letter, shade, shared, type Point } from "../src/lib/front";
import type { CellView } from "../src/contract";

const square = (x: number, y: number, size = 4): Point[] => [
  [x, y],
  [x + size, y],
  [x + size, y + size],
  [x, y + size],
];
const cell = (index: number, x: number, y: number, state: "open" | "placed", layer = 0): CellView => ({
  index, element: "B", place: "B1", outline_m: square(x, y), layer, volume_m3: 4, state, ticket_number: "", placed_at: null,
  edge_open: false, join_by_specification: null, join_by_setting: null,
});

describe("the drawn front", () => {
  it("keeps proportions and puts north up", () => {
    const made = frame([cell(0, 0, 0, "open"), cell(1, 4, 0, "open")], false);
    expect([made.width, made.height]).toEqual([1000, 500]);
    expect(made.at([0, 4])).toEqual([0, 0]);
    const turned = frame([cell(0, 0, 0, "open"), cell(1, 4, 0, "open")], true);
    expect(turned.height).toBe(2000);
  });
  it("darkens steadily as time runs out", () => {
    const steps = [150, 120, 90, 60, 30, 10, 0, -20].map(darkness);
    expect(steps).toEqual([...steps].sort((one, other) => one - other));
    expect([steps[0], steps.at(-1)]).toEqual([0, 1]);
    const light = (text: string): number => text.match(/\d+/g)!.reduce((sum, each) => sum + Number(each), 0);
    const sums = [120, 100, 80, 60, 40, 20, 0].map((minutes) => light(shade(minutes)));
    expect(sums).toEqual([...sums].sort((one, other) => other - one));
    expect(new Set(sums).size).toBe(sums.length);
  });
  it("finds the stretch that two cells share, also of unequal cells", () => {
    expect(shared(square(0, 0), square(4, 0))).toEqual([[[4, 0], [4, 4]]]);
    expect(shared(square(0, 0), square(4, 2))[0]).toEqual([[4, 2], [4, 4]]);
    expect(shared(square(0, 0), square(4, 4))).toEqual([]);
    expect(shared(square(0, 0), square(9, 0))).toEqual([]);
  });
  it("draws an edge only where nothing lies beside it in the same layer", () => {
    const cells = [cell(0, 0, 0, "placed"), cell(1, 4, 0, "open"), cell(2, 0, 4, "placed"), cell(3, 4, 4, "open", 1)];
    expect(edgeLines(cells, [0, 2])).toEqual([[[4, 0], [4, 4]]]);
  });
  it("writes the least minutes once for cells of one load that are too small for a number of their own", () => {
    const small = [0, 1, 2, 3].map((at) => ({ ...cell(at, 4 * at, 0, "placed"), edge_open: true, ticket_number: at < 3 ? "a" : "b" }));
    const view = frame(small, false);
    const minutes = (each: CellView): number => 20 - each.index;
    expect(labels(small, view, [100, 100], minutes).map((each) => each.minutes)).toEqual([20, 19, 18, 17]);
    expect(labels(small, view, [600, 100], minutes).map((each) => each.minutes)).toEqual([18, 17]);
  });
  it("has a letter for each edge", () => {
    expect([0, 25, 26, 27].map(letter)).toEqual(["A", "Z", "AA", "AB"]);
  });
});
