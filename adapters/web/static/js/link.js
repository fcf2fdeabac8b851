// The way in: what was said and the class sheet as they change, over a WebSocket; over plain HTTP where there is none.
// A phone without a signal is not told so by its browser: whoever hears nothing for a while knows.

import { ask } from "./post.js";

const SILENCE = 35000;      // the server says something every 15 s
const WAITS = [500, 1000, 2000, 5000, 10000];
const SIGNED_OUT = 4401;
const SOCKETS = 2;          // so often a socket may fail before plain HTTP is tried

export class Link {
  /** `after()`: behind which message to go on; `told` hears what comes, and whether there is a signal. */
  constructor(after, told) {
    this.after = after;
    this.told = told;
    this.failures = 0;
    this.wanted = false;
    this.socket = null;
  }

  start() {
    if (this.wanted) return;
    this.wanted = true;
    this.open();
  }

  stop() {
    this.wanted = false;
    clearTimeout(this.timer);
    clearTimeout(this.silence);
    this.socket?.close();
    this.socket = null;
  }

  /** The signal may be back: try at once. */
  now() {
    if (!this.wanted || (this.socket?.readyState === WebSocket.OPEN && !this.doubted)) return;
    clearTimeout(this.timer);
    this.socket?.close();
    this.open();
  }

  /** A message could not be sent: the socket may be dead too, whatever it says. */
  doubt() {
    this.doubted = true;
    this.told.link(false);
  }

  open() {
    if (!this.wanted) return;
    const socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/web/stream`);
    this.socket = socket;
    socket.onopen = () => socket.send(JSON.stringify({ after: this.after() }));
    socket.onmessage = (event) => {
      this.failures = 0;
      this.doubted = false;
      this.listen(socket);
      this.told.heard(JSON.parse(event.data));
    };
    socket.onclose = (event) => this.closed(socket, event.code);
    this.listen(socket);
  }

  listen(socket) {
    clearTimeout(this.silence);
    this.silence = setTimeout(() => { socket.close(); this.closed(socket, 0); }, SILENCE);
  }

  closed(socket, code) {
    if (socket !== this.socket || !this.wanted) return;
    this.socket = null;
    clearTimeout(this.silence);
    if (code === SIGNED_OUT) {
      this.told.signedOut();
      return;
    }
    this.failures += 1;
    if (this.failures > SOCKETS) this.poll();
    else this.again();
  }

  again() {
    this.told.link(false);
    this.timer = setTimeout(() => this.open(), WAITS[Math.min(this.failures, WAITS.length) - 1] ?? WAITS[0]);
  }

  /** Once over plain HTTP; then a socket is tried again. */
  async poll() {
    try {
      const said = await ask(`/web/said?after=${this.after()}&wait=${this.failures > SOCKETS + 1 ? 20 : 0}`, undefined, 30000);
      if (said.status === 401) return this.told.signedOut();
      const sheet = await ask("/web/sheet");
      if (said.status !== 200 || sheet.status !== 200) throw new Error("not now");
      this.told.heard({ ...said.body, sheet: sheet.body });
      this.timer = setTimeout(() => (this.failures % 5 ? this.poll() : this.open()), WAITS[0]);
      this.failures += 1;
    } catch {
      this.again();
    }
    return undefined;
  }
}
