/** The app's state: the board, the entries of this device, the clock, and the network that comes and goes. */

import { BOARD_SCHEMA, type Board } from "../contract";
import { clockJumped, corrected } from "./clock";
import { newBody, type Body, type Entry, type Payload } from "./entries";
import { overlay, type Shown } from "./overlay";
import { NoAnswer, Refused, Server, Trouble, type RecordTold } from "./server";
import { settings } from "./settings.svelte";
import { Shelf, type PourListed } from "./shelf";
import { sendAll } from "./sync";
import { isoText } from "./zone";

const TICK_MS = 1000;
const LOOK_MS = 20_000;
const BOARD_MS = 60_000;
const UNDO_MS = 12_000;
/** After trouble the next try by itself comes later each time, up to this. */
const LATEST_TRY_MS = 300_000;

/** One thing that a person tells. */
export interface Told {
  kind: string;
  payload: Payload;
  at?: number;
  corrects?: string;
  reason?: string;
  seen?: Payload;
}

export interface Undo {
  ids: string[];
  text: string;
}

class Live {
  pours = $state.raw<PourListed[]>([]);
  board = $state.raw<Board | null>(null);
  entries = $state.raw<Entry[]>([]);
  /** The record as far as this device has it. */
  records = $state.raw<RecordTold[]>([]);
  /** The device's clock, each second. */
  deviceNow = $state(Date.now());
  /** The server answered at the last try. */
  reached = $state(false);
  /** There is signal, and the server could not answer. */
  trouble = $state.raw<Trouble | null>(null);
  /** By the device's clock: when it is tried again by itself. */
  nextTry = $state(0);
  locked = $state(false);
  jumped = $state(false);
  ready = $state(false);
  /** The server is of a newer program than this app. */
  newer = $state(false);
  full = $state("");
  undo = $state.raw<Undo | null>(null);
  now = $derived(corrected(this.deviceNow, settings.skewS));
  shown: Shown | null = $derived(
    this.board ? overlay(this.board, this.entries, this.records.map((each) => each.event)) : null,
  );
  zone = $derived(this.board?.time_zone ?? this.pours.find((each) => each.pour === settings.pour)?.time_zone ?? "UTC");
  unsent = $derived(this.entries.filter((each) => each.standing === "waiting").length);
  /** What has been told of this pour, as far as this device has it. */
  told: Body[] = $derived([
    ...this.records.map((each) => each.event),
    ...this.entries.filter((each) => each.pour === settings.pour && each.standing === "waiting").map((each) => each.body),
  ]);
  parked = $derived(this.entries.filter((each) => each.standing === "refused" || each.standing === "clash"));

  readonly server = new Server(() => settings.code);
  shelf!: Shelf;
  private boardAt = 0;
  private busy: Promise<void> | null = null;
  private again = false;
  private following: AbortController | null = null;
  private undoEnds = 0;
  private inARow = 0;

