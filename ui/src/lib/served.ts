/**
 * Sentences of the server in the reader's language, by a table of phrases with blanks.
 *
 * The board is a document in the language of the record. A phrase says how one of its sentences reads in another
 * language: `{x}` stays as it is (names, times, places, the project's own words), `{=x}` does and is one word, `{#x}` is
 * a number, `{@x}` a time, `{>x}` is looked up itself. A text without a phrase is taken apart at "; " and ". "; what nothing fits stays as the server wrote it,
 * and is told apart, so that nobody takes it for a translation.
 */

export type Phrase = readonly [string, string];

export interface Part {
  readonly text: string;
  /** Put into the reader's language; else as the server wrote it. */
  readonly own: boolean;
}

export type Translator = (text: string) => readonly Part[];

interface Pattern {
  find: RegExp;
  names: { key: string; kind: string }[];
  to: string;
}

/** What each kind of blank takes; one that stays as it is never runs on into the next piece. */
const BLANKS: Readonly<Record<string, string>> = {
  "#": "(-?\\d+(?:\\.\\d+)?)",
  "=": "(\\S+)",
  "@": "(\\d{1,2}:\\d\\d(?: on \\d{4}-\\d\\d-\\d\\d)?)",
  ">": "(.+?)",
  "": "((?:(?!; |\\. ).)+?)",
};
/** Where a text may be taken apart, the larger pieces first. */
const SEAMS = [". ", "; ", ": ", ", "] as const;
/** Figures, units, times, names of strips and codes: nothing that a language changes. */
const PLAIN = /^(?:[\d\s.,:;%±<>=()/–+-]|(?<!\p{L})(?:min|mm|m³|m²|m|kg|kN|l|d|h|cu|°C|x|y|[A-Z]{1,3}-?\d*[a-z]?|[a-z]+-\d+)(?!\p{L}))*$/u;

/** How texts are put into another language; `number` writes a figure as its readers do. */
export function translator(phrases: readonly Phrase[], number: (value: number) => string): Translator {
  const patterns = phrases.map(pattern);
  const known = new Map<string, readonly Part[]>();

  function whole(text: string): string | null {
    for (const { find, names, to } of patterns) {
      const found = find.exec(text);
      if (!found) continue;
      const blanks: Record<string, string> = {};
      for (const [at, { key, kind }] of names.entries()) {
        const value = found[at + 1]!;
        blanks[key] = kind === "#" ? number(Number(value)) : kind === ">" || kind === "@" ? joined(parts(value)) : value;
      }
      return to.replace(/\{(\w+)\}/g, (_, key: string) => blanks[key] ?? "");
    }
    return null;
  }

  function parts(text: string): readonly Part[] {
    const before = known.get(text);
    if (before) return before;
    const found = taken(text);
    if (known.size > 2000) known.clear();
    known.set(text, found);
    return found;
  }

  function taken(text: string): readonly Part[] {
    if (PLAIN.test(text)) return [{ text, own: true }];
    const told = whole(text);
    if (told !== null) return [{ text: told, own: true }];
    for (const seam of SEAMS) {
      const pieces = apart(text, seam);
      if (pieces.length < 2) continue;
      const each = pieces.map(parts);
      // Taken apart only where something comes of it: a stranger's sentence stays in one piece.
      if (!each.some((some, at) => some.some((part) => part.own && !PLAIN.test(pieces[at]!)))) continue;
      return merged(each.flatMap((some, at) => (at ? [{ text: seam, own: some[0]!.own }, ...some] : some)));
    }
    return [{ text, own: false }];
  }

  return parts;
}

/** A text at its seams, those within brackets left alone. */
function apart(text: string, seam: string): string[] {
  const found: string[] = [];
  let piece = "";
  let depth = 0;
  for (let at = 0; at < text.length; at += 1) {
    depth += text[at] === "(" ? 1 : text[at] === ")" ? -1 : 0;
    if (depth === 0 && text.startsWith(seam, at)) {
      found.push(piece);
      piece = "";
      at += seam.length - 1;
    } else piece += text[at];
  }
  return [...found, piece];
}

export function joined(some: readonly Part[]): string {
  return some.map((each) => each.text).join("");
}

function merged(some: readonly Part[]): Part[] {
  const found: Part[] = [];
  for (const each of some) {
    const last = found.at(-1);
    if (last && last.own === each.own) found[found.length - 1] = { text: last.text + each.text, own: each.own };
    else found.push(each);
  }
  return found;
}

function pattern([from, to]: Phrase): Pattern {
  const names: { key: string; kind: string }[] = [];
  const find = from.replace(/\{([#>=@]?)(\w+)\}|[.*+?^${}()|[\]\\]/g, (all, kind: string | undefined, key: string | undefined) => {
    if (key === undefined) return `\\${all}`;
    names.push({ key, kind: kind ?? "" });
    return BLANKS[kind ?? ""]!;
  });
  return { find: new RegExp(`^${find}$`, "u"), names, to: to.replace(/\{[#>=@](\w+)\}/g, "{$1}") };
}
