// The hall's time: the phone's own clock, put right by the server's whenever we hear from it.

let offset = 0;
const NOTICEABLE = 250;

/** Milliseconds since 1970, by the server's clock as far as we know it. */
export const now = () => Date.now() + offset;

/** The server has just said what time it is there. Is that news? */
export function heard(instant) {
  const found = Date.parse(instant) - Date.now();
  if (Math.abs(found - offset) < NOTICEABLE) return false;
  offset = found;
  return true;
}

export const ofBefore = (kept) => { offset = kept ?? 0; };
export const known = () => offset;

export const iso = (at) => new Date(at).toISOString();

const FORMAT = new Intl.DateTimeFormat([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });

export const clock = (at) => FORMAT.format(at);

/** `1:05`; what is over is `0:00`. */
export function minutes(milliseconds) {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
