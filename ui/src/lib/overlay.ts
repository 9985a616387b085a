/**
 * The board with what this device has told and the server has not counted yet. It moves states and adds minutes that the
 * server gave; it forecasts nothing. What this device takes back of the record is gone at once as well: its state is that
 * of the entries that still stand.
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

/** `known`: the record as far as this device has it, for what is taken back of it. */
export function overlay(board: Board, entries: readonly Entry[], known: readonly Body[] = []): Shown {
  const mine = open(board, entries)
    .filter((each) => each.pour === board.pour)
    .sort((one, other) => one.place - other.place);
  const undone = new Set(mine.map((each) => each.body.corrects ?? ""));
  const draft: Draft = { board, unsent: new Set() };
  const stand = mine.filter((each) => !undone.has(each.id)).map((each) => each.body);
  for (const body of stand) {
    const target = body.kind === "withdrawn" ? known.find((each) => each.id === body.corrects) : undefined;
    if (target) takeBack(draft, target, standing([...known, ...stand]));
    else tell(draft, body);
  }
  return { ...draft.board, unsent: draft.unsent, uncounted: mine.length };
}

/** Entries that nothing takes the place of, in the order in which they happened. */
function standing(all: readonly Body[]): Body[] {
  const off = new Set<string>();
  // The newest first: a withdrawal that has been taken back itself takes nothing away.
  for (const each of [...all].reverse()) if (each.corrects && !off.has(each.id)) off.add(each.corrects);
  return all.filter((each) => each.kind !== "withdrawn" && !off.has(each.id)).sort((one, other) => Date.parse(one.at) - Date.parse(other.at));
}

/** Show the state without `body`: by what else stands of the same thing, else as nobody has told it. */
function takeBack(draft: Draft, body: Body, rest: readonly Body[]): void {
  const same = (key: string, ...kinds: string[]): Body[] =>
    rest.filter((each) => kinds.includes(each.kind) && each.payload[key] === body.payload[key]);
  const ticket = String(body.payload["ticket_number"] ?? "");
  const board = draft.board;
  switch (body.kind) {
    case "withdrawn": {
      const back = rest.find((each) => each.id === body.corrects);
      if (back) tell(draft, back);
      break;
    }
    case "check-recorded": {
      const item = String(body.payload["item"]);
      draft.unsent.add(`check ${item}`);
      draft.board = {
        ...board,
        checks: board.checks.map((each): CheckView => (each.item === item ? { ...each, result: "open", measured: "", note: "", by: "", at: null } : each)),
      };
      tellLast(draft, same("item", "check-recorded"));
      break;
    }
    case "hold-released":
    case "hold-overridden": {
      const id = String(body.payload["hold_point"]);
      draft.unsent.add(`hold ${id}`);
      const holds = board.holds.map((each): HoldView => (each.id === id ? { ...each, state: "open", by: "", at: null, why: "" } : each));
      draft.board = { ...board, holds, may_place: mayPlace(holds) };
      tellLast(draft, same("hold_point", "hold-released", "hold-overridden"));
      break;
    }
    case "load-arrived":
      if (same("ticket_number", "load-arrived").length) loadTold(draft, ticket, (load) => load);
      else draft.board = { ...board, loads: board.loads.filter((each) => each.ticket_number !== ticket) };
      break;
    case "load-decided":
      loadTold(draft, ticket, (load) => ({ ...load, decision: "", contested: false, state: load.state === "refused" ? "waiting" : load.state }));
      tellLast(draft, same("ticket_number", "load-decided"));
      break;
    case "load-placed":
      if (same("ticket_number", "load-placed").length) loadTold(draft, ticket, (load) => load);
      else notPlaced(draft, ticket);
      break;
    case "load-left":
      loadTold(draft, ticket, (load) => {
        const before = same("ticket_number", "load-placed").length ? "placed" : "waiting";
        return { ...load, state: load.state === "left" ? before : load.state };
      });
      break;
    case "placing-stopped":
    case "placing-restarted": {
      const last = rest.filter((each) => ["placing-stopped", "placing-restarted", "placing-ended"].includes(each.kind)).at(-1);
      draft.board = { ...board, stopped_since: last?.kind === "placing-stopped" ? last.at : null };
      break;
    }
    default:
      if (ticket) loadTold(draft, ticket, (load) => load);
  }
}

function tellLast(draft: Draft, stand: readonly Body[]): void {
  const last = stand.at(-1);
  if (last) tell(draft, last);
}

function notPlaced(draft: Draft, ticket: string): void {
  loadTold(draft, ticket, (load) => ({ ...load, state: load.state === "refused" ? "refused" : "waiting" }));
  const cells = draft.board.cells.map(
    (each): CellView =>
      each.ticket_number === ticket
        ? { ...each, state: "open", ticket_number: "", placed_at: null, edge_open: false, join_by_specification: null, join_by_setting: null }
        : each,
  );
  draft.board = { ...draft.board, cells };
}

function mayPlace(holds: readonly HoldView[]): boolean {
  return !holds.some((each) => each.before_placing && each.state === "open");
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
  return { ...board, holds, may_place: mayPlace(holds) };
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
