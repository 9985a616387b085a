/** Entries: made on the device, whole and checked before they are kept. */

import { KINDS, type Field } from "../contract";
import { isoText } from "./zone";

export type Payload = Record<string, unknown>;

/** An event as the server takes it. */
export interface Body {
  id: string;
  pour: string;
  kind: string;
  schema: number;
  at: string;
  recorded: string;
  device: string;
  role: string;
  person?: string;
  payload: Payload;
  corrects?: string;
  reason?: string;
  program?: string;
  rule_book?: string;
  seen?: Payload;
}

export type Standing = "waiting" | "sent" | "refused" | "clash";

export interface Mistake {
  key?: string;
  found?: string;
  allowed?: string;
  nearest?: string;
  message?: string;
}

/** An entry on this device with what became of it. */
export interface Entry {
  id: string;
  /** Order in which they were made here. */
  place: number;
  pour: string;
  body: Body;
  standing: Standing;
  /** Whether it may have reached the server: then it cannot simply be dropped. */
  tried: boolean;
  number: number | null;
  mistakes: Mistake[];
  /** How often the server's program failed at it, and what it said last; it waits and is tried again. */
  faults?: { count: number; said: string };
}

export interface Writer {
  pour: string;
  zone: string;
  device: string;
  role: string;
  person: string;
  /** The device's own clock, and how far it is ahead of the server; null where no server has told yet. */
  deviceNow: number;
  skewS: number | null;
}

/** A new name, also where the page is not in a secure context. */
export function newId(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((each) => each.toString(16).padStart(2, "0")).join("");
}

/**
 * A new event. `at`: when it happened, by the site's clock; none: now. A clock known to be wrong is put right here for
 * `at`, so that times on one ticket agree; `recorded` stays the device's own.
 */
export function newBody(
  writer: Writer,
  kind: string,
  payload: Payload,
  more: { at?: number; corrects?: string; reason?: string; seen?: Payload } = {},
): Body {
  const skew = writer.skewS ?? 0;
  const at = more.at ?? writer.deviceNow - (Math.abs(skew) >= 60 ? skew * 1000 : 0);
  return {
    id: newId(),
    pour: writer.pour,
    kind,
    schema: KINDS[kind]?.schema ?? 1,
    at: isoText(at, writer.zone),
    recorded: isoText(writer.deviceNow, writer.zone),
    device: writer.device,
    role: writer.role,
    ...(writer.person ? { person: writer.person } : {}),
    payload: Object.fromEntries(Object.entries(payload).filter(([, value]) => value !== null && value !== "")),
    ...(more.corrects ? { corrects: more.corrects } : {}),
    ...(more.reason ? { reason: more.reason } : {}),
    ...(more.seen ? { seen: more.seen } : {}),
    program: "wetfront app",
  };
}

export type Fault =
  | { key: string; what: "needed" }
  | { key: string; what: "no number" }
  | { key: string; what: "whole" }
  | { key: string; what: "range"; least: number | undefined; above: number | undefined; most: number | undefined }
  | { key: string; what: "length"; most: number }
  | { key: string; what: "choice" };

/** What is wrong with a payload by the same limits that the server holds, first field first. */
export function faults(kind: string, payload: Payload): Fault[] {
  const found: Fault[] = [];
  for (const [key, field] of Object.entries(KINDS[kind]?.fields ?? {})) {
    const fault = faultOf(key, field, payload[key]);
    if (fault) found.push(fault);
  }
  return found;
}

function faultOf(key: string, field: Field, value: unknown): Fault | null {
  if (value === undefined || value === null || value === "") return field.needed ? { key, what: "needed" } : null;
  switch (field.type) {
    case "text":
      return String(value).length > (field.most ?? Infinity) ? { key, what: "length", most: field.most! } : null;
    case "choice":
      return field.choices!.includes(String(value)) ? null : { key, what: "choice" };
    case "number":
    case "whole": {
      if (typeof value !== "number" || !Number.isFinite(value)) return { key, what: "no number" };
      if (field.type === "whole" && !Number.isInteger(value)) return { key, what: "whole" };
      const low = (field.least !== undefined && value < field.least) || (field.above !== undefined && value <= field.above);
      if (low || (field.most !== undefined && value > field.most))
        return { key, what: "range", least: field.least, above: field.above, most: field.most };
      return null;
    }
    default:
      return null;
  }
}

/** A number as a person writes it, with point or comma; null where it is none. */
export function numberOf(text: string): number | null {
  const clean = text.trim().replace(",", ".");
  return /^-?\d+(\.\d+)?$/.test(clean) ? Number(clean) : null;
}

/** The next ticket that a plant is likely to print: its last number and one. Empty where that is no number. */
export function nextTicket(tickets: readonly string[]): string {
  let best: RegExpExecArray | null = null;
  for (const ticket of tickets) {
    const found = /^(.*?)(\d{1,9})$/.exec(ticket);
    if (found && (!best || Number(found[2]) > Number(best[2]))) best = found;
  }
  return best ? stepTicket(best[0], 1) : "";
}

/** A ticket's number one up or down, leading zeros kept. */
export function stepTicket(ticket: string, by: number): string {
  const found = /^(.*?)(\d{1,9})$/.exec(ticket);
  if (!found) return ticket;
  return found[1]! + String(Math.max(0, Number(found[2]) + by)).padStart(found[2]!.length, "0");
}
