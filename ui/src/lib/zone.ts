/** Times of the site: always in its own zone, 24 hours, whatever the zone of the device. */

const MINUTE = 60_000;
const formats = new Map<string, Intl.DateTimeFormat>();

/** Minutes that a zone is ahead of UTC at a moment. The zone is an IANA name or a fixed offset such as "UTC+01:00". */
export function offsetMinutes(at: number, zone: string): number {
  const fixed = /^(?:UTC|GMT)?(?:([+-])(\d{1,2})(?::?(\d{2}))?)?$/.exec(zone);
  if (fixed) {
    if (!fixed[1]) return 0;
    return (fixed[1] === "-" ? -1 : 1) * (Number(fixed[2]) * 60 + Number(fixed[3] ?? 0));
  }
  let format = formats.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat("en-US", {
      timeZone: zone,
      hourCycle: "h23",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
      second: "2-digit",
    });
    formats.set(zone, format);
  }
  const part: Record<string, number> = {};
  for (const each of format.formatToParts(at)) part[each.type] = Number(each.value);
  const wall = Date.UTC(part["year"]!, part["month"]! - 1, part["day"], part["hour"], part["minute"], part["second"]);
  return Math.round((wall - Math.floor(at / 1000) * 1000) / MINUTE);
}

/** A shifted Date whose UTC parts are the wall clock of the site. */
function wallOf(at: number, zone: string): Date {
  return new Date(at + offsetMinutes(at, zone) * MINUTE);
}

const two = (value: number): string => String(value).padStart(2, "0");

/** "11:42"; with the date before it when that is not the site's today. */
export function timeText(at: number, zone: string, now: number, locale = "en"): string {
  const wall = wallOf(at, zone);
  const clock = `${two(wall.getUTCHours())}:${two(wall.getUTCMinutes())}`;
  if (wall.toISOString().slice(0, 10) === wallOf(now, zone).toISOString().slice(0, 10)) return clock;
  const date = new Intl.DateTimeFormat(locale, { day: "numeric", month: "short", timeZone: "UTC" }).format(wall);
  return `${date} ${clock}`;
}

/** The moment as ISO 8601 to the second, with the site's offset. */
export function isoText(at: number, zone: string): string {
  const offset = offsetMinutes(at, zone);
  const wall = new Date(Math.floor(at / 1000) * 1000 + offset * MINUTE);
  const size = Math.abs(offset);
  const sign = offset < 0 ? "-" : "+";
  return `${wall.toISOString().slice(0, 19)}${sign}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}

/**
 * The moment that somebody means who writes "hh:mm" now: the nearest one, of the day before, this day or the next.
 * In the night when clocks are set back an hour comes twice: the later one that has been is meant. Null for what is no
 * time, and for one that the night of summer time leaves out.
 */
export function momentOf(text: string, zone: string, now: number): number | null {
  const found = /^\s*(\d{1,2})[:.hH]?(\d{2})\s*$/.exec(text);
  if (!found || Number(found[1]) > 23 || Number(found[2]) > 59) return null;
  const today = wallOf(now, zone);
  const offsets = new Set([-24, 0, 24].map((hours) => offsetMinutes(now + hours * 60 * MINUTE, zone)));
  const meant: number[] = [];
  for (const day of [-1, 0, 1]) {
    const wall = Date.UTC(
      today.getUTCFullYear(),
      today.getUTCMonth(),
      today.getUTCDate() + day,
      Number(found[1]),
      Number(found[2]),
    );
    for (const offset of offsets) {
      const at = wall - offset * MINUTE;
      if (offsetMinutes(at, zone) === offset) meant.push(at);
    }
  }
  meant.sort((one, other) => Math.abs(one - now) - Math.abs(other - now));
  return meant[0] ?? null;
}
