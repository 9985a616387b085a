import { describe, expect, it } from "vitest";
import { joined, translator } from "../src/lib/served";
import { served as german } from "../src/words/served.de";

const number = (value: number): string => new Intl.NumberFormat("de", { maximumFractionDigits: 3 }).format(value);
const told = translator(german, number);
const say = (text: string): string => joined(told(text));
const blanks = (text: string): string[] => [...text.matchAll(/\{[#>=@]?(\w+)\}/g)].map((each) => each[1]!).sort();

describe("the server's sentences in German", () => {
  it("put the next decision and its reason into words of the site, with figures as they are written here", () => {
    expect(say("Place B2 before 11:36")).toBe("B2 vor 11:36 einbauen");
    expect(say("Edge B1 to B2: by the specification to be joined by 11:36; its concrete can be joined until 12:32 (5 %: 12:08) by setting, 30 min kept")).toBe(
      "Anschluss B1–B2: nach der Vorgabe anschließen bis 11:36; nach dem Erstarren anschließbar bis 12:32 (5 %: 12:08), 30 min Reserve",
    );
    expect(say("drying 0.7 kg/m²h (forecast), under the action value of 0.75")).toBe("Verdunstung 0,7 kg/m²h (Vorhersage), unter dem Maßnahmenwert 0,75");
  });
  it("keep a limit of a check list a limit", () => {
    expect(say("within 5 mm")).toBe("innerhalb 5 mm");
    expect(say("within 10")).toBe("innerhalb 10");
    expect(say("Edge within B2: limit passed at 11:22")).toBe("Anschluss in B2: Grenze um 11:22 überschritten");
  });
  it("say a day beside a time, and never half a sentence of a window", () => {
    expect(say("x12 at x = 12 m, 65 mm, conventional saw: from about 00:08 on 2027-06-18, by 09:53 on 2027-06-18, sooner where the slab begins to cool; a trial cut decides")).toBe(
      "x12 bei x = 12 m, 65 mm, übliche Säge: ab etwa 00:08 am 2027-06-18, bis 09:53 am 2027-06-18, früher, wo die Platte abzukühlen beginnt; ein Probeschnitt entscheidet",
    );
  });
  it("leave names of standards and the project's own words as they stand", () => {
    expect(say("check test: slump 70 mm: 80 to 170 mm by the project and by BS 8500-1:2015+A1:2016")).toBe(
      "nachprüfen: Setzmaß 70 mm: 80 bis 170 mm nach Projekt und BS 8500-1:2015+A1:2016",
    );
    expect(say("Permit to load: only temporary-works-coordinator may release it")).toBe("Permit to load: Freigabe nur durch Koordination Traggerüste");
  });
  it("tell apart what there are no words for", () => {
    expect(told("a sentence that nobody knows")).toEqual([{ text: "a sentence that nobody knows", own: false }]);
    expect(told("joined, longest wait 6 min; and something new").map((each) => each.own)).toEqual([true, false]);
    expect(told("8 m³, 11:36")).toEqual([{ text: "8 m³, 11:36", own: true }]);
  });
  it("have the same blanks on both sides, and no phrase twice", () => {
    for (const [from, to] of german) expect([from, blanks(to)]).toEqual([from, blanks(from)]);
    expect(new Set(german.map(([from]) => from)).size).toBe(german.length);
  });
});
