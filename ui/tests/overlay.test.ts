import { describe, expect, it } from "vitest";
import type { Board, CellView, LoadView } from "../src/contract";
import type { Entry } from "../src/lib/entries";
import { overlay } from "../src/lib/overlay";

const load = (number: number, ticket: string, state: LoadView["state"]): LoadView => ({
  number, ticket_number: ticket, state, volume_m3: 8, arrives: null, expected_by: "", arrived: null, batched: null, too_old_at: null, verdict: "",
  rules_say: "", lacks: [],
  decision: "", contested: false, place: "B2", sample: "", cells: [0], water_left_l: null,
});
const cell: CellView = {
  index: 0, element: "B", place: "B2", outline_m: [], layer: 0, volume_m3: 4, state: "open", ticket_number: "", placed_at: null, edge_open: false,
  join_by_specification: null, join_by_setting: null,
};
const board = {
  pour: "slab", records_count: 5, stopped_since: null, may_wait_min: 75, may_place: false,
  loads: [load(1, "4114", "discharging"), load(2, "", "planned"), load(3, "", "planned")],
  cells: [cell],
  checks: [{ item: "C2", result: "open", measured: "", note: "", by: "", at: null }],
  holds: [{ id: "H1", state: "open", before_placing: true, by: "", at: null, why: "" }, { id: "H4", state: "open", before_placing: false, by: "", at: null, why: "" }],
  limits: [{ quantity: "age", low: null, high: 120, unit: "min", whose: "project" }],
} as unknown as Board;

let place = 0;
const entry = (kind: string, payload: Record<string, unknown>, more: Partial<Entry> = {}): Entry => {
  place += 1;
  const id = `e${place}`;
  return {
    id, place, pour: "slab", standing: "waiting", tried: false, number: null, mistakes: [],
    body: { id, pour: "slab", kind, schema: 1, at: "2027-06-17T11:06:00+01:00", recorded: "2027-06-17T11:06:00+01:00", device: "d", role: "tester", payload },
    ...more,
  };
};

describe("what this device knows and the board does not", () => {
  it("shows an arrival in the place of the next planned load, with its age limit added", () => {
    const shown = overlay(board, [entry("load-arrived", { ticket_number: "4115", volume_m3: 7, batched: "2027-06-17T10:08:00+01:00" })]);
    expect(shown.loads.map((each) => [each.ticket_number, each.state])).toEqual([["4114", "discharging"], ["4115", "waiting"], ["", "planned"]]);
    expect(Date.parse(shown.loads[1]!.too_old_at!)).toBe(Date.parse("2027-06-17T12:08:00+01:00"));
    expect(shown.unsent.has("load 4115")).toBe(true);
    expect(shown.uncounted).toBe(1);
  });
  it("starts a joint clock by adding the minutes that the server gave, and none where it gave none", () => {
    const told = [entry("load-placed", { ticket_number: "4114", place: "B2", cells: [0] })];
    expect(Date.parse(overlay(board, told).cells[0]!.join_by_specification!)).toBe(Date.parse("2027-06-17T12:21:00+01:00"));
    expect(overlay({ ...board, may_wait_min: null }, told).cells[0]!.join_by_specification).toBeNull();
  });
  it("stops and restarts", () => {
    const stop = entry("placing-stopped", { cause: "blockage" });
    expect(overlay(board, [stop]).stopped_since).toBe("2027-06-17T11:06:00+01:00");
    expect(overlay(board, [stop, entry("placing-restarted", {})]).stopped_since).toBeNull();
  });
  it("lets placing begin when the last hold point before it is released, not before", () => {
    expect(overlay(board, []).may_place).toBe(false);
    expect(overlay(board, [entry("hold-released", { hold_point: "H4" })]).may_place).toBe(false);
    expect(overlay(board, [entry("hold-released", { hold_point: "H1" })]).may_place).toBe(true);
  });
  it("counts a sent entry until the board rests on it, and a refused one never", () => {
    const payload = { cause: "rain" };
    expect(overlay(board, [entry("placing-stopped", payload, { standing: "sent", number: 6 })]).stopped_since).not.toBeNull();
    expect(overlay(board, [entry("placing-stopped", payload, { standing: "sent", number: 5 })]).stopped_since).toBeNull();
    expect(overlay(board, [entry("placing-stopped", payload, { standing: "refused" })]).stopped_since).toBeNull();
  });
  it("leaves out what has been withdrawn on this device", () => {
    const stop = entry("placing-stopped", { cause: "pump" });
    const back = entry("withdrawn", {});
    back.body.corrects = stop.id;
    expect(overlay(board, [stop, back]).stopped_since).toBeNull();
  });
  it("shows a check as this device found it", () => {
    const shown = overlay(board, [entry("check-recorded", { item: "C2", result: "pass", measured: "3" })]);
    expect(shown.checks[0]).toMatchObject({ result: "pass", measured: "3", by: "tester" });
  });
  it("shows at once what is taken back of the record, by what else stands of it", () => {
    const told = (kind: string, payload: Record<string, unknown>, at = "2027-06-17T11:00:00+01:00") => ({ ...entry(kind, payload).body, at });
    const back = (target: { id: string }) => {
      const made = entry("withdrawn", {});
      made.body.corrects = target.id;
      return made;
    };
    const stop = told("placing-stopped", { cause: "pump" });
    const stopped = { ...board, stopped_since: stop.at };
    const first = back(stop);
    expect(overlay(stopped, [first], [stop]).stopped_since).toBeNull();
    expect(overlay(stopped, [first], [stop]).uncounted).toBe(1);
    const again = back(first.body);
    expect(overlay(stopped, [first, again], [stop]).stopped_since).toBe(stop.at);
    const restart = told("placing-restarted", {}, "2027-06-17T11:30:00+01:00");
    expect(overlay(board, [back(restart)], [stop, restart]).stopped_since).toBe(stop.at);

    const check = told("check-recorded", { item: "C2", result: "fail" });
    const older = told("check-recorded", { item: "C2", result: "pass" }, "2027-06-17T10:00:00+01:00");
    const failed = { ...board, checks: [{ ...board.checks[0]!, result: "fail" }] } as unknown as Board;
    expect(overlay(failed, [back(check)], [check]).checks[0]).toMatchObject({ result: "open", at: null });
    expect(overlay(failed, [back(check)], [older, check]).checks[0]).toMatchObject({ result: "pass" });

    const release = told("hold-released", { hold_point: "H1" });
    const free = { ...board, may_place: true, holds: [{ ...board.holds[0]!, state: "released" }, board.holds[1]!] } as unknown as Board;
    expect(overlay(free, [back(release)], [release])).toMatchObject({ may_place: false, holds: [{ state: "open" }, {}] });

    const placing = told("load-placed", { ticket_number: "4114", place: "B2" });
    const full = { ...board, cells: [{ ...cell, state: "placed", ticket_number: "4114", placed_at: placing.at, edge_open: true }] } as Board;
    const shown = overlay(full, [back(placing)], [placing]);
    expect(shown.cells[0]).toMatchObject({ state: "open", ticket_number: "", edge_open: false });
    expect(shown.loads[0]).toMatchObject({ state: "waiting", ticket_number: "4114" });
    expect(shown.unsent.has("load 4114")).toBe(true);
    const arrival = told("load-arrived", { ticket_number: "4114" });
    expect(overlay(board, [back(arrival)], [arrival]).loads.map((each) => each.ticket_number)).toEqual(["", ""]);
  });
});
