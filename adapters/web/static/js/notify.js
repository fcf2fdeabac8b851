// Word while the page is closed, by the push service of the browser's maker: only where the club has set it up, and only
// once its owner asked for it on this phone.

import { ask } from "./post.js";

/** Can this browser do it? (A page that came by plain http can not.) */
export const possible = () => window.isSecureContext
  && ["PushManager", "Notification"].every((one) => one in window) && "serviceWorker" in navigator;

const registration = () => navigator.serviceWorker.ready;

/** Begin; a sentence where it can't be done. `key`: by which the push service will know our server. */
export async function begin(key) {
  if (await Notification.requestPermission() !== "granted") return "This browser keeps it off. Allow notifications for this page in its settings.";
  try {
    const made = (await (await registration()).pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key })).toJSON();
    const answer = await ask("/web/phones/subscribe", { to: { endpoint: made.endpoint, ...made.keys } });
    return answer.status === 204 ? "" : answer.body?.detail ?? "That did not work.";
  } catch {
    return "No signal just now. Try again.";
  }
}

/** No longer on this phone; whoever comes in here next has not asked for it. */
export async function end() {
  if (!possible()) return;
  try {
    await (await (await registration()).pushManager.getSubscription())?.unsubscribe();
  } catch {
    // the server has let go of it already, so nobody writes there any more
  }
}
