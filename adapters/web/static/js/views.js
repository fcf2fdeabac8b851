// The sheets over the page: the class sheet, the standard cards, the settings. Each closes where the thumb is.

import * as notify from "./notify.js";
import { button, by, el } from "./dom.js";
import { now } from "./clock.js";
import { standing } from "./foresee.js";
import { tapping } from "./tempo.js";

const LOOKS = {     // a shape and a word for each standing: never a colour alone
  untried: ["·", ""], owed: ["◐", "part"], resting: ["◔", "rests"], ready: ["◕", "ready"],
  ticked: ["■", "done"], retest: ["↻", "retest"], again: ["✕", "not yet"],
};

function opened(id, title, body, foot) {
  const dialog = by(id);
  const was = dialog.open ? dialog.querySelector(".body") : null;
  const [top, left] = [was?.scrollTop ?? 0, was?.scrollLeft ?? 0];
  const close = button("Close", () => dialog.close(), { class: "first" });
  dialog.replaceChildren(
    el("h2", { id: `${id}-title` }, title), el("div", { class: "body", tabindex: "0" }, ...body),
    el("div", { class: "foot" }, ...foot, close),
  );
  if (!dialog.open) dialog.showModal();
  dialog.querySelector(".body").scrollTo(left, top);
  return dialog;
}

// --- the class sheet ---

export function openSheet(sheet, openCard) {
  if (!sheet?.class) return opened("sheet", "Class sheet", [el("p", {}, "No class of yours is known on this phone yet.")], []);
  const several = (skill) => sheet.children.filter((child) => sheet.marks[child.id]?.[skill.id]).length;
  const skills = sheet.skills.filter(several).sort((a, b) => several(b) - several(a));
  const head = el("tr", {}, el("th", { scope: "col" }, "Child"),
    ...skills.map((skill) => el("th", { scope: "col" }, button(skill.name, () => openCard(skill.id)))));
  const rows = sheet.children.map((child) => el("tr", {},
    el("th", { scope: "row", class: child.here ? null : "away" }, child.here ? child.name : `${child.name} (away)`),
    ...skills.map((skill) => cell(sheet, child, skill))));
  return opened("sheet", `${sheet.class.name}`, [key(), el("table", {}, el("thead", {}, head), el("tbody", {}, ...rows))], []);
}

function cell(sheet, child, skill) {
  const one = standing(sheet, child.id, skill.id, now());
  const [shape, word] = one ? LOOKS[one.is] : ["", ""];
  const second = one?.show === 2 && one.is !== "ticked" ? " 2nd" : "";
  return el("td", { class: one?.is }, el("span", { class: "shape", "aria-hidden": "true" }, shape),
    word ? word + second : el("span", { class: "unseen" }, one ? "not tried" : "not asked"));
}

const key = () => el("ul", { class: "key" }, ...Object.values(LOOKS).filter(([, word]) => word)
  .map(([shape, word]) => el("li", {}, el("span", { "aria-hidden": "true" }, `${shape} `), word)));

// --- a standard card ---

export function openCard(sheet, cards, which) {
  const skills = sheet?.skills.filter((skill) => cards[skill.id]) ?? [];
  if (!skills.length) return opened("card", "The standard", [el("p", {}, "No card is kept on this phone yet.")], []);
  const shown = skills.find((skill) => skill.id === which) ?? skills[0];
  const choose = el("select", { "aria-label": "Skill", onchange: (event) => openCard(sheet, cards, event.target.value) },
    ...skills.map((skill) => el("option", { value: skill.id, selected: skill === shown }, skill.name)));
  const counted = shown.shows?.find((show) => show.eights || show.bpm);
  const dialog = opened("card", "The standard",
    [el("p", { class: "card-text" }, cards[shown.id]), counted ? tapping(counted.bpm) : ""], [choose]);
  dialog.querySelector(".body").scrollTop = 0;
  return dialog;
}

// --- settings ---

const SETTINGS = "sprung-settings";
const USUAL = { theme: "auto", hand: "right", buzz: false, sound: false };

export const settings = { ...USUAL, ...JSON.parse(localStorage.getItem(SETTINGS) ?? "{}") };

export function applySettings() {
  const root = document.documentElement;
  root.dataset.theme = settings.theme;
  root.dataset.hand = settings.hand;
}

function set(name, value) {
  settings[name] = value;
  localStorage.setItem(SETTINGS, JSON.stringify(settings));
  applySettings();
}

const choices = (legend, name, options) => el("fieldset", {}, el("legend", {}, legend), ...options.map(([value, label]) =>
  el("label", {}, el("input", { type: "radio", name, value, checked: settings[name] === value, onchange: () => set(name, value) }), label)));

const toggle = (name, label) => el("label", {},
  el("input", { type: "checkbox", checked: settings[name], onchange: (event) => set(name, event.target.checked) }), label);

/** `account`: {name, phones(), end(id), out(everywhere)} of whoever is signed in. */
export function openSettings(account) {
  const list = el("ul", { "aria-label": "Phones that are signed in" });
  const closed = el("div", {});
  const body = [
    choices("Light or dark", "theme", [["auto", "As the phone"], ["light", "Light"], ["dark", "Dark"]]),
    choices("Thumb", "hand", [["right", "Right hand"], ["left", "Left hand"]]),
    el("fieldset", {}, el("legend", {}, "When a rest is over"), toggle("buzz", "Vibrate"), toggle("sound", "A short sound"), closed),
    account ? el("fieldset", {}, el("legend", {}, `Signed in as ${account.name}`), list,
      el("div", { class: "row" }, button("Sign out here", () => account.out(false)),
        button("Sign out everywhere", () => account.out(true)))) : "",
  ];
  account?.phones().then(({ phones = [], key }) => {
    list.replaceChildren(...phones.map((one) => phoneRow(one, account)));
    if (key && notify.possible()) closed.replaceChildren(...whileClosed(account, key, phones.find((one) => one.here)));
  }).catch(() => list.replaceChildren(el("li", {}, "No signal just now.")));
  return opened("settings", "Settings", body, []);
}

function whileClosed(account, key, here) {
  const problem = el("p", { role: "alert" });
  const box = el("input", { type: "checkbox", checked: here?.subscribed, onchange: async () => {
    problem.textContent = await (box.checked ? notify.begin(key) : account.unsubscribe());
    if (problem.textContent) box.checked = !box.checked;
  } });
  return [el("label", {}, box, "Tell me while this page is closed (no names)"), problem];
}

function phoneRow(one, account) {
  const since = new Date(one.since).toLocaleDateString();
  return el("li", {}, one.here ? `This phone, since ${since}` : `Another phone, since ${since}`,
    one.here ? "" : button("Sign it out", () => account.end(one.id).then(() => openSettings(account))));
}
