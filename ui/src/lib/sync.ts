/** Sending what waits: each entry exactly once, a bad one never in the way of the others. */

import type { Body, Entry } from "./entries";
import { NoAnswer, Refused, Trouble, type Told } from "./server";
import type { Shelf } from "./shelf";

export interface Sender {
  events(pour: string, deviceNow: string, events: readonly Body[]): Promise<Told>;
  putPhoto(sha256: string, content: Blob): Promise<void>;
}

export interface Outcome {
  reached: boolean;
  /** The server wants an access code that this device does not have. */
  locked: boolean;
  /** Something answered, and could not: entries wait, and are to be tried again later. */
  trouble: Trouble | null;
  skewS: number | null;
}

const AT_ONCE = 200;

/** Send everything that waits, by pour. Asks for the clock of `pour` even when nothing waits for it. */
export async function sendAll(shelf: Shelf, sender: Sender, pour: string, deviceNow: () => string): Promise<Outcome> {
  const outcome: Outcome = { reached: false, locked: false, trouble: null, skewS: null };
  const waiting = await shelf.waiting();
  const pours = [...new Set([pour, ...waiting.map((each) => each.pour)])].filter(Boolean);
  try {
    for (const name of pours) {
      const mine = waiting.filter((each) => each.pour === name);
      for (let first = 0; first === 0 || first < mine.length; first += AT_ONCE)
        outcome.skewS = (await sendSome(shelf, sender, name, mine.slice(first, first + AT_ONCE), deviceNow, outcome)) ?? outcome.skewS;
    }
    await sendPhotos(shelf, sender, outcome);
    outcome.reached = true;
  } catch (error) {
    if (error instanceof Refused && (error.status === 401 || error.status === 403)) {
      outcome.reached = true;
      outcome.locked = true;
    } else if (error instanceof Trouble) {
      outcome.trouble = error;
    } else if (!(error instanceof NoAnswer)) throw error;
  }
  return outcome;
}

/** Whether the answer is about the whole server, and not about what was sent. */
function aboutTheServer(error: unknown): boolean {
  if (error instanceof Refused) return error.status === 401 || error.status === 403;
  return !(error instanceof Trouble) || error.kind !== "fault";
}

async function sendSome(
  shelf: Shelf,
  sender: Sender,
  pour: string,
  some: Entry[],
  deviceNow: () => string,
  outcome: Outcome,
): Promise<number | null> {
  await shelf.trying(some.map((each) => each.id));
  let told: Told;
  try {
    told = await sender.events(
      pour,
      deviceNow(),
      some.map((each) => each.body),
    );
  } catch (error) {
    if (aboutTheServer(error) || !some.length) {
      if (error instanceof Refused && !aboutTheServer(error)) return null;
      throw error;
    }
    // The whole parcel came back: send each alone, so that only the bad one is parked or waits.
    if (some.length > 1) {
      let skew: number | null = null;
      for (const each of some) skew = (await sendSome(shelf, sender, pour, [each], deviceNow, outcome)) ?? skew;
      return skew;
    }
    if (error instanceof Trouble) {
      outcome.trouble = error;
      await shelf.failedAt(some[0]!.id, error.title);
    } else if (error instanceof Refused) await shelf.became(some[0]!.id, "refused", null, error.mistakes.length ? error.mistakes : [{ message: error.title }]);
    return null;
  }
  for (const [place, entry] of some.entries()) {
    const result = told.results[place];
    if (!result) continue;
    const standing = result.outcome === "refused" || result.outcome === "clash" ? result.outcome : "sent";
    await shelf.became(entry.id, standing, result.number, result.errors ?? []);
  }
  return told.skew_s;
}

async function sendPhotos(shelf: Shelf, sender: Sender, outcome: Outcome): Promise<void> {
  for (const photo of await shelf.photos()) {
    if (photo.standing !== "waiting") continue;
    try {
      await sender.putPhoto(photo.sha256, photo.content);
      await shelf.keepPhoto({ ...photo, standing: "sent", why: "" });
    } catch (error) {
      if (aboutTheServer(error)) throw error;
      if (error instanceof Trouble) outcome.trouble = error;
      else if (error instanceof Refused) await shelf.keepPhoto({ ...photo, standing: "refused", why: error.title });
    }
  }
}
