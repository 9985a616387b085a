import { describe, expect, it } from "vitest";
import { isoText, momentOf, offsetMinutes, timeText } from "../src/lib/zone";

const at = (text: string): number => Date.parse(text);

describe("the site's time", () => {
  it("is the same for a fixed offset and for a zone of that offset", () => {
    const noon = at("2027-06-17T12:00:00Z");
    expect(offsetMinutes(noon, "UTC+01:00")).toBe(60);
    expect(offsetMinutes(noon, "+05:30")).toBe(330);
    expect(offsetMinutes(noon, "UTC-3")).toBe(-180);
    expect(offsetMinutes(noon, "UTC")).toBe(0);
    expect(offsetMinutes(noon, "Europe/London")).toBe(60);
    expect(offsetMinutes(noon, "Asia/Kolkata")).toBe(330);
    expect(offsetMinutes(at("2027-01-17T12:00:00Z"), "Europe/London")).toBe(0);
  });
  it("has 24 hours and a date only when it is not today", () => {
    const now = at("2027-06-17T23:50:00+01:00");
    expect(timeText(at("2027-06-17T00:05:00+01:00"), "UTC+01:00", now)).toBe("00:05");
    expect(timeText(at("2027-06-18T00:05:00+01:00"), "UTC+01:00", now, "en-GB")).toBe("18 Jun 00:05");
    expect(timeText(at("2027-06-18T00:05:00+01:00"), "UTC+01:00", now, "de")).toBe("18. Juni 00:05");
  });
  it("is written with the site's offset", () => {
    expect(isoText(at("2027-06-17T10:06:07.900Z"), "UTC+01:00")).toBe("2027-06-17T11:06:07+01:00");
    expect(isoText(at("2027-01-17T02:00:00Z"), "America/New_York")).toBe("2027-01-16T21:00:00-05:00");
    expect(isoText(at("2027-01-17T02:00:00Z"), "Asia/Kolkata")).toBe("2027-01-17T07:30:00+05:30");
  });
  it("means the nearest moment: a night pour crosses midnight", () => {
    const now = at("2027-06-18T00:20:00+01:00");
    expect(momentOf("23:50", "UTC+01:00", now)).toBe(at("2027-06-17T23:50:00+01:00"));
    expect(momentOf("00:40", "UTC+01:00", now)).toBe(at("2027-06-18T00:40:00+01:00"));
    expect(momentOf("0740", "UTC+01:00", now)).toBe(at("2027-06-18T07:40:00+01:00"));
  });
  it("knows the nights when clocks change", () => {
    // Clocks go back at 03:00 of 31 October 2027: 02:30 comes twice.
    const again = at("2027-10-31T02:40:00+01:00");
    expect(momentOf("02:30", "Europe/Berlin", again)).toBe(at("2027-10-31T02:30:00+01:00"));
    const before = at("2027-10-31T02:35:00+02:00");
    expect(momentOf("02:30", "Europe/Berlin", before)).toBe(at("2027-10-31T02:30:00+02:00"));
    // They go on at 02:00 of 28 March: 02:30 is no time of that night.
    const spring = at("2027-03-28T03:10:00+02:00");
    expect(momentOf("01:50", "Europe/Berlin", spring)).toBe(at("2027-03-28T01:50:00+01:00"));
    expect(momentOf("02:30", "Europe/Berlin", spring)).not.toBe(at("2027-03-28T02:30:00+02:00"));
  });
  it("refuses what is no time", () => {
    for (const text of ["", "25:00", "12:60", "noon", "1"]) expect(momentOf(text, "UTC", 0)).toBeNull();
  });
});
