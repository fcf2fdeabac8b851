// The page, wired together: what is kept, what goes out, what comes in, and what is shown of it.

import * as time from "./clock.js";
import * as kept from "./kept.js";
import * as notify from "./notify.js";
import { afterNextFrame, by } from "./dom.js";
import { Dock } from "./dock.js";
import { foreseen, inWords, marksOf, nameOf } from "./foresee.js";
import { Link } from "./link.js";
import { Post, ask, newId } from "./post.js";
import { Record } from "./record.js";
import { Rests } from "./rests.js";
import { Typing } from "./typing.js";
import { applySettings, openCard, openSettings, openSheet, settings } from "./views.js";

const state = {
  said: [], mine: [], sheet: null, cards: {}, who: null, me: null,
  linked: false, out: false, picked: null, skipped: 0,
};
const others = new BroadcastChannel("sprung");

let drawn = null;       // the sheet that is shown, where it is
let docked;             // the message whose choices are in the dock
let taking = false;     // from what is said until the dock is that of what comes after it

function take(begun) {
  taking = begun;
  by("dock").setAttribute("aria-busy", String(begun));
}

// --- what is shown ---------------------------------------------------------------------------------

const seen = () => foreseen(state.sheet, state.mine);
const record = new Record((message, choice) => tap(message, choice, choice.line ?? null, missedBy(choice)), draw);
const dock = new Dock({
  tap: unlessTaking(tap), judge: unlessTaking(judge), takeBack: unlessTaking(takeBack), another, close: () => pick(null),
  say: unlessTaking((text) => say({ text, label: text })),
}, signal);
const rests = new Rests((ring) => pick({ skill: ring.skill, show: ring.show, children: ring.children }), restOver);
const typing = new Typing(() => state.sheet, (text) => say({ text, label: text }));

function draw() {
  if (record.holds()) return;
  const sheet = seen();
  const inside = Boolean(state.who) && !state.out && !coming();
  by("talk").hidden = by("say").hidden = !inside;
  by("come-in").hidden = inside;
  by("where").textContent = sheet?.class?.name ?? sheet?.me?.club ?? "Sprung";
  drawLink();
  if (!inside) return;
  const judges = Boolean(sheet?.skills?.length);
  by("open-sheet").hidden = by("open-card").hidden = !judges;
  by("typed").placeholder = judges ? "ava seen" : "";
  rests.draw(sheet);
  if (by("sheet").open && drawn !== state.sheet) openSheet(sheet, card);
  drawn = state.sheet;
  docked = dock.draw(state, sheet);
  record.draw(state.said, state.mine, docked);
}

function drawLink() {
  const waiting = post.waiting().length;
  const words = !state.who || state.out ? "" : state.linked && !waiting ? "● Connected"
    : state.linked ? `◌ Sending ${waiting}` : waiting ? `○ No signal, ${waiting} waiting` : "○ No signal";
  if (by("link").textContent !== words) by("link").textContent = words;
  by("link").classList.toggle("waits", waiting > 0 || !state.linked);
}

function announce(messages) {
  for (const one of messages) {
    const row = document.createElement("p");
    row.textContent = one.text;
    by("heard").append(row);
  }
  while (by("heard").childElementCount > 12) by("heard").firstElementChild.remove();
}

/** A second tap on what a first one has answered was not meant for it. */
function unlessTaking(does) {
  return (...given) => { if (!taking) does(...given); };
}

// --- what is said ------------------------------------------------------------------------------------

/**
 * Kept first, then shown, then sent. `more`: text or choice, label, and what it comes to as far as we know.
 * The eye has its answer in the record; what else changes by it may come a frame later.
 */
async function say(more) {
  take(true);
  try {
    const one = { id: newId(), who: state.who, at: time.now(), state: "waiting", reason: "", ...more };
    state.mine.push(await kept.keepMine(one));
  } catch (fault) {
    take(false);
    throw fault;
  }
  state.picked = null;
  state.skipped = 0;
  drawLink();
  record.draw(state.said, state.mine, docked);
  afterNextFrame(() => {
    take(false);
    draw();
    others.postMessage("changed");
    post.run();
  });
  setTimeout(draw, 1600);     // by then the plan's next line may be wanted
}

function missedBy(choice) {
  if (choice.kind === "again") return new Set([choice.child]);
  return choice.verdict === "not yet" ? new Set(choice.line?.children) : new Set();
}

