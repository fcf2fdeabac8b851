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

/** What looks at sizes waits until all is in place: each look before that would have the phone measure all anew. */
export const beforeNextFrame = (work) => requestAnimationFrame(work);

/** What need not be done before the eye has its answer; done all the same where the page is out of sight. */
export function afterNextFrame(work) {
  let done = false;
  const once = () => { if (!done) { done = true; work(); } };
  requestAnimationFrame(() => setTimeout(once));
  setTimeout(once, 100);
}

const SVG = "http://www.w3.org/2000/svg";

export function svg(tag, given = {}, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(given)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}
