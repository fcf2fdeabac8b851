// What can be done now, where a thumb reaches it: a line's names, its answers, and in a row of their own what was just
// recorded. Without a signal the lines of the plan stand here, one after the other.

import { beforeNextFrame, button, by, el } from "./dom.js";
import { now } from "./clock.js";
import { childOf, linesAhead, nameOf, skillOf, standing } from "./foresee.js";
import { toolFor } from "./tools.js";

const OF_LINE = new Set(["answer", "some", "those", "again", "showed"]);
const PATIENCE = 1500;      // so long an answer may take before the plan's next line is offered
const FRESH = 250;          // what has just come under a thumb is not meant by it;
const NEXT_LINE = 800;      // no line is seen in less, and a tap that seemed not to take is often repeated;
const UNASKED = 1500;       // and whoever looks at the mat does not know yet that it has changed
const LOOKS = { undo: "undo", agree: "equal" };      // of a choice; what is agreed to is pressed on nobody
const SHOWS = ["first show", "second show"];

/** The last message with choices. One that came unasked waits while I stand at a line: it changes no place. */
function current(state, sheet) {
  if (sheet?.me?.role === "parent") return state.said.at(-1)?.choices.length ? state.said.at(-1) : undefined;
  const last = state.said.findLast((one) => one.choices.length);
  const asked = state.said.findLast((one) => one.choices.length && one.asked);
  return last && !last.asked && asked && standsThere(sheet, asked) ? asked : last;
}

/** Is a line of this message mine still? One that is newer than the sheet is. */
function standsThere(sheet, message) {
  const lines = message.choices.filter((one) => one.line).map((one) => one.line);
  if (sheet && Date.parse(message.at) >= Date.parse(sheet.now)) return lines.length > 0;
  return lines.some((line) => sheet?.lines.some((one) => one.mine && one.skill === line.skill && one.show === line.show));
}

/** That message, and what of it was tapped already and waits. */
function lastAsked(state, sheet) {
  const message = current(state, sheet);
  const ids = new Map((message?.choices ?? []).map((choice) => [choice.id, choice.kind]));
  const taps = state.mine.filter((one) => one.state === "waiting" && ids.has(one.choice?.split("~")[0]));
  const kinds = taps.map((one) => ids.get(one.choice.split("~")[0]));
  return { message, kinds };
}

/** What is docked: {message, choices}, or {line} that is judged by the phone's own plan, or {busy}, or {nothing}. */
export function docked(state, sheet) {
  if (state.picked) return { line: state.picked, picked: true };
  const { message, kinds } = lastAsked(state, sheet);
  const hasLine = message?.choices.some((one) => OF_LINE.has(one.kind));
  const answered = hasLine ? kinds.some((kind) => OF_LINE.has(kind)) : kinds.some((kind) => kind !== "card");
  if (message && !answered) {
    return { message, choices: message.choices.filter((one) => !kinds.length || OF_LINE.has(one.kind)) };
  }
  const waiting = state.mine.filter((one) => one.state === "waiting");
  if (!waiting.length) return { nothing: true };
  if (state.linked && now() - waiting.at(-1).at < PATIENCE) return { busy: true };
  const lines = [...goneTo(waiting), ...linesAhead(sheet, now())];
  const still = lines.map((line) => left(sheet, line)).filter((line) => line.children.length);
  if (!still.length) return { nothing: true, waits: true };
  return { line: offered(state, waiting, still), more: still.length > 1 };
}

/** The line that is offered stays the same until something is said or another is asked for: rests may end meanwhile. */
function offered(state, waiting, still) {
  const key = `${waiting.at(-1).id} ${state.skipped}`;
  if (state.offered?.key !== key) state.offered = { key, line: still[state.skipped % still.length] };
  return state.offered.line;
}

/** A line that was gone to without a signal. */
const goneTo = (waiting) => waiting.filter((one) => one.gone).map((one) => one.gone).slice(-1);

/** Those of a line who still owe it. */
function left(sheet, line) {
  const children = line.children.filter((child) => {
    const one = childOf(sheet, child) ? standing(sheet, child, line.skill, now()) : null;
    return !one || (one.show === line.show && one.is !== "ticked" && one.is !== "again");
  });
  return { skill: line.skill, show: line.show, children };
}

