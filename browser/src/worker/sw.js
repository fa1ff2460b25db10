// Keeps the whole page on the device, so that it opens with the server gone. The build puts the list of files in.
const FILES = __FILES__;
const NAME = "page-" + __VERSION__;

self.addEventListener("install", (event) => {
  const keep = async () => {
    const cache = await caches.open(NAME);
    await cache.addAll(FILES.map((file) => new Request("/" + file, { cache: "no-cache" })));
    await self.skipWaiting();
  };
  event.waitUntil(keep());
});

self.addEventListener("activate", (event) => {
  const tidy = async () => {
    for (const name of await caches.keys()) if (name.startsWith("page-") && name !== NAME) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const file = url.pathname === "/" ? "index.html" : url.pathname.slice(1);
  if (!FILES.includes(file)) return; // the API and everything else: straight to the server
  const kept = async () => (await (await caches.open(NAME)).match("/" + file)) ?? fetch(event.request);
  event.respondWith(kept());
});
