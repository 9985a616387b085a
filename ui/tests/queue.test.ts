import "fake-indexeddb/auto";
import { beforeEach, describe, expect, it } from "vitest";
import { BOARD_SCHEMA, type Board } from "../src/contract";
import type { Body } from "../src/lib/entries";
import { NoAnswer, Refused, Trouble, type Told } from "../src/lib/server";
import { Shelf } from "../src/lib/shelf";
import { sendAll, type Sender } from "../src/lib/sync";

let shelf: Shelf;
let names = 0;
beforeEach(async () => {
  shelf = await Shelf.open(`test-${names++}`);
});

const body = (id: string, pour = "slab"): Body => ({
  id, pour, kind: "noted", schema: 1, at: "2027-06-17T11:06:00+01:00", recorded: "2027-06-17T11:06:00+01:00", device: "d", role: "tester", payload: { text: id },
});

/** A server that keeps each id once, refuses what is told "bad", and loses answers when told to. */
class Twin implements Sender {
  kept = new Map<string, string>();
  sent = 0;
  lose = 0;
  whole = false;
  async events(_: string, __: string, events: readonly Body[]): Promise<Told> {
    this.sent += 1;
    if (this.whole && events.length > 1) throw new Refused(422, "The request has mistakes", []);
    if (this.whole && events[0]?.payload["text"] === "bad") throw new Refused(422, "The request has mistakes", []);
    const results = events.map((each): Told["results"][number] => {
      if (each.payload["text"] === "bad") return { id: each.id, outcome: "refused", number: null, errors: [{ key: "payload.text", allowed: "good words" }] };
      const before = this.kept.get(each.id);
      const now = JSON.stringify(each);
      if (before === undefined) this.kept.set(each.id, now);
      const outcome = before === undefined ? "new" : before === now ? "known" : "clash";
      return { id: each.id, outcome, number: [...this.kept.keys()].indexOf(each.id) + 1, errors: [] };
    });
    if (this.lose-- > 0) throw new NoAnswer();
    return { results, skew_s: 12, last_number: this.kept.size };
  }
  async putPhoto(): Promise<void> {}
}

const standings = async (): Promise<string[]> => (await shelf.entries()).map((each) => `${each.id} ${each.standing}`);