function freshFor(what) {
  if (what.picked || !(what.line || what.choices?.some((one) => OF_LINE.has(one.kind)))) return FRESH;
  return what.message && !what.message.asked ? UNASKED : NEXT_LINE;
}

const undoFirst = (choices) => [...choices].sort((a, b) => (b.kind === "undo") - (a.kind === "undo"));

export class Dock {
  /** `does`: tap(message, choice, line, missed), judge(line, missed), another(), takeBack(entry), close(), say(text). */
  constructor(does, buzz) {
    this.node = by("dock");
    this.does = does;
    this.buzz = buzz;
    this.missed = new Set();
    this.fresh = false;
    new ResizeObserver(() => this.toTheAnswers()).observe(this.node);
    this.node.addEventListener("click", (event) => {        // by a key too
      if (this.fresh && event.target.closest(".answers")) event.stopPropagation();
    }, true);
  }

  /** With large text not all of it may fit: the answers stay in reach. */
  toTheAnswers() {
    beforeNextFrame(() => { this.node.scrollTop = this.node.scrollHeight; });
  }

  draw(state, sheet) {
    const what = docked(state, sheet);
    const subject = JSON.stringify([what.message?.seq, what.line, what.busy, what.nothing, what.choices?.length]);
    if (subject !== this.subject) this.missed.clear();
    const undo = state.mine.findLast((one) => one.state !== "withdrawn");
    const lined = what.choices?.find((one) => one.line)?.line;
    const key = JSON.stringify([subject, [...this.missed], undo?.n, undo?.state, undo?.takeBack, sheet?.children.length,
      lined && left(sheet, lined).children, sheet?.class?.open]);
    if (key !== this.key) this.place(what, state, sheet, subject);
    this.key = key;
    return what.message?.seq;
  }

  place(what, state, sheet, subject) {
    const active = document.activeElement;
    const byKeys = this.node.contains(active) && active.matches(":focus-visible");
    const held = byKeys ? active.dataset.id ?? "" : active === document.body ? this.held ?? null : null;
    this.node.replaceChildren(...this.parts(what, state, sheet));
    this.toTheAnswers();
    if (held !== null) this.focus(held);
    this.held = held;       // while something is being sent there is nothing to hold it
    if (subject !== this.subject && this.subject !== undefined) this.guard(freshFor(what));
    this.subject = subject;
    this.showFresh();
  }

  focus(id) {
    const same = id && this.node.querySelector(`[data-id="${CSS.escape(id)}"]`);
    (same || this.node.querySelector(".answers button"))?.focus();
  }

  /** The answers can't be hit for a while, however often they are drawn meanwhile. */
  guard(milliseconds) {
    clearTimeout(this.timer);
    this.fresh = true;
    this.timer = setTimeout(() => { this.fresh = false; this.showFresh(); }, milliseconds);
  }

  showFresh() {
    this.node.querySelector(".answers")?.classList.toggle("fresh", this.fresh);
  }

  again(state, sheet) {
    this.key = null;
    this.draw(state, sheet);
  }

  parts(what, state, sheet) {
    const undoWaiting = this.undoWaiting(state);
    if (what.busy) return [el("p", { class: "about" }, "Sending …"), ...undoWaiting];
    if (what.line) return this.ofPlan(what, state, sheet, undoWaiting);
    if (what.nothing && sheet?.class && !sheet.class.open && sheet.me.role !== "helper" && !what.waits) {
      return [this.answers([button("Start", () => this.does.say("start"), { "data-id": "start" })])];
    }
    if (what.nothing) return [...(what.waits ? [el("p", { class: "about" }, "Kept here until the signal is back.")] : []), ...undoWaiting];
    return this.ofMessage(what, state, sheet);
  }

  // --- a message's choices ---

