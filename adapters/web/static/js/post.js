// The way out: what waits is sent in order, one after the other, each under the id that the phone gave it. A message
// whose answer was lost is sent again and gets the same answer. What the server refuses is kept with the reason.

import * as kept from "./kept.js";
import { iso } from "./clock.js";

const PATIENCE = 8000;              // so long an answer may take before we try again
const WAITS = [500, 1000, 2000, 4000, 8000, 15000];
const AGAIN = new Set([408, 425, 429, 500, 502, 503, 504]);

/** An id that nobody else gives. (`crypto.randomUUID` is not there where the page came by plain http.) */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** One request to our own server; throws where there is no signal. */
export async function ask(path, body, patience = PATIENCE) {
  const init = body === undefined ? {} : {
    method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" },
  };
  const response = await fetch(path, {
    ...init, cache: "no-store", credentials: "same-origin", redirect: "error", signal: AbortSignal.timeout(patience),
  });
  const text = await response.text();
  return { status: response.status, body: text ? JSON.parse(text) : null };
}

export class Post {
  /** `state.mine` is what was said here; `told` hears what became of a message. */
  constructor(state, told) {
    this.state = state;
    this.told = told;
    this.failures = 0;
    this.running = false;
    this.timer = null;
  }

  /** Who waits, in order; only what this person said: another's is not ours to send. */
  waiting() {
    return this.state.mine.filter((one) => one.state === "waiting" && one.who === this.state.who);
  }

  /** Send what waits, if nobody does so already. */
  async run() {
    clearTimeout(this.timer);
    if (this.running || !this.state.who) return;
    this.running = true;
    try {
      await this.all();
    } finally {
      this.running = false;
    }
    if (this.waiting().length && !this.state.out) this.later();
  }

  later() {
    const wait = WAITS[Math.min(this.failures, WAITS.length) - 1] ?? WAITS[0];
    this.timer = setTimeout(() => this.run(), wait * (0.75 + Math.random() / 2));
  }

  async all() {
    let one;
    while ((one = this.waiting()[0])) {
      if (!await this.send(one)) return;
    }
  }

  /** One message; false: not now. */
  async send(one) {
    if (!one.tried) {
      one.tried = true;       // from now on the server may have it: it can't be taken back here any more
      await kept.changeMine(one);
    }
    let answer;
    try {
      answer = await ask("/web/messages", { id: one.id, sent_at: iso(one.at), ...content(one) });
    } catch {
      answer = { status: 0, body: null };
    }
    if (answer.status === 200) {
      this.failures = 0;
      Object.assign(one, { state: "sent", reason: "" });
      await kept.keepAnswer(answer.body.said, one);
      this.told.answered(one, answer.body);
      return true;
    }
    if (answer.status === 0 || AGAIN.has(answer.status)) {
      this.failures += 1;
      this.told.unreachable();
      return false;
    }
    if (answer.status === 401) {
      this.told.signedOut();
      return false;
    }
    Object.assign(one, { state: "refused", reason: answer.body?.detail ?? "The server did not take this." });
    await kept.changeMine(one);
    this.told.refused(one);
    return true;
  }
}

const content = (one) => (one.choice === undefined ? { text: one.text } : { choice: one.choice });