/** A choice of a message. `missed`: who of its line is not yet. */
function tap(message, choice, line, missed) {
  const picked = choice.kind === "some" && missed.size;
  const places = picked ? choice.line.children.map((child, at) => (missed.has(child) ? at + 1 : 0)).filter(Boolean) : [];
  const marks = choice.kind === "answer" || picked ? marksOf(line, missed) : [];
  return say({
    choice: picked ? `${choice.id}~${places.join(".")}` : choice.id,
    label: labelOf(choice, line, missed, marks), marks, gone: choice.kind === "watch" ? choice.line : undefined,
  });
}

function labelOf(choice, line, missed, marks) {
  if (!marks.length || !state.sheet) return choice.label;
  const names = (children) => children.map((child) => nameOf(state.sheet, child)).join(", ");
  const rest = line.children.filter((child) => !missed.has(child));
  if (choice.kind === "answer") return `${choice.label}: ${names(line.children)}`;
  return rest.length ? `${names([...missed])} not yet; ${names(rest)} seen` : `${names([...missed])} not yet`;
}

/** A line of the phone's own plan: said in words that mean the same without it. */
function judge(line, missed) {
  const text = inWords(state.sheet, line, missed);
  return say({ text, label: text, marks: marksOf(line, missed) });
}

function another() {
  state.skipped += 1;
  draw();
}

function pick(line) {
  state.picked = line;
  draw();
}

/** What waits is taken back here; what the server may have already is taken back as soon as it has answered. */
async function takeBack(one) {
  if (one.tried) one.takeBack = true;
  else one.state = "withdrawn";
  await kept.changeMine(one);
  others.postMessage("changed");
  draw();
}

// --- what becomes of it --------------------------------------------------------------------------------

const post = new Post(state, {
  answered(one, answer) {
    one.until = Date.parse(answer.now);
    time.heard(answer.now);
    merge(answer.said);
    const undo = one.takeBack && answer.said.flatMap((said) => said.choices).find((choice) => choice.kind === "undo");
    if (undo) say({ choice: undo.id, label: undo.label });
    others.postMessage("changed");
    link.now();
    draw();
  },
  refused() {
    others.postMessage("changed");
    draw();
  },
  unreachable() {
    link.doubt();
    draw();
  },
  signedOut,
});

const link = new Link(() => state.said.at(-1)?.seq ?? 0, {
  heard(news) {
    if (!state.linked) { state.linked = true; post.failures = 0; post.run(); }
    if (time.heard(news.now)) kept.keepFact("offset", time.known());
    if (news.said?.length) {
      const fresh = merge(news.said);
      if (fresh.length) kept.keepAnswer(fresh, null);
    }
    if (news.sheet) takeSheet(news.sheet);
    draw();
  },
  link(there) {
    if (state.linked === there) return;
    state.linked = there;
    draw();
  },
  signedOut,
});

/** Messages that are new here, in their place; each is read out once. */
function merge(messages) {
  const known = new Set(state.said.map((one) => one.seq));
  const fresh = messages.filter((one) => !known.has(one.seq));
  if (!fresh.length) return fresh;
  state.said.push(...fresh);
  state.said.sort((a, b) => a.seq - b.seq);
  announce(fresh);
  return fresh;
}

function takeSheet(sheet) {
  if (!sheet.me) return;
  const before = state.sheet?.skills.map((one) => one.id).join();
  state.sheet = sheet;
  state.who = sheet.me.id;
  state.me = sheet.me;
  kept.keepFact("sheet", sheet);
  if (before !== sheet.skills.map((one) => one.id).join() || !Object.keys(state.cards).length) fetchCards();
}

async function fetchCards() {
  const answer = await ask("/web/cards").catch(() => null);
  if (answer?.status !== 200) return;
  state.cards = answer.body.cards;
  kept.keepFact("cards", state.cards);
}

// --- coming in and going out ------------------------------------------------------------------------------

const coming = () => new URLSearchParams(location.hash.slice(1)).get("join");

function signedOut() {
  state.out = true;
  state.linked = false;
  link.stop();
  draw();
}

async function join(event) {
  event.preventDefault();
  const code = by("code").value.trim().replace(/^join\s+/i, "");     // as it is said on the slip
  const attempt = sessionStorage.getItem("sprung-attempt") ?? newId();
  sessionStorage.setItem("sprung-attempt", attempt);
  by("join-problem").textContent = "";
  const answer = await ask("/web/join", { code, attempt }).catch(() => ({ status: 0 }));
  if (answer.status !== 204) {
    by("join-problem").textContent = answer.status ? answer.body?.detail ?? "That did not work." : "No signal just now. Try again.";
    return;
  }
  sessionStorage.removeItem("sprung-attempt");
  by("code").value = "";
  history.replaceState(null, "", "/");
  await begin();
}

