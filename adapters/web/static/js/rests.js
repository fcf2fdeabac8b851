// Who rests, and for how long: a ring for each line, counted on the phone.

import { by, el, svg } from "./dom.js";
import { minutes, now } from "./clock.js";
import { nameOf, rests, skillOf } from "./foresee.js";

const ROUND = 100;

export class Rests {
  /** `pick(line)`: somebody wants to judge those who have rested; `over()`: a rest has just ended. */
  constructor(pick, over) {
    this.strip = by("rests");
    this.pick = pick;
    this.over = over;
    this.rings = [];
    this.was = new Map();
    setInterval(() => this.tick(), 1000);
  }

  draw(sheet) {
    this.sheet = sheet;
    const found = sheet ? rests(sheet, now()) : [];
    const key = JSON.stringify(found.map((ring) => [ring.skill, ring.show, ring.over, ring.children]));
    if (key !== this.key) {
      this.key = key;
      this.rings = found.map((ring) => this.made(ring));
      this.strip.replaceChildren(...this.rings.map((one) => one.node));
      this.strip.hidden = !found.length;
    }
    this.tick();
  }

  made(ring) {
    const left = el("span", { class: "left" });
    const turn = svg("circle", { cx: 20, cy: 20, r: 17, pathLength: ROUND });
    const names = ring.children.map((child) => nameOf(this.sheet, child)).join(", ");
    const skill = skillOf(this.sheet, ring.skill);
    const node = el("button", { type: "button", onclick: () => this.pick(ring) },
      svg("svg", { viewBox: "0 0 40 40", "aria-hidden": "true" }, svg("circle", { cx: 20, cy: 20, r: 17 }), turn),
      el("span", {}, left, el("span", { class: "who" }, `${names} · ${skill?.name.toLowerCase() ?? ""}`)));
    return { ...ring, node, turn, words: left };
  }

  tick() {
    for (const ring of this.rings) {
      const left = ring.last - now();
      const rested = left <= 0;
      const share = rested ? 1 : Math.max(0, Math.min(1, left / Math.max(1, ring.whole)));
      const words = rested ? "Rested" : `${minutes(left)} rest`;
      if (ring.words.textContent !== words) ring.words.textContent = words;
      ring.turn.setAttribute("stroke-dashoffset", String(ROUND * (1 - share)));
      ring.node.classList.toggle("over", rested);
      const key = `${ring.skill} ${ring.last}`;
      const before = this.was.get(key);
      this.was.set(key, rested);
      if (rested && before === false) this.over();
    }
  }
}
