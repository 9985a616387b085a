/** The installed app: whether it works without signal, and whether a newer one waits. */

import { registerSW } from "virtual:pwa-register";

class Update {
  installed = $state(false);
  waiting = $state(false);
  private take: ((reload?: boolean) => Promise<void>) | null = null;

  start(): void {
    if (!("serviceWorker" in navigator)) return;
    this.take = registerSW({
      onNeedRefresh: () => (this.waiting = true),
      onOfflineReady: () => (this.installed = true),
      onRegisteredSW: (_, worker) => (this.installed ||= worker?.active !== null && worker !== undefined),
    });
  }

  /** Nothing is lost: every entry and every half-written form is on the device. */
  apply(): void {
    void this.take?.(true);
  }
}

export const update = new Update();
