/** An entry in one line of words. */

import type { Body } from "./entries";
import { clock, figure, named } from "./words.svelte";

/** Fields that a person does not read: numbers of cells and hashes. */
const HIDDEN = new Set(["cells", "lattice", "sha256", "size_bytes", "media_type", "rules_said"]);

export function said(body: Body): string {
  return Object.entries(body.payload)
    .filter(([key]) => !HIDDEN.has(key))
    .map(([key, value]) => {
      const moment = typeof value === "string" && /^\d{4}-\d\d-\d\dT/.test(value);
      const text = moment ? clock(value) : typeof value === "number" ? figure(value, 2) : named("choice", String(value));
      return `${named("field", key)}: ${typeof value === "string" && !moment && key !== "cause" && key !== "decision" && key !== "test" && key !== "substance" && key !== "step" && key !== "order" && key !== "result" && key !== "portion" ? value : text}`;
    })
    .join(" · ");
}