  async start(): Promise<void> {
    this.shelf = await Shelf.open();
    void navigator.storage?.persist?.().catch(() => false);
    this.entries = await this.shelf.entries();
    this.pours = await this.shelf.pours();
    await this.look(settings.pour);
    this.ready = true;
    setInterval(() => this.tick(), TICK_MS);
    setInterval(() => {
      if (Date.now() >= this.nextTry) void this.sync();
    }, LOOK_MS);
    addEventListener("online", () => void this.sync());
    addEventListener("offline", () => {
      this.reached = false;
      this.trouble = null;
    });
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") void this.sync();
    });
    await this.sync();
    void this.follow();
  }

  private tick(): void {
    const device = Date.now();
    if (clockJumped(this.deviceNow, device)) this.jumped = true;
    this.deviceNow = device;
    if (this.undo && device > this.undoEnds) this.undo = null;
  }

  /** What this device has of a pour. */
  private async look(pour: string): Promise<void> {
    this.board = pour ? ((await this.shelf.board(pour)) ?? null) : null;
    this.records = pour ? await this.shelf.records(pour) : [];
  }

  /** Another pour: its last board at once, its new one as soon as there is signal. */
  async choose(pour: string): Promise<void> {
    settings.set("pour", pour);
    await this.look(pour);
    this.boardAt = 0;
    this.following?.abort();
    await this.sync();
  }

  /** Keep entries on this device, at once; they are sent when there is signal. */
  async tell(text: string, told: readonly Told[]): Promise<boolean> {
    const bodies = told.map(({ kind, payload, ...more }) => newBody(this.writer(), kind, payload, more));
    return this.keep(text, bodies);
  }

  writer(): Parameters<typeof newBody>[0] {
    return {
      pour: settings.pour,
      zone: this.zone,
      device: settings.device,
      role: settings.role,
      person: settings.person,
      deviceNow: Date.now(),
      skewS: settings.skewS,
    };
  }

  private async keep(text: string, bodies: Body[]): Promise<boolean> {
    try {
      const made = await this.shelf.add(bodies);
      this.entries = await this.shelf.entries();
      this.undo = { ids: made.map((each) => each.id), text };
      this.undoEnds = Date.now() + UNDO_MS;
      this.full = "";
    } catch (error) {
      this.full = String(error);
      return false;
    }
    void this.sync();
    return true;
  }

  /** Take the last act back: what has not left the device is dropped, what may have is withdrawn beside it. */
  async takeBack(): Promise<void> {
    const last = this.undo;
    this.undo = null;
    if (!last) return;
    const gone: string[] = [];
    for (const id of last.ids) if (await this.shelf.drop(id)) gone.push(id);
    const left = last.ids.filter((id) => !gone.includes(id));
    if (left.length)
      await this.shelf.add(left.map((id) => newBody(this.writer(), "withdrawn", {}, { corrects: id, reason: "undo" })));
    this.entries = await this.shelf.entries();
    void this.sync();
  }

  async putRight(id: string, body: Body): Promise<void> {
    await this.shelf.putRight(id, body);
    this.entries = await this.shelf.entries();
    void this.sync();
  }

  async leaveOut(id: string): Promise<void> {
    await this.shelf.drop(id);
    this.entries = await this.shelf.entries();
  }

  /** One at a time; a call during another is heard when that ends. */
  sync(): Promise<void> {
    if (this.busy) {
      this.again = true;
      return this.busy;
    }
    this.busy = this.run().finally(() => {
      this.busy = null;
      if (this.again) {
        this.again = false;
        void this.sync();
      }
    });
    return this.busy;
  }

  private async run(): Promise<void> {
    const locks = navigator.locks;
    if (locks) await locks.request("wetfront-sync", () => this.exchange());
    else await this.exchange();
  }

  private async exchange(): Promise<void> {
    // Certainly without network: an entry that has not been tried can still be taken back without a trace.
    if (navigator.onLine === false) {
      this.reached = false;
      this.trouble = null;
      return;
    }
    try {
      if (!settings.pour) await this.list();
      const outcome = await sendAll(this.shelf, this.server, settings.pour, () => isoText(Date.now(), this.zone));
      this.reached = outcome.reached;
      this.locked = outcome.locked;
      this.met(outcome.trouble);
      if (outcome.skewS !== null) {
        settings.setSkew(outcome.skewS);
        this.jumped = false;
      }
      this.entries = await this.shelf.entries();
      if (outcome.reached && !outcome.locked) await this.refresh();
    } catch (error) {
      if (error instanceof Refused) this.locked = error.status === 401 || error.status === 403;
      else if (!(error instanceof NoAnswer || error instanceof Trouble)) throw error;
      this.reached = error instanceof Refused;
      this.met(error instanceof Trouble ? error : null);
    }
  }

  /** What the last exchange met: each trouble in a row doubles the time until the next try. */
  private met(trouble: Trouble | null): void {
    // The network can have gone while the answer was on its way.
    this.trouble = navigator.onLine === false ? null : trouble;
    this.inARow = trouble ? this.inARow + 1 : 0;
    this.nextTry = trouble ? Date.now() + Math.min(LOOK_MS * 2 ** this.inARow, LATEST_TRY_MS) : 0;
  }

  private async list(): Promise<void> {
    const { pours } = await this.server.pours();
    this.pours = pours;
    await this.shelf.keepPours(pours);
    if (!pours.some((each) => each.pour === settings.pour) && pours.length === 1) settings.set("pour", pours[0]!.pour);
  }

  private async refresh(): Promise<void> {
    await this.list();
    const mine = open(this.entries, this.board, settings.pour);
    if (settings.pour && (mine || Date.now() - this.boardAt > BOARD_MS || this.stale)) {
      const board = await this.server.board(settings.pour);
      this.newer = board.schema > BOARD_SCHEMA;
      if (this.newer) return;
      if (board.pour !== settings.pour) return;
      this.boardAt = Date.now();
      this.stale = false;
      this.board = board;
      await this.shelf.keepBoard(board);
      await this.fetchRecords(board.pour);
      await this.shelf.forgetSent(board.pour, board.records_count);
      this.entries = await this.shelf.entries();
    }
  }

  private async fetchRecords(pour: string): Promise<void> {
    const { records } = await this.server.records(pour, this.records.at(-1)?.number ?? 0);
    if (!records.length || pour !== settings.pour) return;
    this.records = [...this.records, ...records];
    await this.shelf.keepRecords(pour, this.records);
  }

  private stale = true;

  /** Listen for the record growing on the server, again and again. */
  private async follow(): Promise<void> {
    for (;;) {
      this.following = new AbortController();
      try {
        if (settings.pour && !this.locked)
          await this.server.follow(
            settings.pour,
            () => {
              this.stale = true;
              void this.sync();
            },
            this.following.signal,
          );
      } catch {
        // No signal: the timer of `sync` looks again as well.
      }
      await new Promise((done) => setTimeout(done, 5000));
    }
  }
}

/** Whether the server has entries of this device that the board does not rest on yet. */
function open(entries: readonly Entry[], board: Board | null, pour: string): boolean {
  return entries.some(
    (each) => each.pour === pour && each.standing === "sent" && (each.number ?? 0) > (board?.records_count ?? -1),
  );
}

export const live = new Live();
