// Making elements. Text goes in as text: nothing that somebody typed is ever read as markup.

/** `el("button", { class: "first", onclick }, "All seen")` */
export function el(tag, given = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((one) => one !== null && one !== undefined && one !== ""));
  return made;
}

export const button = (label, onclick, given = {}) => el("button", { type: "button", onclick, ...given }, label);

export const by = (id) => document.getElementById(id);

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag, given = {}, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}
