// The running record: what was said and what was answered, a row each, in the order in which it was meant.

import { beforeNextFrame, button, by, el } from "./dom.js";
import { clock } from "./clock.js";

const STATES = { waiting: "waiting to send", refused: "not taken: ", withdrawn: "taken back before it was sent" };
const SHOWN = 60;       // so many rows at first, and so many more for whoever scrolls up: each costs every tap a little
const TAP = 1000;       // a thumb that is down for longer chooses nothing

/** The rows, in order: an answer stands by what it answers, whenever it came. */
export function rows(said, mine) {
  const asked = new Map(mine.map((one) => [one.id, one]));
  const all = mine.map((one) => ({ key: `m${one.id}`, at: one.at, rank: [one.n, -1], mine: one }));
  let before = 0;
  for (const one of said) {
    const mineToo = asked.get(one.reply_to);
    before = mineToo?.n ?? before;
    all.push({ key: `s${one.seq}`, at: mineToo?.at ?? Date.parse(one.at), rank: [before, one.seq], said: one });
  }
  all.sort((a, b) => a.at - b.at || a.rank[0] - b.rank[0] || a.rank[1] - b.rank[1]);
  return all;
}

export class Record {
  constructor(tap, drawAll) {
    this.list = by("record");
    this.tap = tap;
    this.drawAll = drawAll;
    this.nodes = new Map();
    this.atEnd = true;      // whoever reads further up is left there
    this.held = false;      // by a thumb: what has come since waits
    this.waits = false;
    this.from = 0;          // so many rows of before are not shown
    this.list.addEventListener("scroll", () => this.scrolled(), { passive: true });
    this.stayUnderTheThumb();
    new ResizeObserver(() => this.toTheEnd()).observe(this.list);
  }

  /** Nothing moves under a thumb that is about to choose: another choice would be hit, or none. */
  stayUnderTheThumb() {
    const release = () => {
      clearTimeout(this.releasing);
      this.held = false;
      if (this.waits) this.drawAll();
    };
    this.list.addEventListener("pointerdown", () => {
      clearTimeout(this.releasing);
      this.held = true;
      this.waits = false;
      this.releasing = setTimeout(release, TAP);
    });
    this.list.addEventListener("pointercancel", release);
    this.list.addEventListener("click", (event) => {
      if (event.target.closest("summary")) this.atEnd = false;      // whoever looks at choices is left there
      release();
    });
  }

  /** Is a thumb down here? Then all is drawn once it has chosen. */
  holds() {
    this.waits = this.held;
    return this.held;
  }

  scrolled() {
    if (Math.abs(this.list.scrollTop - this.put) < 2) return;       // it was us, and what came since is below
    this.atEnd = this.isAtEnd();
    if (this.from && this.list.scrollTop < this.list.clientHeight) this.showEarlier();
  }

  /** More of before, put above what is looked at, which stays where it is. */
  showEarlier() {
    const below = this.list.scrollHeight - this.list.scrollTop;
    this.atEnd = false;
    this.from = Math.max(0, this.from - SHOWN);
    this.draw(...this.drawn);
    this.scrollTo(this.list.scrollHeight - below);
  }

  toTheEnd() {
    if (!this.atEnd) return;
    if (this.held) this.waits = true;
    else this.scrollTo(this.list.scrollHeight);
  }

  scrollTo(top) {
    this.list.scrollTop = top;
    this.put = this.list.scrollTop;
  }

  isAtEnd() {
    return this.list.scrollHeight - this.list.scrollTop - this.list.clientHeight < 80;
  }

  /** `docked`: the message whose choices are shown below, and not here. */
  draw(said, mine, docked) {
    this.drawn = [said, mine, docked];
    const own = mine.at(-1)?.id;        // whoever says something wants to see what comes of it
    if (this.own !== own) this.atEnd = true;
    this.own = own;
    const all = rows(said, mine);
    if (this.atEnd) this.from = Math.max(0, all.length - SHOWN);
    const wanted = all.slice(this.from);
    const open = said.findLast((one) => one.choices.length && !one.asked)?.seq;
    const keys = new Set(wanted.map((row) => row.key));
    for (const [key, node] of this.nodes) if (!keys.has(key)) { node.remove(); this.nodes.delete(key); }
    wanted.forEach((row, at) => this.place(row, at, docked, open));
    beforeNextFrame(() => this.toTheEnd());
  }

  /** `open`: the last message that came unasked, whose choices are not docked while somebody stands at a line. */
  place(row, at, docked, open) {
    const looks = row.mine ? row.mine.state + row.mine.reason : `${docked === row.said.seq} ${open === row.said.seq}`;
    let node = this.nodes.get(row.key);
    if (!node || node.dataset.looks !== looks) {
      const made = row.mine ? mineRow(row.mine) : this.saidRow(row.said, docked === row.said.seq, open === row.said.seq);
      made.dataset.looks = looks;
      node?.replaceWith(made);
      this.nodes.set(row.key, made);
      node = made;
    }
    if (this.list.children[at] !== node) this.list.insertBefore(node, this.list.children[at] ?? null);
  }

  saidRow(one, docked, open) {
    const before = docked ? [] : one.choices.map((choice) => button(choice.label, () => this.tap(one, choice)));
    const labels = one.choices.map((choice) => choice.label).join(" · ");
    return el("li", { class: "said" },
      el("time", { datetime: one.at }, clock(Date.parse(one.at))), el("p", {}, one.text),
      ...(one.files ?? []).map(fileOf),
      before.length ? el("details", { open }, el("summary", {}, labels), el("div", { class: "before" }, ...before)) : "");
  }
}

/** A picture, a player, or a link; where it can't be had (any more), the words for it. */
function fileOf(file) {
  const gone = () => node.replaceWith(el("p", { class: "file" }, file.words));
  const kind = file.media_type.split("/")[0];
  const shown = kind === "image" ? el("img", { src: file.url, alt: file.words, loading: "lazy", onerror: gone })
    : kind === "audio" ? el("audio", { src: file.url, controls: true, preload: "none", "aria-label": file.name, onerror: gone })
    : file.name;
  const node = kind === "audio" ? el("div", { class: "file" }, shown)
    : el("a", { class: "file", href: file.url, target: "_blank", rel: "noopener", download: kind === "image" ? null : file.name }, shown);
  return node;
}

function mineRow(one) {
  const state = STATES[one.state];
  return el("li", { class: `mine ${one.state}` },
    el("time", { datetime: new Date(one.at).toISOString() }, clock(one.at)),
    el("p", {}, one.label, state ? el("span", { class: "state" }, state + (one.reason ?? "")) : ""));
}
