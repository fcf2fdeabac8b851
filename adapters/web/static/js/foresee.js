// What the class sheet will be once all that waits has been sent: pure functions over the last sheet we were given.
// It is a guess for the eye alone. What a mark means is decided by the server, when it gets it.

const TOLERANCE = 3000;     // the server's own: so much before its end a rest is taken as over

/** The sheet with the marks of what waits laid over it. */
export function foreseen(sheet, mine) {
  if (!sheet) return null;
  const marks = structuredClone(sheet.marks);
  for (const one of mine) {
    if (one.state !== "waiting" || one.takeBack) continue;
    for (const mark of one.marks ?? []) lay(sheet, marks, mark, one.at);
  }
  return { ...sheet, marks };
}

function lay(sheet, marks, mark, at) {
  const skill = skillOf(sheet, mark.skill);
  if (!skill?.shows) return;
  const ofChild = (marks[mark.child] ??= {});
  const before = ofChild[mark.skill] ?? { is: "untried", show: 1 };
  if (before.is === "ticked" || before.show !== mark.show) return;
  ofChild[mark.skill] = after(skill, mark, at);
}

function after(skill, mark, at) {
  if (mark.verdict === "not yet") return { is: "again", show: 1 };
  if (mark.show >= skill.shows.length) return { is: "ticked", show: mark.show };
  const rest = skill.shows[mark.show].rest_s ?? 0;
  return { is: "resting", show: mark.show + 1, rested_at: new Date(at + rest * 1000).toISOString() };
}

export const skillOf = (sheet, id) => sheet?.skills.find((one) => one.id === id);
export const childOf = (sheet, id) => sheet?.children.find((one) => one.id === id);
export const nameOf = (sheet, id) => childOf(sheet, id)?.name ?? "?";

/** How a child stands now: a rest that is over is no rest. */
export function standing(sheet, child, skill, now) {
  const found = sheet.marks[child]?.[skill];
  if (!found) return null;
  return found.is === "resting" && Date.parse(found.rested_at) <= now ? { ...found, is: "ready" } : found;
}

/** Who rests, or has just rested: those whose rests end together on one skill are one ring. */
export function rests(sheet, now) {
  const found = [];
  for (const [child, skills] of Object.entries(sheet?.marks ?? {})) {
    for (const [skill, one] of Object.entries(skills)) {
      const over = Date.parse(one.rested_at ?? "");
      if ((one.is === "resting" || one.is === "ready") && over > now - 30 * 60000) {
        found.push({ child, skill, show: one.show, over });
      }
    }
  }
  found.sort((a, b) => a.over - b.over);
  return together(sheet, found);
}

function together(sheet, found) {
  const rings = [];
  for (const one of found) {
    const same = rings.find((ring) => ring.skill === one.skill && ring.show === one.show && one.over - ring.over < 15000);
    if (same) {
      same.children.push(one.child);
      same.last = one.over;
    } else {
      const whole = (skillOf(sheet, one.skill)?.shows?.[one.show - 1]?.rest_s ?? 60) * 1000;
      rings.push({ skill: one.skill, show: one.show, over: one.over, last: one.over, whole, children: [one.child] });
    }
  }
  return rings;
}

/** The lines of the plan that can still be watched now, those first that come first. `busy`: who rests or stands. */
export function linesAhead(sheet, now) {
  const lines = [];
  for (const turn of sheet?.plan ?? []) {
    const children = turn.children.filter((child) => canShow(sheet, child, turn, now));
    if (children.length) lines.push({ skill: turn.skill, show: turn.show, children });
  }
  return lines;
}

function canShow(sheet, child, turn, now) {
  const one = standing(sheet, child, turn.skill, now) ?? { is: "untried", show: 1 };
  if (one.is === "ticked" || one.is === "again" || one.show !== turn.show || !childOf(sheet, child)?.here) return false;
  if (one.is === "resting" && Date.parse(one.rested_at) > now + TOLERANCE) return false;
  return skillOf(sheet, turn.skill)?.light || !restsFromAnother(sheet, child, turn.skill, now);
}

function restsFromAnother(sheet, child, skill, now) {
  return Object.entries(sheet.marks[child] ?? {}).some(
    ([other, one]) => other !== skill && one.is === "resting" && Date.parse(one.rested_at) > now,
  );
}

/** The marks that an answer to a line comes to, as far as the phone can tell. `missed`: who is not yet. */
export function marksOf(line, missed) {
  return line.children.map((child) => ({
    child, skill: line.skill, show: line.show, verdict: missed.has(child) ? "not yet" : "seen",
  }));
}

/** The same as a message that can be read without the line: every child by her whole name, the skill, the show. */
export function inWords(sheet, line, missed) {
  const skill = skillOf(sheet, line.skill);
  const show = skill.shows.length > 1 ? ` show ${line.show}` : "";
  const named = (children) => children.map((child) => childOf(sheet, child).whole).join(", ");
  const seen = line.children.filter((child) => !missed.has(child));
  const not = line.children.filter((child) => missed.has(child));
  return [
    seen.length ? `${named(seen)} seen ${skill.name.toLowerCase()}${show}` : "",
    not.length ? `${named(not)} not yet ${skill.name.toLowerCase()}${show}` : "",
  ].filter(Boolean).join("; ");
}

/** What a half-typed word could become: [whole text, what to show]. */
export function completions(sheet, text, words) {
  const part = /[^\s,;:]*$/u.exec(text)[0];
  if (!part || !sheet) return [];
  const wanted = fold(part);
  const names = sheet.children.filter((one) => one.here !== false).map((one) => one.name);
  const skills = sheet.skills.flatMap((one) => [one.name.toLowerCase(), ...(one.words ?? [])]);
  const fits = (word) => fold(word).startsWith(wanted) && fold(word) !== wanted;
  return [...new Set([...names.filter(fits), ...words.filter(fits), ...skills.filter(fits)])].slice(0, 6)
    .map((word) => [text.slice(0, text.length - part.length) + word + " ", word]);
}

const fold = (text) => text.normalize("NFD").replace(/[\u0300-\u036f]/gu, "").replace(/ł/gu, "l").toLowerCase();
