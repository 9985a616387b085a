/** The words of the screen in the reader's language, and figures in the reader's format. */

import type { LimitView } from "../contract";
import { de } from "../words/de";
import { en, type Word, type Words } from "../words/en";
import { minutesLeft } from "./clock";
import { live } from "./live.svelte";
import { translator, type Phrase, type Translator } from "./served";
import { settings, type Language } from "./settings.svelte";
import { timeText } from "./zone";

const BOOKS: Record<string, Words> = { en, de };
/** Tables of the server's sentences, each fetched when its language is chosen. */
const TABLES: Partial<Record<Language, () => Promise<{ served: readonly Phrase[] }>>> = {
  de: () => import("../words/served.de"),
};

class Sentences {
  translate = $state.raw<Translator | null>(null);

  /** Fetch the table of a language; without one the server's own words stand. */
  async learn(language: Language): Promise<void> {
    const table = TABLES[language];
    const found = table ? (await table()).served : null;
    if (language === settings.language) this.translate = found && translator(found, (value) => figure(value, 3));
  }
}

export const sentences = new Sentences();

/** A sentence of the server in the reader's language as far as there are words for it, each part with its language. */
export function served(text: string): { text: string; lang: string; foreign: boolean }[] {
  const theirs = live.board?.language ?? "en";
  const table = sentences.translate;
  if (theirs === settings.language || !table) return [{ text, lang: theirs, foreign: false }];
  return table(text).map((each) => ({ text: each.text, lang: each.own ? settings.language : theirs, foreign: !each.own }));
}

/** A word with its blanks filled: `t("minutes_left", { n: 25 })`. */
export function t(word: Word, blanks: Record<string, string | number> = {}): string {
  const text = BOOKS[settings.language]![word];
  return text.replace(/\{(\w+)\}/g, (_, key: string) => String(blanks[key] ?? ""));
}

/** A word that is kept in the record, in the record's own language. */
export function recorded(word: Word): string {
  return (BOOKS[live.board?.language ?? "en"] ?? en)[word];
}

/** A name that comes from the data, such as a role or a kind: its word where there is one, else as it stands. */
export function named(group: string, name: string): string {
  const book = BOOKS[settings.language] as Record<string, string>;
  return book[`${group}.${name}`] ?? name.replaceAll("-", " ").replaceAll("_", " ");
}

/** "site-engineer (A. Name)" as the role's word and the name. */
export function saidBy(text: string): string {
  const found = /^([\w-]+)(.*)$/.exec(text);
  return found ? named("role", found[1]!) + found[2]! : text;
}

/** The reader's own country's format, where the device speaks the language of the screen. */
function locale(): string {
  if (navigator.language.startsWith(settings.language)) return navigator.language;
  return settings.language === "en" ? "en-GB" : settings.language;
}

/** A figure in the reader's format. */
export function figure(value: number, digits = 1, atLeast = 0): string {
  return new Intl.NumberFormat(locale(), { maximumFractionDigits: digits, minimumFractionDigits: atLeast }).format(value);
}

export function percent(share: number): string {
  if (share > 0 && share < 0.01) return `< ${figure(1)} %`;
  return `${figure(share * 100, 0)} %`;
}

/** The site's time of a moment, with the date where that is not today. */
export function clock(moment: string | number): string {
  return timeText(typeof moment === "number" ? moment : Date.parse(moment), live.zone, live.now, locale());
}

/** "B1 to B2" or "within B2", the server's names of edges, in the reader's words. */
export function edgeName(name: string): string {
  if (name.startsWith("within ")) return t("edge_within", { name: name.slice("within ".length) });
  return t("edge", { name: name.replace(" to ", "–") });
}

/** How the last exchange with the server went, in two words. */
export function network(): string {
  if (live.trouble) return t(`server_${live.trouble.kind}`);
  return t(live.reached ? "signal" : "no_signal");
}

/** "25 min left", "ran out 3 min ago". */
export function left(moment: string): string {
  const minutes = minutesLeft(moment, live.now);
  if (minutes >= 0) return t("minutes_left", { n: minutes });
  return t("ran_out", { n: -minutes });
}

/** A limit in words: "80 to 170 mm". */
export function limitText(limit: LimitView): string {
  const { low, high, unit } = limit;
  if (low !== null && high !== null) return t("limit_between", { low: figure(low), high: figure(high), unit });
  return high !== null ? t("limit_most", { high: figure(high), unit }) : t("limit_least", { low: figure(low ?? 0), unit });
}

/** "accept by site-engineer (A)" in words. */
export function decided(text: string): string {
  const found = /^(accept|check-test|refuse) by (.*)$/.exec(text);
  return found ? `${named("decision", found[1]!)}: ${saidBy(found[2]!)}` : text;
}

/** A unit's key as it is written: "kg_per_m2_h" is kg/m²h. */
export function unitText(key: string): string {
  return key.replace("_per_", "/").replaceAll("_", "").replaceAll("m2", "m²").replaceAll("m3", "m³");
}
