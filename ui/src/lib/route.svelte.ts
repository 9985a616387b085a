/** Where the person is: in the address, and kept, so that a screen opened again is the one that was left. */

import type { Phase } from "../contract";

export const PHASES: readonly Phase[] = ["plan", "ready", "pour", "cure", "prove"];
const KEPT = "wetfront.where";

class Route {
  parts = $state.raw<readonly string[]>([]);

  start(phase: Phase | undefined): void {
    if (!location.hash.startsWith("#/")) {
      const kept = localStorage.getItem(KEPT);
      history.replaceState(null, "", kept ?? `#/${phase ?? "plan"}`);
    }
    this.read();
    addEventListener("hashchange", () => this.read());
  }

  private read(): void {
    this.parts = location.hash.replace(/^#\/?/, "").split("/").map(decodeURIComponent);
    localStorage.setItem(KEPT, location.hash);
  }
}

export const route = new Route();

export function href(...parts: string[]): string {
  return `#/${parts.map(encodeURIComponent).join("/")}`;
}

export function go(...parts: string[]): void {
  location.hash = href(...parts);
}
