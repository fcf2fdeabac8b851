// The text box: anything can be typed at any time; names and skills are completed as they are typed.

import { button, by } from "./dom.js";
import { completions } from "./foresee.js";

const WORDS = ["seen", "not yet", "all seen", "none yet", "away", "here", "owed", "next", "undo", "pause", "carry on",
  "close", "plan", "resting", "standard", "skip", "start", "help"];
const DRAFT = "sprung-draft";

export class Typing {
  /** `sheet()`: the sheet now; `say(text)`: it is sent. */
  constructor(sheet, say) {
    this.field = by("typed");
    this.row = by("completions");
    this.sheet = sheet;
    this.field.value = sessionStorage.getItem(DRAFT) ?? "";
    this.field.addEventListener("input", () => this.changed());
    by("say").addEventListener("submit", (event) => {
      event.preventDefault();
      const text = this.field.value.trim();
      if (!text) return;
      this.put("");
      say(text);
    });
  }

  changed() {
    sessionStorage.setItem(DRAFT, this.field.value);
    const found = completions(this.sheet(), this.field.value, WORDS);
    this.row.hidden = !found.length;
    this.row.replaceChildren(...found.map(([whole, word]) => button(word, () => { this.put(whole); this.field.focus(); })));
  }

  put(text) {
    this.field.value = text;
    this.changed();
  }
}
