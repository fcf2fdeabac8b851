// A hold timer and a tempo count, where a show asks for seconds or for counts of eight.

import { el } from "./dom.js";

/** A button for what this show asks, or nothing. `buzz` lets the phone shake. */
export function toolFor(show, buzz) {
  if (show?.eights && show.bpm) return counting(show.eights, (show.bpm[0] + show.bpm[1]) / 2, buzz);
  if (show?.hold_s) return holding(show.hold_s, buzz);
  return null;
}

function holding(seconds, buzz) {
  const rest = `Hold ${seconds} s`;
  return running(rest, (began) => {
    const held = (performance.now() - began) / 1000;
    return held < seconds ? held.toFixed(1) : held < seconds + 2 ? `${seconds} s held` : null;
  }, buzz);
}

function counting(eights, bpm, buzz) {
  const beat = 60000 / bpm;
  return running(`Count ${eights} × 8`, (began) => {
    const n = Math.floor((performance.now() - began) / beat);
    return n < eights * 8 ? `${Math.floor(n / 8) + 1} · ${(n % 8) + 1}` : null;
  }, buzz);
}

/** A button that runs until it is done, or is tapped again. `shows(began)`: what it says, null at the end. */
function running(label, shows, buzz) {
  let timer = null;
  const node = el("button", { type: "button", class: "beat" }, label);
  const stop = () => {
    clearInterval(timer);
    timer = null;
    node.classList.remove("on");
    node.textContent = label;
  };
  node.addEventListener("click", () => {
    if (timer) return stop();
    const began = performance.now();
    node.classList.add("on");
    const tick = () => {
      const words = node.isConnected ? shows(began) : null;
      if (words === null) { stop(); buzz(); } else node.textContent = words;
    };
    timer = setInterval(tick, 50);
    return tick();
  });
  return node;
}
