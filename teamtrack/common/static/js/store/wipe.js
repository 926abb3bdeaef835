// What a phone keeps is the least: it goes at sign-out and after the session's day, but never before it was sent or given up.
import { dayIn, forgetOtherDays } from "../trackside/own.js";
import { Database, answered, databaseName } from "./database.js";

const PREFIX = databaseName("");
const ALL = ["sessions", "entries", "outbox"];
export const pagesOf = (person) => `pages-${person}`;
export const WIPE_AFTER = "wipe-after";

/** Wipe what is past its day, of everybody on this phone; the store of who is signed in stays, for a page may just open it. */
export async function wipePast(signedIn, nowMs = Date.now()) {
  forgetOtherDays(dayIn());
  await wipePages((response) => Number(response.headers.get(WIPE_AFTER)) < nowMs);
  const known = (await indexedDB.databases?.()) ?? [];
  for (const { name } of known.filter((one) => one.name.startsWith(PREFIX))) {
    const isPast = (session) => !session || session.wipe_after < nowMs;
    await wipeStore(name, isPast, name !== databaseName(signedIn));
  }
}

/** Wipe all of one person but what waits: answers how many entries stay. */
export async function wipePerson(person) {
  forgetOtherDays();
  if ("caches" in globalThis) await caches.delete(pagesOf(person));
  return wipeStore(databaseName(person), () => true);
}

async function wipePages(isPast) {
  if (!("caches" in globalThis)) return;
  for (const name of (await caches.keys()).filter((one) => one.startsWith(pagesOf("")))) {
    const pages = await caches.open(name);
    for (const request of await pages.keys()) {
      if (isPast(await pages.match(request, { ignoreVary: true }))) await pages.delete(request);
    }
  }
}

/** Forget the sessions that go, with all their entries but those on their way; an empty store may go as a whole. */
async function wipeStore(name, goes, mayGo = true) {
  const database = new Database(name);
  const left = await database.write(ALL, async (at) => {
    const [sessions, entries, items] = await Promise.all(ALL.map((store) => answered(at(store).getAll())));
    const of = new Map(sessions.map((session) => [session.id, session]));
    const unsent = new Set(items.map(({ id }) => id));
    for (const session of sessions.filter(goes)) at("sessions").delete(session.id);
    const gone = entries.filter((entry) => goes(of.get(entry.session)) && !unsent.has(entry.id));
    for (const { id } of gone) at("entries").delete(id);
    return { items: items.length, sessions: sessions.filter((session) => !goes(session)).length };
  });
  if (mayGo && !left.items && !left.sessions) {
    (await database.connection()).close();
    await answered(indexedDB.deleteDatabase(name)).catch(() => {});
  }
  return left.items;
}