describe("the queue", () => {
  it("sends each entry once, in the order in which they were made, and learns the clock", async () => {
    const twin = new Twin();
    await shelf.add([body("a"), body("b")]);
    await shelf.add([body("c")]);
    const outcome = await sendAll(shelf, twin, "slab", () => "now");
    expect(outcome).toEqual({ reached: true, locked: false, trouble: null, skewS: 12 });
    expect([...twin.kept.keys()]).toEqual(["a", "b", "c"]);
    await sendAll(shelf, twin, "slab", () => "now");
    expect(twin.kept.size).toBe(3);
    expect(await standings()).toEqual(["a sent", "b sent", "c sent"]);
  });
  it("sends again when the answer is lost, and the entry counts once", async () => {
    const twin = new Twin();
    twin.lose = 1;
    await shelf.add([body("a")]);
    expect((await sendAll(shelf, twin, "slab", () => "now")).reached).toBe(false);
    expect(await standings()).toEqual(["a waiting"]);
    expect(await shelf.drop("a")).toBe(false);
    await sendAll(shelf, twin, "slab", () => "now");
    expect([twin.kept.size, await standings()]).toEqual([1, ["a sent"]]);
  });
  it("parks a refused entry and lets the others pass; put right it goes under its own id", async () => {
    const twin = new Twin();
    await shelf.add([body("a"), { ...body("b"), payload: { text: "bad" } }, body("c")]);
    await sendAll(shelf, twin, "slab", () => "now");
    expect(await standings()).toEqual(["a sent", "b refused", "c sent"]);
    await shelf.putRight("b", body("b"));
    await sendAll(shelf, twin, "slab", () => "now");
    expect(await standings()).toEqual(["a sent", "b sent", "c sent"]);
  });
  it("sends one by one when a whole parcel comes back", async () => {
    const twin = new Twin();
    twin.whole = true;
    await shelf.add([body("a"), { ...body("b"), payload: { text: "bad" } }, body("c")]);
    await sendAll(shelf, twin, "slab", () => "now");
    expect(await standings()).toEqual(["a sent", "b refused", "c sent"]);
  });
  it("keeps an entry at which the server's program fails, says which, and lets the others pass", async () => {
    const twin = new Twin();
    const takes = twin.events.bind(twin);
    twin.events = async (pour, now, events) => {
      if (events.some((each) => each.payload["text"] === "poison")) throw new Trouble(500, "A fault of the program");
      return takes(pour, now, events);
    };
    await shelf.add([body("a"), { ...body("b"), payload: { text: "poison" } }, body("c")]);
    const outcome = await sendAll(shelf, twin, "slab", () => "now");
    expect([outcome.reached, outcome.trouble?.kind, outcome.skewS]).toEqual([true, "fault", 12]);
    expect(await standings()).toEqual(["a sent", "b waiting", "c sent"]);
    await sendAll(shelf, twin, "slab", () => "now");
    expect((await shelf.waiting())[0]!.faults).toEqual({ count: 2, said: "A fault of the program" });
    twin.events = takes;
    expect((await sendAll(shelf, twin, "slab", () => "now")).trouble).toBeNull();
    expect(await standings()).toEqual(["a sent", "b sent", "c sent"]);
  });
  it("keeps everything while the server is away behind its gateway, and blames no entry", async () => {
    const twin = new Twin();
    let asked = 0;
    twin.events = async () => {
      asked += 1;
      throw new Trouble(503, "away");
    };
    await shelf.add([body("a"), body("b")]);
    expect(await sendAll(shelf, twin, "slab", () => "now")).toMatchObject({ reached: false, trouble: { kind: "away" } });
    expect(asked).toBe(1);
    expect((await shelf.waiting()).map((each) => each.faults)).toEqual([undefined, undefined]);
  });
  it("drops what has never left the device, and nothing else", async () => {
    await shelf.add([body("a")]);
    expect(await shelf.drop("a")).toBe(true);
    expect(await shelf.entries()).toEqual([]);
  });
  it("keeps entries and half-written forms through a closed program", async () => {
    await shelf.add([body("a")]);
    await shelf.keepDraft("load:slab:4117", { slump: 95 });
    shelf.close();
    const again = await Shelf.open(`test-${names - 1}`);
    expect((await again.waiting()).map((each) => each.id)).toEqual(["a"]);
    expect(await again.draft("load:slab:4117")).toEqual({ slump: 95 });
  });
  it("waits for a code instead of giving entries up", async () => {
    const twin = new Twin();
    twin.events = async () => {
      throw new Refused(401, "Code wanted", []);
    };
    await shelf.add([body("a")]);
    expect(await sendAll(shelf, twin, "slab", () => "now")).toMatchObject({ reached: true, locked: true });
    expect(await standings()).toEqual(["a waiting"]);
  });
  it("sends entries of other pours to their own", async () => {
    const twin = new Twin();
    await shelf.add([body("a", "wall"), body("b", "slab")]);
    await sendAll(shelf, twin, "slab", () => "now");
    expect(twin.sent).toBe(2);
    expect(await standings()).toEqual(["a sent", "b sent"]);
  });
  it("shows no board that a program of another schema kept", async () => {
    await shelf.keepBoard({ pour: "slab", schema: BOARD_SCHEMA } as Board);
    expect(await shelf.board("slab")).toBeDefined();
    await shelf.keepBoard({ pour: "slab", schema: BOARD_SCHEMA - 1 } as Board);
    expect(await shelf.board("slab")).toBeUndefined();
  });
});
