/** What this device remembers about its user. Small, so it stands in localStorage. */

import { newId } from "./entries";

export type Theme = "sun" | "night";
export type Language = "en" | "de";

const ROOT = "wetfront.";

function kept(key: string): string {
  try {
    return localStorage.getItem(ROOT + key) ?? "";
  } catch {
    return "";
  }
}

function keep(key: string, value: string): void {
  try {
    localStorage.setItem(ROOT + key, value);
  } catch {
    // A private window without storage: the choice lasts as long as the page.
  }
}

function firstLanguage(): Language {
  return (navigator.languages ?? [navigator.language]).find((each) => /^(en|de)/.test(each))?.startsWith("de") ? "de" : "en";
}

class Settings {
  language = $state<Language>((kept("language") as Language) || firstLanguage());
  theme = $state<Theme>((kept("theme") as Theme) || "sun");
  role = $state(kept("role"));
  person = $state(kept("person"));
  pour = $state(kept("pour"));
  sound = $state(kept("sound") === "on");
  code = $state(kept("code"));
  /** Seconds that this device's clock is ahead, as the server last told. */
  skewS = $state<number | null>(kept("skew") === "" ? null : Number(kept("skew")));
  readonly device = kept("device") || newId();

  constructor() {
    keep("device", this.device);
  }

  set<K extends "language" | "theme" | "role" | "person" | "pour" | "code">(key: K, value: Settings[K]): void {
    (this[key] as string) = value;
    keep(key, value);
  }

  setSound(on: boolean): void {
    this.sound = on;
    keep("sound", on ? "on" : "off");
  }

  setSkew(seconds: number): void {
    this.skewS = seconds;
    keep("skew", String(seconds));
  }

  /** Takes the access code out of the address, where it would be shown to whoever looks at the phone. */
  takeFromAddress(): void {
    const told = new URLSearchParams(location.hash.replace(/^#/, ""));
    const code = told.get("code");
    if (!code) return;
    this.set("code", code);
    const pour = told.get("pour");
    if (pour) this.set("pour", pour);
    history.replaceState(null, "", location.pathname + location.search);
  }
}

export const settings = new Settings();
