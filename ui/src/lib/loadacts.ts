/** What a person tells of a load, as entries. */

import type { Board, LimitView, LoadView } from "../contract";
import type { Body } from "./entries";
import { live } from "./live.svelte";
import { recorded, t } from "./words.svelte";

/** Places of a load's planned cells with their cells; a load without cells goes where its text says. */
export function placings(board: Board, load: LoadView): { place: string; cells: number[]; volume_m3: number | null }[] {
  const by: Record<string, { cells: number[]; volume_m3: number }> = {};
  for (const cell of board.cells)
    if (load.cells.includes(cell.index)) {
      const part = (by[cell.place] ??= { cells: [], volume_m3: 0 });
      part.cells.push(cell.index);
      part.volume_m3 += cell.volume_m3;
    }
  const parts = Object.entries(by);
  if (!parts.length) return [{ place: load.place, cells: [], volume_m3: null }];
  // The last part is the rest of the load, so that parts never add up to another load than the ticket's.
  return parts.map(([place, part], at) => ({
    place,
    cells: part.cells,
    volume_m3: at === parts.length - 1 ? null : Math.round(part.volume_m3 * 100) / 100,
  }));
}

/** Whether a placed load can be told with one touch: nothing stands against it but what a look at the ticket settles. */
export function maySaveAsPlanned(load: LoadView): boolean {
  return !blocked() && !load.contested && (load.rules_say === "" || load.rules_say === "accept" || unread(load));
}

/** The server waits for nothing but what stands on the ticket: whoever accepts the load says that they read it. */
export function unread(load: LoadView): boolean {
  return load.lacks.length > 0 && !accepted(load);
}

/** What the button of the one touch says. */
export function oneTouch(load: LoadView): string {
  return t(accepted(load) ? "placed_now" : unread(load) ? "ticket_read_placed" : "accepted_placed", { place: load.place });
}

/** Id of what stands about a load's arrival, by the record and by this device; its payload; its moment. */
export function arrivalOf(told: readonly Body[], ticket: string): Body | undefined {
  const gone = new Set(told.map((each) => each.corrects));
  return told.filter((each) => each.kind === "load-arrived" && each.payload["ticket_number"] === ticket && !gone.has(each.id)).at(-1);
}

/** Ids of the hold points that stand before placing and are open. */
export function blocked(): boolean {
  return live.shown !== null && live.shown.holds.some((each) => each.before_placing && each.state === "open");
}

export function arrivedAsPlanned(load: LoadView, ticket: string): Promise<boolean> {
  return live.tell(t("told_arrived", { ticket }), [
    { kind: "load-arrived", payload: { ticket_number: ticket, volume_m3: load.volume_m3 } },
  ]);
}

/** Somebody has accepted it before. */
export function accepted(load: LoadView): boolean {
  return load.decision.startsWith("accept");
}

export function acceptedAndPlaced(load: LoadView): Promise<boolean> {
  const board = live.shown!;
  const decision = {
    kind: "load-decided",
    payload: {
      ticket_number: load.ticket_number,
      decision: "accept",
      rules_said: load.verdict.slice(0, 400),
      ...(unread(load) ? { why: recorded("ticket_was_read") } : {}),
    },
    seen: seen(load),
  };
  return live.tell(t("told_placed", { ticket: load.ticket_number, place: load.place }), [
    ...(accepted(load) ? [] : [decision]),
    ...placings(board, load).map((part) => ({
      kind: "load-placed",
      payload: {
        ticket_number: load.ticket_number,
        ...part,
        ...(part.cells.length ? { lattice: board.lattice } : { cells: null }),
      },
    })),
  ]);
}

/** What the person had on the screen when deciding. */
export function seen(load: LoadView): Record<string, unknown> {
  return {
    board_of: live.board?.made_at ?? "",
    ...(load.too_old_at ? { too_old_at: load.too_old_at } : {}),
    ...(load.verdict ? { verdict: load.verdict } : {}),
  };
}

/** A reading held against its limit: where it lies, and by how much it is out. */
export function against(value: number, limit: LimitView): "under" | "over" | "within" {
  if (limit.low !== null && value < limit.low) return "under";
  return limit.high !== null && value > limit.high ? "over" : "within";
}

/** Loads that are not here yet, the next one first. */
export function comingLoads(board: Board): LoadView[] {
  const rank = (load: LoadView): number => (load.state === "on the road" ? 0 : 1);
  return board.loads
    .filter((each) => each.state === "on the road" || each.state === "planned")
    .sort((one, other) => rank(one) - rank(other) || one.number - other.number);
}

/** The limit of one kind of reading; none where nothing is in force. */
export function limitOf(board: Board, quantity: LimitView["quantity"]): LimitView | undefined {
  return board.limits.find((each) => each.quantity === quantity);
}

/** Whether the present concrete of a load has been tested so: after an addition it is another sample. */
export function testedBefore(told: readonly Body[], ticket: string, test: string): boolean {
  const gone = new Set(told.map((each) => each.corrects));
  const mine = told.filter((each) => each.payload["ticket_number"] === ticket && !gone.has(each.id));
  const added = Math.max(-Infinity, ...mine.filter((each) => each.kind === "added-on-site").map((each) => Date.parse(each.at)));
  return mine.some((each) => each.kind === "load-tested" && each.payload["test"] === test && Date.parse(each.at) >= added);
}
