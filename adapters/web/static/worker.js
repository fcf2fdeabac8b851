// The service worker: the page itself is there without a signal, and word comes while it is closed. VERSION and FILES
// are put before this by the server. What is said and seen is not kept here: that is the page's own, in IndexedDB.

const CACHE = `sprung-${VERSION}`;

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(forgetOlder().then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const path = event.request.mode === "navigate" ? "/" : url.pathname;
  if (FILES.includes(path)) event.respondWith(kept(path, event.request));
});

/** The file as it was kept; from the server where the browser has thrown it away. */
async function kept(path, request) {
  return (await caches.match(path, { cacheName: CACHE })) ?? fetch(request);
}

async function forgetOlder() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("sprung-") && name !== CACHE).map((name) => caches.delete(name)));
}

// --- word while the page is closed: a lock screen is for all eyes, so it names nobody ---

self.addEventListener("push", (event) => event.waitUntil(told(event.data?.json().text ?? "There is something new.")));

/** Whoever looks at the page is told there. */
async function told(body) {
  const pages = await self.clients.matchAll({ type: "window" });
  if (pages.some((page) => page.visibilityState === "visible")) return;
  await self.registration.showNotification("Sprung", { body, tag: "sprung", renotify: true, icon: "/icons/192.png" });
}

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil(opened());
});

async function opened() {
  const [page] = await self.clients.matchAll({ type: "window" });
  return page ? page.focus() : self.clients.openWindow("/");
}
