/**
 * The board with what this device has told and the server has not counted yet. It moves states and adds minutes that the
 * server gave; it forecasts nothing.
 */

import type { Board, CellView, CheckView, HoldView, LoadView } from "../contract";
import type { Body, Entry } from "./entries";

export interface Shown extends Board {
  /** Tickets, items and hold points about which this device knows more than the server. */
  readonly unsent: ReadonlySet<string>;
  /** Entries that the figures do not count yet. */
  readonly uncounted: number;
}

interface Draft {
  board: Board;
  unsent: Set<string>;
}

/** Entries that stand, and that the board does not rest on yet. */
export function open(board: Board | null, entries: readonly Entry[]): Entry[] {
  return entries.filter(
    (each) =>
      each.standing === "waiting" ||
      (each.standing === "sent" && each.number !== null && board !== null && each.number > board.records_count),
  );
}

export function overlay(board: Board, entries: readonly Entry[]): Shown {
  const mine = open(board, entries)
    .filter((each) => each.pour === board.pour)
    .sort((one, other) => one.place - other.place);
  const undone = new Set(mine.map((each) => each.body.corrects ?? ""));
  const draft: Draft = { board, unsent: new Set() };
  for (const each of mine) if (!undone.has(each.id)) tell(draft, each.body);
  return { ...draft.board, unsent: draft.unsent, uncounted: mine.length };
}

function tell(draft: Draft, body: Body): void {
  const p = body.payload;
  const text = (key: string): string => (typeof p[key] === "string" ? (p[key] as string) : "");
  const number = (key: string): number | null => (typeof p[key] === "number" ? (p[key] as number) : null);
  const board = draft.board;
  switch (body.kind) {
    case "check-recorded":
      draft.unsent.add(`check ${text("item")}`);
      draft.board = {
        ...board,
        checks: board.checks.map((each) =>
          each.item === text("item")
            ? {
                ...each,
                result: text("result") as CheckView["result"],
                measured: text("measured") || each.measured,
                note: text("note"),
                by: saidBy(body),
                at: body.at,
              }
            : each,
        ),
      };
      break;
    case "hold-released":
    case "hold-overridden":
      draft.unsent.add(`hold ${text("hold_point")}`);
      draft.board = holdTold(board, body, text("hold_point"), text("why"));
      break;
    case "load-arrived":
      loadTold(draft, text("ticket_number"), (load) => ({
        ...load,
        state: load.state === "planned" || load.state === "on the road" ? "waiting" : load.state,
        volume_m3: number("volume_m3") ?? load.volume_m3,
        arrives: null,
        expected_by: "",
        arrived: body.at,
        batched: text("batched") || load.batched,
        too_old_at: tooOldAt(board, text("batched")) ?? load.too_old_at,
      }));
      break;
    case "load-tested":
    case "added-on-site":
    case "specimens-made":
      loadTold(draft, text("ticket_number"), (load) =>
        body.kind === "specimens-made" ? { ...load, sample: text("sample_id") } : load,
      );
      break;
    case "load-decided":
      loadTold(draft, text("ticket_number"), (load) => ({
        ...load,
        decision: `${text("decision")} by ${saidBy(body)}`,
        state: text("decision") === "refuse" ? "refused" : load.state === "refused" ? "waiting" : load.state,
      }));
      break;
    case "load-placed":
      placed(draft, body, text("ticket_number"), text("place"));
      break;
    case "load-left":
      loadTold(draft, text("ticket_number"), (load) => ({ ...load, state: load.state === "refused" ? "refused" : "left" }));
      break;
    case "placing-stopped":
      draft.board = { ...board, stopped_since: board.stopped_since ?? body.at };
      break;
    case "placing-restarted":
      draft.board = { ...board, stopped_since: null };
      break;
  }
}

function saidBy(body: Body): string {
  return body.person ? `${body.role} (${body.person})` : body.role;
}

function tooOldAt(board: Board, batched: string): string | null {
  const most = board.limits.find((each) => each.quantity === "age")?.high;
  return batched && most ? new Date(Date.parse(batched) + most * 60_000).toISOString() : null;
}

function loadTold(draft: Draft, ticket: string, change: (load: LoadView) => LoadView): void {
  draft.unsent.add(`load ${ticket}`);
  const loads = [...draft.board.loads];
  let place = loads.findIndex((each) => each.ticket_number === ticket);
  if (place < 0) place = loads.findIndex((each) => each.ticket_number === "" && each.state === "on the road");
  if (place < 0) place = loads.findIndex((each) => each.ticket_number === "" && each.state === "planned");
  if (place < 0) {
    loads.push(unplanned(ticket, loads.length + 1));
    place = loads.length - 1;
  }
  loads[place] = change({ ...loads[place]!, ticket_number: ticket });
  draft.board = { ...draft.board, loads };
}

function unplanned(ticket: string, number: number): LoadView {
  return {
    number,
    ticket_number: ticket,
    state: "waiting",
    volume_m3: 0,
    arrives: null,
    expected_by: "",
    arrived: null,
    batched: null,
    too_old_at: null,
    verdict: "",
    rules_say: "",
    lacks: [],
    decision: "",
    contested: false,
    place: "",
    sample: "",
    cells: [],
    water_left_l: null,
  };
}

function holdTold(board: Board, body: Body, id: string, why: string): Board {
  const state = body.kind === "hold-released" ? "released" : "overridden";
  const holds = board.holds.map(
    (each): HoldView => (each.id === id ? { ...each, state, by: saidBy(body), at: body.at, why } : each),
  );
  return { ...board, holds, may_place: !holds.some((each) => each.before_placing && each.state === "open") };
}

function placed(draft: Draft, body: Body, ticket: string, place: string): void {
  const numbers = new Set(Array.isArray(body.payload["cells"]) ? (body.payload["cells"] as number[]) : []);
  loadTold(draft, ticket, (load) => ({
    ...load,
    state: load.state === "left" ? "left" : "placed",
    place,
    cells: numbers.size ? [...numbers] : load.cells,
  }));
  const wait = draft.board.may_wait_min;
  const join = wait === null ? null : new Date(Date.parse(body.at) + wait * 60_000).toISOString();
  const cells = draft.board.cells.map(
    (each): CellView =>
      numbers.has(each.index) && each.state === "open"
        ? {
            ...each,
            state: "placed",
            ticket_number: ticket,
            placed_at: body.at,
            edge_open: true,
            join_by_specification: join,
            join_by_setting: null,
          }
        : each,
  );
  draft.board = { ...draft.board, cells };
}
