/** What the code on a delivery ticket says: a number alone, or keys and values as JSON. */

import { KINDS } from "../contract";

export interface TicketRead {
  /** Values by the keys of a load's arrival. */
  readonly values: Readonly<Record<string, string | number>>;
  /** What could not be placed, as it stood. */
  readonly rest: string;
}

/** The text of a code as values for the form; what is not understood stays readable in `rest`. */
export function readTicket(text: string): TicketRead {
  const clean = text.trim();
  if (clean.startsWith("{")) {
    try {
      return fromKeys(JSON.parse(clean) as Record<string, unknown>);
    } catch {
      return { values: {}, rest: clean };
    }
  }
  return /^[\w./-]{1,60}$/.test(clean) ? { values: { ticket_number: clean }, rest: "" } : { values: {}, rest: clean };
}

function fromKeys(told: Record<string, unknown>): TicketRead {
  const fields = KINDS["load-arrived"]!.fields;
  const values: Record<string, string | number> = {};
  const rest: string[] = [];
  for (const [key, value] of Object.entries(told)) {
    const field = fields[key];
    const wanted = field?.type === "number" ? "number" : "string";
    const stamp = field?.type === "moment" && !(typeof value === "string" && /(Z|[+-]\d\d:\d\d)$/.test(value));
    if (field && typeof value === wanted && !stamp) values[key] = value as string | number;
    else rest.push(`${key}: ${String(value)}`);
  }
  return { values, rest: rest.join(", ") };
}
