import { describe, expect, it } from "vitest";
import { KINDS } from "../src/contract";
import { de } from "../src/words/de";
import { en } from "../src/words/en";

const english: Record<string, string> = en;
const german: Record<string, string> = de;
const blanks = (text: string): string[] => [...text.matchAll(/\{(\w+)\}/g)].map((each) => each[1]!).sort();

describe("the catalogues", () => {
  it("have the same words with the same blanks in both languages", () => {
    expect(Object.keys(german).sort()).toEqual(Object.keys(english).sort());
    for (const [key, text] of Object.entries(english)) expect([key, blanks(german[key]!)]).toEqual([key, blanks(text)]);
  });
  it("leave nothing empty", () => {
    for (const text of [...Object.values(english), ...Object.values(german)]) expect(text.trim()).not.toBe("");
  });
  it("name every kind of entry, field and choice of the record", () => {
    const names = Object.entries(KINDS).flatMap(([kind, { fields }]) => [
      `kind.${kind}`,
      ...Object.entries(fields).flatMap(([key, field]) =>
        ["cells", "lattice", "sha256", "size_bytes", "media_type"].includes(key) ? [] : [`field.${key}`, ...(field.choices ?? []).map((each) => `choice.${each}`)],
      ),
    ]);
    expect(names.filter((name) => !(name in english))).toEqual([]);
  });
});