/** Ask who we are; go on where we were, or begin anew where this is somebody else. */
async function begin() {
  const answer = await ask("/web/sheet").catch(() => ({ status: 0 }));
  if (answer.status === 401) return signedOut();
  if (answer.status === 200) {
    if (state.who && answer.body.me && state.who !== answer.body.me.id) await startAnew();
    state.out = false;
    if (time.heard(answer.body.now)) kept.keepFact("offset", time.known());
    takeSheet(answer.body);
    if (!state.mine.length) state.mine = own((await kept.everything()).mine);
  }
  link.stop();
  link.start();
  post.run();
  return draw();
}

async function startAnew() {
  await kept.forget();
  notify.end();
  Object.assign(state, { said: [], mine: [], sheet: null, cards: {}, who: null, me: null, picked: null, offered: null });
  for (const id of ["heard", "sheet", "card"]) by(id).replaceChildren();      // no name stays on the page either
  rests.draw(null);
  record.draw([], [], null);
  dock.draw(state, null);
  typing.put("");
}

const account = () => state.who && !state.out && {
  name: state.me?.name ?? "",
  phones: async () => (await ask("/web/phones")).body,
  unsubscribe,
  end: (id) => ask("/web/phones/end", { id }),
  out: leave,
};

/** No word any more while the page is closed; a sentence where that did not work. */
async function unsubscribe() {
  const answer = await ask("/web/phones/subscribe", { to: null }).catch(() => null);
  if (answer?.status !== 204) return "No signal just now. Try again.";
  await notify.end();
  return "";
}

async function leave(everywhere) {
  const waiting = post.waiting().length;
  if (waiting && !confirm(`${waiting} of what you said is not sent yet. Sign out all the same? It stays on this phone.`)) return;
  const answer = await ask("/web/out", { everywhere }).catch(() => ({ status: 0 }));
  if (answer.status !== 204 && answer.status !== 401) return alert("No signal just now. Sign out when it is back.");
  by("settings").close();
  await startAnew();
  others.postMessage("changed");
  return signedOut();
}

// --- a rest is over ---------------------------------------------------------------------------------------

function signal() {
  if (settings.buzz) navigator.vibrate?.(200);
}

function restOver() {
  signal();
  draw();
  if (!settings.sound) return;
  const audio = new AudioContext();
  const tone = audio.createOscillator();
  tone.frequency.value = 880;
  tone.connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + 0.15);
  tone.onended = () => audio.close();
}

// --- from the start ---------------------------------------------------------------------------------------

/** What somebody else said on this phone, and could not send, is not ours to show or send. */
const own = (mine) => mine.filter((one) => one.who === state.who);

async function load() {
  const found = await kept.everything();
  state.said = found.said;
  state.sheet = found.facts.sheet ?? null;
  state.cards = found.facts.cards ?? {};
  state.me = state.sheet?.me ?? null;
  state.who = state.me?.id ?? null;
  state.mine = own(found.mine);
  time.ofBefore(found.facts.offset);
}

function listen() {
  by("join").addEventListener("submit", join);
  by("open-sheet").addEventListener("click", () => openSheet(seen(), card));
  by("open-card").addEventListener("click", () => card(null));
  by("open-settings").addEventListener("click", () => openSettings(account()));
  addEventListener("online", () => { link.now(); post.run(); });
  addEventListener("offline", () => link.doubt());
  addEventListener("hashchange", showCode);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { link.now(); post.run(); draw(); } });
  others.addEventListener("message", async () => { if (!post.running) { await load(); draw(); } });
}

function card(which) {
  const line = state.said.findLast((one) => one.choices.some((choice) => choice.line))?.choices.find((one) => one.line)?.line;
  openCard(state.sheet, state.cards, which ?? state.picked?.skill ?? line?.skill);
}

function showCode() {
  if (coming()) by("code").value = coming();
  draw();
}

applySettings();
listen();
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => undefined);
await load();
showCode();
if (!coming()) await begin();
kept.tidy(state.said, state.mine);
document.documentElement.dataset.ready = "yes";
