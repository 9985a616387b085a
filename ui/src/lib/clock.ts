/** Clocks: the app only adds and subtracts moments that the server has sent. */

const MINUTE = 60_000;

/** The site's time by a device whose clock is `skewS` seconds ahead of the server. */
export function corrected(device: number, skewS: number | null): number {
  return device - (skewS ?? 0) * 1000;
}

/** Whole minutes until a moment, on the cautious side: 11 min 50 s left are 11; what has run out by 10 s is -1. */
export function minutesLeft(moment: string, now: number): number {
  return Math.floor((Date.parse(moment) - now) / MINUTE);
}

/** Whole minutes since a moment; at least 0. */
export function minutesSince(moment: number | string, now: number): number {
  const at = typeof moment === "number" ? moment : Date.parse(moment);
  return Math.max(0, Math.floor((now - at) / MINUTE));
}

/** Half a minute of waiting for a tick is no jump; a clock set back or far ahead is. */
export function clockJumped(before: number, after: number): boolean {
  return after < before - 30_000;
}

/** The earlier of two moments, of which each may be missing. */
export function earlier(one: string | null | undefined, other: string | null | undefined): string | null {
  if (!one) return other ?? null;
  if (!other) return one;
  return Date.parse(one) <= Date.parse(other) ? one : other;
}
