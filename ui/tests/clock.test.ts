import { describe, expect, it } from "vitest";
import { clockJumped, corrected, earlier, minutesLeft, minutesSince } from "../src/lib/clock";

const NOW = Date.parse("2027-06-17T11:06:00+01:00");

describe("clocks", () => {
  it("never gives a minute that is not whole", () => {
    expect(minutesLeft("2027-06-17T11:20:00+01:00", NOW)).toBe(14);
    expect(minutesLeft("2027-06-17T11:19:59+01:00", NOW)).toBe(13);
    expect(minutesLeft("2027-06-17T11:05:50+01:00", NOW)).toBe(-1);
  });
  it("counts by the server, whatever the device says", () => {
    expect(corrected(NOW + 3_600_000, 3600)).toBe(NOW);
    expect(corrected(NOW - 3_600_000, -3600)).toBe(NOW);
    expect(corrected(NOW, null)).toBe(NOW);
  });
  it("gives no negative age", () => {
    expect(minutesSince(NOW + 90_000, NOW)).toBe(0);
    expect(minutesSince("2027-06-17T11:02:30+01:00", NOW)).toBe(3);
  });
  it("tells a clock that was set back from one that ticks", () => {
    expect(clockJumped(NOW, NOW + 1000)).toBe(false);
    expect(clockJumped(NOW, NOW - 3_600_000)).toBe(true);
  });
  it("takes the earlier of two deadlines in different offsets, and the one that is there", () => {
    expect(earlier("2027-06-17T11:20:00+01:00", "2027-06-17T10:19:00Z")).toBe("2027-06-17T10:19:00Z");
    expect(earlier(null, "2027-06-17T10:19:00Z")).toBe("2027-06-17T10:19:00Z");
    expect(earlier(null, undefined)).toBeNull();
  });
});
