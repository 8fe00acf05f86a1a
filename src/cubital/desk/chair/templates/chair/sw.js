/* Keeps the chair's page for when the network is cut. The data lie in the page's own store. */
"use strict";

const CACHE = "cubital-chair-{{ version }}";
const FILES = {{ files|safe }};
const PAGE = FILES[0];
const PATIENCE = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await Promise.all(FILES.slice(1).map(async (file) => {
      const answer = await fetch(file, { cache: "reload" });
      if (!answer.ok) throw new Error(file);
      await cache.put(file, answer);
    }));
    await keepPage(cache);
    await self.skipWaiting();
  })());
});

/* The page itself, if it is the page: not the way to sign in, not a refusal. */
async function keepPage(cache) {
  const answer = await fetch(PAGE, { cache: "no-store", credentials: "same-origin" });
  if (answer.ok && !answer.redirected) await cache.put(PAGE, answer);
}

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("cubital-chair-") && name !== CACHE) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET") return;
  const { pathname, origin } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (pathname === PAGE) event.respondWith(page(request));
  else if (FILES.includes(pathname)) event.respondWith(file(request, pathname));
});

async function file(request, pathname) {
  const cache = await caches.open(CACHE);
  return (await cache.match(pathname)) || fetch(request);
}

/* The desk's own answer as long as it comes in time; the kept page when it does not. */
async function page(request) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(PAGE);
  try {
    const answer = await fetch(request, kept ? { signal: AbortSignal.timeout(PATIENCE) } : {});
    if (answer.ok && !answer.redirected) await cache.put(PAGE, answer.clone());
    return answer;
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}
