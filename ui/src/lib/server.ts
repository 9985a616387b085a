/** The server as the app asks it. Every answer is JSON or a problem; no answer is an error of its own. */

import type { Board, Comparison, Question } from "../contract";
import type { Body, Mistake } from "./entries";
import type { PourListed } from "./shelf";

/** Nobody answered: no signal. */
export class NoAnswer extends Error {}

/** There is signal, and something answered; what was sent is to be sent again later. */
export class Trouble extends Error {
  constructor(
    readonly status: number,
    readonly title: string,
  ) {
    super(title);
  }

  /** A fault of the server's program, a server that is gone behind its gateway, or one that asks for patience. */
  get kind(): "fault" | "away" | "busy" {
    if (this.status === 408 || this.status === 429) return "busy";
    return this.status >= 502 && this.status <= 504 ? "away" : "fault";
  }
}

/** The server answered that it will not. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    readonly title: string,
    readonly mistakes: Mistake[],
  ) {
    super(title);
  }
}

export interface Told {
  results: { id: string; outcome: "new" | "known" | "clash" | "refused"; number: number | null; errors: Mistake[] }[];
  skew_s: number;
  last_number: number;
}

export interface RecordTold {
  number: number;
  received: string;
  skew_s: number;
  event: Body;
  seal: string;
}

const WAIT_MS = 20_000;

export class Server {
  constructor(
    private readonly code: () => string,
    private readonly base = "",
  ) {}

  pours(): Promise<{ pours: PourListed[] }> {
    return this.json("GET", "/api/pours");
  }

  board(pour: string): Promise<Board> {
    return this.json("GET", `/api/pours/${encodeURIComponent(pour)}/board`);
  }

  whatIf(pour: string, question: Question): Promise<Comparison> {
    return this.json("POST", `/api/pours/${encodeURIComponent(pour)}/what-if`, { question }, 120_000);
  }

  records(pour: string, after: number): Promise<{ records: RecordTold[]; chain: string }> {
    return this.json("GET", `/api/pours/${encodeURIComponent(pour)}/records?after=${after}`);
  }

  events(pour: string, deviceNow: string, events: readonly Body[]): Promise<Told> {
    return this.json("POST", `/api/pours/${encodeURIComponent(pour)}/events`, { device_now: deviceNow, events });
  }

  async putPhoto(sha256: string, content: Blob): Promise<void> {
    await this.asked("PUT", `/api/photos/${sha256}`, content, 120_000);
  }

  async photo(sha256: string): Promise<Blob> {
    return (await this.asked("GET", `/api/photos/${sha256}`, undefined, WAIT_MS)).blob();
  }

  /** Calls `news` whenever the record of a pour has grown; ends when the stream does. */
  async follow(pour: string, news: () => void, until: AbortSignal): Promise<void> {
    const answer = await fetch(`${this.base}/api/pours/${encodeURIComponent(pour)}/stream`, {
      headers: this.headers(),
      signal: until,
    });
    if (!answer.ok || !answer.body) throw new NoAnswer();
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    for (;;) {
      const { value, done } = await reader.read();
      if (done) return;
      if (value.includes("data:")) news();
    }
  }

  private headers(): Record<string, string> {
    const code = this.code();
    return code ? { authorization: `Bearer ${code}` } : {};
  }

  private async json<T>(method: string, path: string, body?: unknown, wait = WAIT_MS): Promise<T> {
    const text = body === undefined ? undefined : JSON.stringify(body);
    const answer = await this.asked(method, path, text, wait);
    try {
      return (await answer.json()) as T;
    } catch {
      throw new NoAnswer();
    }
  }

  private async asked(method: string, path: string, body: BodyInit | undefined, wait: number): Promise<Response> {
    const headers = this.headers();
    if (typeof body === "string") headers["content-type"] = "application/json";
    let answer: Response;
    try {
      answer = await fetch(this.base + path, {
        method,
        headers,
        cache: "no-store",
        signal: AbortSignal.timeout(wait),
        ...(body === undefined ? {} : { body }),
      });
    } catch {
      throw new NoAnswer();
    }
    if (answer.ok) return answer;
    const told = (await answer.json().catch(() => ({}))) as { title?: string; detail?: string; errors?: Mistake[] };
    const title = [told.title ?? `${answer.status}`, told.detail].filter(Boolean).join(": ");
    if (answer.status >= 500 || answer.status === 408 || answer.status === 429) throw new Trouble(answer.status, title);
    throw new Refused(answer.status, title, told.errors ?? []);
  }
}
