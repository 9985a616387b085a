/** What this device keeps: entries, photos, half-written forms and the last boards, in IndexedDB. */

import { openDB, type DBSchema, type IDBPDatabase } from "idb";
import { BOARD_SCHEMA, type Board } from "../contract";
import type { Body, Entry, Mistake, Standing } from "./entries";
import type { RecordTold } from "./server";

export interface PourListed {
  pour: string;
  title: string;
  date: string;
  project: string;
  time_zone: string;
}

export interface KeptPhoto {
  sha256: string;
  content: Blob;
  standing: "waiting" | "sent" | "refused";
  why: string;
}

interface Shelves extends DBSchema {
  entries: { key: string; value: Entry; indexes: { place: number } };
  photos: { key: string; value: KeptPhoto };
  drafts: { key: string; value: { key: string; value: unknown } };
  boards: { key: string; value: Board };
  lists: { key: string; value: { key: string; value: unknown } };
}

export class Shelf {
  private constructor(private readonly db: IDBPDatabase<Shelves>) {}

  static async open(name = "wetfront"): Promise<Shelf> {
    const db = await openDB<Shelves>(name, 1, {
      upgrade(made) {
        made.createObjectStore("entries", { keyPath: "id" }).createIndex("place", "place");
        made.createObjectStore("photos", { keyPath: "sha256" });
        made.createObjectStore("drafts", { keyPath: "key" });
        made.createObjectStore("boards", { keyPath: "pour" });
        made.createObjectStore("lists", { keyPath: "key" });
      },
    });
    return new Shelf(db);
  }

  close(): void {
    this.db.close();
  }

  /** Keep new entries, all or none, on disk before this returns. */
  async add(bodies: readonly Body[]): Promise<Entry[]> {
    const kept = this.db.transaction("entries", "readwrite", { durability: "strict" });
    const last = await kept.store.index("place").openCursor(null, "prev");
    let place = last?.value.place ?? 0;
    const made = bodies.map((body): Entry => {
      place += 1;
      return { id: body.id, place, pour: body.pour, body, standing: "waiting", tried: false, number: null, mistakes: [] };
    });
    await Promise.all([...made.map((each) => kept.store.add(each)), kept.done]);
    return made;
  }

  async entries(): Promise<Entry[]> {
    return this.db.getAllFromIndex("entries", "place");
  }

  async waiting(): Promise<Entry[]> {
    return (await this.entries()).filter((each) => each.standing === "waiting");
  }

  /** They are about to be sent: from now on one of them may be on the server. */
  async trying(ids: readonly string[]): Promise<void> {
    await this.change(ids, (entry) => ({ ...entry, tried: true }));
  }

  async became(id: string, standing: Standing, number: number | null, mistakes: Mistake[]): Promise<void> {
    await this.change([id], (entry) => ({ ...entry, standing, number, mistakes }));
  }

  /** The server's program failed at it: it goes on waiting, and the person can see which one it is. */
  async failedAt(id: string, said: string): Promise<void> {
    await this.change([id], (entry) => ({ ...entry, faults: { count: (entry.faults?.count ?? 0) + 1, said } }));
  }

  /** A refused entry put right: it keeps its id, because the server has not taken one under it. */
  async putRight(id: string, body: Body): Promise<void> {
    await this.change([id], (entry) => ({ ...entry, body, standing: "waiting", mistakes: [] }));
  }

  /** Take an entry out that the server cannot have. False where it may have it. */
  async drop(id: string): Promise<boolean> {
    const at = this.db.transaction("entries", "readwrite", { durability: "strict" });
    const entry = await at.store.get(id);
    const free = entry !== undefined && (entry.standing === "refused" || (entry.standing === "waiting" && !entry.tried));
    if (free) await at.store.delete(id);
    await at.done;
    return free;
  }

  /** Forget sent entries of a pour that its board rests on by now. */
  async forgetSent(pour: string, upTo: number): Promise<void> {
    const at = this.db.transaction("entries", "readwrite");
    for (const entry of await at.store.getAll())
      if (entry.pour === pour && entry.standing === "sent" && entry.number !== null && entry.number <= upTo)
        await at.store.delete(entry.id);
    await at.done;
  }

  private async change(ids: readonly string[], to: (entry: Entry) => Entry): Promise<void> {
    const at = this.db.transaction("entries", "readwrite", { durability: "strict" });
    for (const id of ids) {
      const entry = await at.store.get(id);
      if (entry) await at.store.put(to(entry));
    }
    await at.done;
  }

  async keepPhoto(photo: KeptPhoto): Promise<void> {
    await this.db.put("photos", photo);
  }

  async photos(): Promise<KeptPhoto[]> {
    return this.db.getAll("photos");
  }

  async photo(sha256: string): Promise<KeptPhoto | undefined> {
    return this.db.get("photos", sha256);
  }

  async keepBoard(board: Board): Promise<void> {
    await this.db.put("boards", board);
  }

  /** The last board of a pour; not one that a program of another schema made. */
  async board(pour: string): Promise<Board | undefined> {
    const kept: Board | undefined = await this.db.get("boards", pour);
    return kept?.schema === BOARD_SCHEMA ? kept : undefined;
  }

  async keepPours(pours: readonly PourListed[]): Promise<void> {
    await this.db.put("lists", { key: "pours", value: pours });
  }

  async pours(): Promise<PourListed[]> {
    return ((await this.db.get("lists", "pours"))?.value as PourListed[] | undefined) ?? [];
  }

  async keepRecords(pour: string, records: readonly RecordTold[]): Promise<void> {
    await this.db.put("lists", { key: `records ${pour}`, value: records });
  }

  async records(pour: string): Promise<RecordTold[]> {
    return ((await this.db.get("lists", `records ${pour}`))?.value as RecordTold[] | undefined) ?? [];
  }

  async keepDraft(key: string, value: unknown): Promise<void> {
    await this.db.put("drafts", { key, value });
  }

  async draft<T>(key: string): Promise<T | undefined> {
    return (await this.db.get("drafts", key))?.value as T | undefined;
  }

  async draftKeys(): Promise<string[]> {
    return this.db.getAllKeys("drafts");
  }

  async dropDraft(key: string): Promise<void> {
    await this.db.delete("drafts", key);
  }
}
