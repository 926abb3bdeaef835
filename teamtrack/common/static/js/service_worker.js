// Opens without signal what was opened before. RELEASE (version, files, the page said without signal) is put before this text.
// Pages are kept per person: who is signed in is said by the server with each page, and only that person's are served.
const STATIC = `static-${RELEASE.version}`;
const HASHED = /\.[0-9a-f]{12}\.\w+$/;
const NO_ANSWER_MS = 8000;
const WHO = "/phone/who";

self.addEventListener("install", (event) => event.waitUntil(prepare()));
self.addEventListener("activate", (event) => event.waitUntil(takeOver()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== location.origin) return;
  if (address.pathname.startsWith(RELEASE.staticPath)) event.respondWith(staticFile(request, address));
  else if (request.mode === "navigate" || request.headers.get("X-Keep")) event.respondWith(page(request));
});

async function prepare() {
  const cache = await caches.open(STATIC);
  await cache.addAll(RELEASE.files.map((file) => new Request(file, { cache: HASHED.test(file) ? "default" : "reload" })));
  await self.skipWaiting();
}

/** The kept pages are fetched anew, for they name the files of their release; where that fails the older files stay. */
async function takeOver() {
  await self.clients.claim();
  const older = (await caches.keys()).filter((name) => name.startsWith("static-") && name !== STATIC);
  if (older.length && (await renewPages())) await Promise.all(older.map((name) => caches.delete(name)));
}

async function renewPages() {
  const who = await whoIsHere();
  const names = (await caches.keys()).filter((name) => name.startsWith("pages-"));
  if (names.some((name) => name !== `pages-${who}`)) return false;
  if (!who || !names.length) return true;
  const kept = await (await caches.open(`pages-${who}`)).keys();
  const renewed = await Promise.all(kept.map((request) => fetchPage(new Request(request.url, { headers: { "X-Keep": "yes" } })).then((found) => found.ok, () => false)));
  return renewed.every(Boolean);
}

async function staticFile(request, address) {
  const isHashed = HASHED.test(address.pathname);
  const kept = () => caches.match(request, { ignoreVary: true });
  if (isHashed) {
    const found = await kept();
    if (found) return found;
  }
  try {
    const answer = await fetch(request);
    if (answer.ok) (await caches.open(STATIC)).put(request, answer.clone());
    return answer;
  } catch (fault) {
    return (await kept()) ?? Promise.reject(fault);
  }
}

async function page(request) {
  try {
    return await fetchPage(request);
  } catch {
    return (await keptPage(request)) ?? caches.match(RELEASE.needsSignal, { ignoreVary: true });
  }
}

async function fetchPage(request) {
  const answer = await fetch(request, { signal: AbortSignal.timeout(NO_ANSWER_MS) });
  const person = answer.headers.get("Phone-Person");
  if (!person) return answer;
  await setWho(person);
  const seconds = Number(answer.headers.get("Phone-Keeps"));
  if (answer.ok && seconds) await keepPage(person, request, answer.clone(), seconds);
  return answer;
}

async function keepPage(person, request, answer, seconds) {
  const headers = new Headers(answer.headers);
  const now = Date.now();
  headers.set("wipe-after", String(now + 1000 * seconds));
  headers.set("kept-at", String(now));
  const copy = new Response(await answer.blob(), { headers });
  await (await caches.open(`pages-${person}`)).put(request.url, copy);
}

/** The kept page of who is here, marked with when it was kept; past its day it goes. */
async function keptPage(request) {
  const who = await whoIsHere();
  if (!who) return null;
  const pages = await caches.open(`pages-${who}`);
  const found = await pages.match(request.url, { ignoreVary: true });
  if (!found) return null;
  if (Number(found.headers.get("wipe-after")) < Date.now()) {
    await pages.delete(request.url);
    return null;
  }
  const text = await found.text();
  const marked = text.replace("<html", `<html data-kept-at="${Number(found.headers.get("kept-at"))}"`);
  return new Response(marked, { headers: found.headers });
}

async function whoIsHere() {
  return (await (await (await caches.open("who")).match(WHO))?.text()) || null;
}

async function setWho(person) {
  if ((await whoIsHere()) !== person) await (await caches.open("who")).put(WHO, new Response(person));
}
