// Tapping the tempo: how many beats a minute somebody taps along with.

import { button, el } from "./dom.js";

const FEW = 4, KEPT = 16, PAUSE = 2500, ODD = 0.15;    // taps, taps, milliseconds, part of the median

const median = (all) => [...all].sort((a, b) => a - b)[all.length >> 1];

/** Beats a minute of taps at these milliseconds; null while there are too few. A tap left out or doubled is not minded. */
export function tempoOf(taps) {
  const gaps = taps.slice(1).map((at, n) => at - taps[n]);
  if (taps.length < FEW) return null;
  const middle = median(gaps);
  const even = gaps.filter((gap) => Math.abs(gap - middle) <= middle * ODD);
  return 60000 * even.length / even.reduce((sum, gap) => sum + gap, 0);
}

/** A button to tap along on, and what comes of it. `band`: the slowest and the quickest that the standard asks for. */
export function tapping(band) {
  const said = el("p", { role: "status" });
  const asked = band ? band[0] === band[1] ? `${band[0]}` : `${band[0]} to ${band[1]}` : "";
  let taps = [];
  const tap = (at) => {
    taps = [...(at - taps.at(-1) > PAUSE ? [] : taps), at].slice(-KEPT);
    const tempo = tempoOf(taps);
    said.textContent = tempo ? words(Math.round(tempo), band, asked) : "Go on tapping …";
  };
  const pad = button("Tap the tempo", (event) => { if (!event.detail) tap(event.timeStamp); });   // by a keyboard
  pad.addEventListener("pointerdown", (event) => tap(event.timeStamp));
  return el("div", { class: "tempo" }, pad, said);
}

function words(tempo, band, asked) {
  const where = !band ? "" : tempo < band[0] ? `, slower than ${asked}` : tempo > band[1] ? `, quicker than ${asked}` : `, within ${asked}`;
  return `${tempo} beats a minute${where}`;
}
