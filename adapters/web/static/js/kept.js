// What is kept on the phone, in IndexedDB: what was said to its owner, what they said (sent or not), the class sheet.
// A tap is here before it is shown, and it is here until the server has answered it: nothing else may forget it.

const NAME = "sprung";
const KEEP = 300;       // so many messages of each kind are shown again when the page is opened

let opened;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("said", { keyPath: "seq" });
      request.result.createObjectStore("mine", { keyPath: "n", autoIncrement: true });
      request.result.createObjectStore("facts");
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

/** Do something in one transaction; what it returns, once that is on the disk. */
async function within(stores, work) {
  const transaction = (await database()).transaction(stores, "readwrite", { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
  const found = await work(...stores.map((name) => transaction.objectStore(name)));
  await done;
  return found;
}

function result(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** All of it, as the page begins with it. */
export async function everything() {
  return within(["said", "mine", "facts"], async (said, mine, facts) => {
    const [allSaid, allMine, keys, values] = await Promise.all([
      result(said.getAll()), result(mine.getAll()), result(facts.getAllKeys()), result(facts.getAll()),
    ]);
    return { said: allSaid, mine: allMine, facts: Object.fromEntries(keys.map((key, at) => [key, values[at]])) };
  });
}

/** Keep something that was typed or tapped; with the number that says when its turn is. */
export function keepMine(one) {
  return within(["mine"], async (mine) => ({ ...one, n: await result(mine.add(one)) }));
}

/** It was sent, refused, or taken back. */
export function changeMine(one) {
  return within(["mine"], (mine) => result(mine.put(one)));
}

/** What the server answered, and with it that what was answered is done: both or neither. */
export function keepAnswer(said, one) {
  return within(["said", "mine"], async (kept, mine) => {
    for (const message of said) kept.put(message);
    if (one) mine.put(one);
  });
}

export function keepFact(name, value) {
  return within(["facts"], (facts) => result(facts.put(value, name)));
}

/** Let go of what is old; never of what waits. */
export function tidy(said, mine) {
  const seqs = said.slice(0, -KEEP).map((one) => one.seq);
  const done = mine.filter((one) => one.state !== "waiting").slice(0, -KEEP).map((one) => one.n);
  if (!seqs.length && !done.length) return undefined;
  return within(["said", "mine"], async (keptSaid, keptMine) => {
    for (const seq of seqs) keptSaid.delete(seq);
    for (const n of done) keptMine.delete(n);
  });
}

/** Somebody has signed out: nothing of the class stays on this phone. What could not be sent stays, for its sender. */
export function forget() {
  return within(["said", "mine", "facts"], async (said, mine, facts) => {
    said.clear();
    facts.clear();
    for (const one of await result(mine.getAll())) if (one.state !== "waiting") mine.delete(one.n);
  });
}
