import { describe, expect, it } from "vitest";
import { faults, newBody, nextTicket, numberOf, stepTicket, type Writer } from "../src/lib/entries";
import { readTicket } from "../src/lib/ticketcode";

const NOW = Date.parse("2027-06-17T11:06:00+01:00");
const writer: Writer = { pour: "slab", zone: "UTC+01:00", device: "d1", role: "tester", person: "", deviceNow: NOW, skewS: 0 };

describe("an entry", () => {
  it("has an id of its own, the site's time and only what was said", () => {
    const one = newBody(writer, "load-arrived", { ticket_number: "4117", volume_m3: 8, truck: "", batched: null });
    const other = newBody(writer, "load-arrived", { ticket_number: "4117", volume_m3: 8 });
    expect(one.id).not.toBe(other.id);
    expect(one.payload).toEqual({ ticket_number: "4117", volume_m3: 8 });
    expect(one.at).toBe("2027-06-17T11:06:00+01:00");
    expect(one.recorded).toBe(one.at);
  });
  it("of a clock an hour fast happened by the server's time and was recorded by the device's", () => {
    const body = newBody({ ...writer, deviceNow: NOW + 3_600_000, skewS: 3600 }, "noted", { text: "x" });
    expect([body.at, body.recorded]).toEqual(["2027-06-17T11:06:00+01:00", "2027-06-17T12:06:00+01:00"]);
  });
  it("leaves an unknown skew to the server: both times are the device's", () => {
    const body = newBody({ ...writer, skewS: null }, "noted", { text: "x" });
    expect(body.at).toBe(body.recorded);
  });
  it("is held to the limits of the record", () => {
    expect(faults("load-arrived", { ticket_number: "1", volume_m3: 8 })).toEqual([]);
    expect(faults("load-arrived", { volume_m3: 8 })).toEqual([{ key: "ticket_number", what: "needed" }]);
    expect(faults("load-arrived", { ticket_number: "1", volume_m3: 0 })[0]).toMatchObject({ key: "volume_m3", what: "range", above: 0, most: 20 });
    expect(faults("load-tested", { ticket_number: "1", test: "slump", value: "wet" })[0]).toEqual({ key: "value", what: "no number" });
    expect(faults("placing-stopped", { cause: "lunch" })[0]).toEqual({ key: "cause", what: "choice" });
    expect(faults("specimens-made", { sample_id: "S", ticket_number: "1", count: 1.5 })[0]).toEqual({ key: "count", what: "whole" });
  });
});

describe("numbers and tickets", () => {
  it("reads a comma as a point and nothing else as a number", () => {
    expect(numberOf(" 7,5 ")).toBe(7.5);
    expect(numberOf("-3")).toBe(-3);
    for (const text of ["", "7.5.1", "1e3", "eight"]) expect(numberOf(text)).toBeNull();
  });
  it("proposes the number after the highest one", () => {
    expect(nextTicket(["4101", "4110", "4109", ""])).toBe("4111");
    expect(nextTicket(["A-009"])).toBe("A-010");
    expect(nextTicket(["", "none"])).toBe("");
    expect(stepTicket("4110", -1)).toBe("4109");
  });
  it("takes from a ticket's code what it understands and keeps the rest readable", () => {
    expect(readTicket("4117")).toEqual({ values: { ticket_number: "4117" }, rest: "" });
    const read = readTicket('{"ticket_number":"4117","volume_m3":8,"batched":"2027-06-17T10:41:00+01:00","colour":"grey"}');
    expect(read.values).toEqual({ ticket_number: "4117", volume_m3: 8, batched: "2027-06-17T10:41:00+01:00" });
    expect(read.rest).toBe("colour: grey");
    expect(readTicket('{"batched":"2027-06-17T10:41:00"}').rest).toContain("batched");
    expect(readTicket("two words").rest).toBe("two words");
  });
});
