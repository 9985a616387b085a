/** New alarms: said once, in words, with a buzz and, if wanted, a sound; gone when seen, or when there is nothing left to save. No blinking. */

import { earlier, minutesLeft } from "./clock";
import { live } from "./live.svelte";
import { settings } from "./settings.svelte";
import { clock, edgeName, t } from "./words.svelte";

const STEPS_MIN = [20, 10, 5, 0];

/** The highest step that has been passed, as a place in the list; -1 for none. */
export function step(minutes: number): number {
  return STEPS_MIN.reduce((found, each, place) => (minutes <= each ? place : found), -1);
}

class Alarms {
  private said = $state<readonly { key: string; text: string }[]>([]);
  private seen = new Map<string, number>();
  private first = true;

  /** Called each second: what has passed a step since the last call is said. */
  look(at: number): void {
    const shown = live.shown;
    if (!shown) return;
    const news: { key: string; text: string }[] = [];
    const open = new Set<string>();
    const check = (key: string, moment: string | null, say: (n: number, by: string) => string): void => {
      if (moment === null) return;
      open.add(key);
      const minutes = minutesLeft(moment, at);
      const now = step(minutes);
      if (now > (this.seen.get(key) ?? -1) && !this.first) news.push({ key, text: say(Math.max(0, minutes), clock(moment)) });
      this.seen.set(key, now);
    };
    for (const edge of shown.edges)
      if (!edge.closed)
        check(`edge ${edge.name}`, earlier(edge.join_by_specification, edge.join_by_setting?.usual), (n, by) => t("alarm_edge", { edge: edgeName(edge.name), n, by }));
    for (const load of shown.loads)
      if (load.state === "waiting" || load.state === "discharging")
        check(`load ${load.ticket_number}`, load.too_old_at, (n, by) => t("alarm_load", { ticket: load.ticket_number, n, by }));
    this.first = false;
    const kept = this.said.filter(({ key }) => open.has(key) && !news.some((each) => each.key === key));
    if (news.length || kept.length < this.said.length) this.said = [...kept, ...news];
    if (news.length) this.sound();
  }

  get text(): string {
    return this.said.map((each) => each.text).join(" ");
  }

  private sound(): void {
    navigator.vibrate?.([200, 100, 200]);
    if (settings.sound) beep();
  }

  close(): void {
    this.said = [];
  }
}

function beep(): void {
  try {
    const audio = new AudioContext();
    const tone = audio.createOscillator();
    tone.frequency.value = 880;
    tone.connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + 0.4);
    tone.onended = () => void audio.close();
  } catch {
    // A browser that plays nothing before the first touch: the words stand there all the same.
  }
}

export const alarms = new Alarms();