  ofMessage({ message, choices }, state, sheet) {
    const lined = choices.filter((one) => OF_LINE.has(one.kind) && one.line);
    const some = lined.find((one) => one.kind === "some");
    const all = lined.find((one) => one.kind === "answer" && one.verdict === "seen");
    const rest = choices.filter((one) => !lined.includes(one));
    const named = all && childOf(sheet, all.line.children[0]);
    if (!named) return [this.answers(choices.map((one) => this.choice(message, one)))];
    const line = left(sheet, all.line);
    if (!line.children.length && Date.parse(message.at) < Date.parse(sheet.now)) {
      return [this.about(sheet, all.line, state, "Judged meanwhile: "),
        this.answers([button("Next", () => this.does.say("next"), { "data-id": "next" })])];
    }
    const shown = line.children.length ? line : all.line;
    const tap = (choice, missed) => this.does.tap(message, choice, shown, missed);
    const none = lined.find((one) => one.kind === "answer" && one.verdict === "not yet");
    return [
      this.about(sheet, all.line, state),
      ...this.also(undoFirst(rest).map((one) => this.choice(message, one))),
      some && shown.children.length > 1 ? this.chips(state, sheet, shown) : "",
      this.answers([
        this.first(shown, () => (this.missed.size ? tap(some, this.places(some)) : tap(all, new Set()))),
        none ? button(none.label, () => tap(none, new Set(shown.children)), { "data-id": "none" }) : "",
      ]),
    ];
  }

  /** Who was picked: by their places in the line that the choice is about. */
  places(some) {
    return new Set(some.line.children.filter((child) => this.missed.has(child)));
  }

  choice(message, one) {
    return button(one.label, () => this.does.tap(message, one, one.line ?? null, one.verdict === "not yet"
      ? new Set(one.line?.children) : new Set()), { "data-id": one.id, class: LOOKS[one.kind] });
  }

  // --- a line of the phone's own plan ---

  ofPlan({ line, more, picked }, state, sheet, undoWaiting) {
    const others = picked ? button("Not now", () => this.does.close(), { "data-id": "close" })
      : more ? button("Another line", () => this.does.another(), { "data-id": "another" }) : "";
    return [
      this.about(sheet, line, state, picked ? "" : "By the plan: "),
      ...(undoWaiting.length ? undoWaiting : []),
      line.children.length > 1 ? this.chips(state, sheet, line) : "",
      this.answers([
        this.first(line, () => this.does.judge(line, new Set(this.missed))),
        button("None yet", () => this.does.judge(line, new Set(line.children)), { "data-id": "none" }), others,
      ]),
    ];
  }

  undoWaiting(state) {
    const last = state.mine.findLast((one) => one.state !== "withdrawn");
    if (!last?.marks?.length || last.state !== "waiting" || last.takeBack) return [];
    return this.also([button("Undo", () => this.does.takeBack(last), { class: "undo", "data-id": "undo" })]);
  }

  // --- parts ---

  about(sheet, line, state, before = "") {
    const skill = skillOf(sheet, line.skill);
    const which = skill?.shows?.length > 1 ? `, ${SHOWS[line.show - 1]}` : "";
    const key = `${line.skill} ${line.show} ${line.children.join()}`;
    if (this.toolKey !== key) {         // a timer that runs is not stopped by a name that is turned
      this.toolKey = key;
      this.tool = toolFor(skill?.shows?.[line.show - 1], this.buzz);
    }
    const alone = line.children.length === 1 ? `: ${nameOf(sheet, line.children[0])}` : "";
    return el("p", { class: "about" }, el("span", {}, `${before}${skill?.name ?? line.skill}${which}${alone}`), this.tool ?? "");
  }

  also(buttons) {
    return buttons.length ? [el("div", { class: "also" }, ...buttons)] : [];
  }

  chips(state, sheet, line) {
    const chip = (child) => {
      const not = this.missed.has(child);
      return el("button", {
        type: "button", "aria-pressed": String(not), "aria-label": `${nameOf(sheet, child)} not yet`, "data-id": `chip ${child}`,
        onclick: () => { if (!this.missed.delete(child)) this.missed.add(child); this.again(state, sheet); },
      }, el("b", {}, nameOf(sheet, child)), el("small", {}, not ? "✕ not yet" : "○"));
    };
    const few = [2, 4].includes(line.children.length) ? "chips few" : "chips";
    return el("fieldset", { class: few, "aria-label": "Turn who needs another go" }, ...line.children.map(chip));
  }

  first(line, save) {
    const not = this.missed.size;
    const label = not ? `Save: ${not} not yet` : line.children.length > 1 ? "All seen" : "Seen";
    return button(label, save, { class: not ? "miss" : "first", "data-id": "first" });
  }

  answers(buttons) {
    if (buttons[0] && !buttons.some((one) => one.className)) buttons[0].className = "first";
    return el("div", { class: "answers" }, ...buttons.filter(Boolean));
  }
}
