// On every page of somebody signed in: the service worker, today's sessions fetched ahead, what waits sent, signing out.
import { announce } from "./announce.js";
import { answers } from "./exchange.js";
import { Outbox } from "./outbox.js";
import { writeFile } from "./store/file.js";
import { markLeft, wipeLeft } from "./store/left.js";
import { freshPage } from "./store/on_phone.js";
import { PersonStore } from "./store/person.js";
import { wipePast, wipePerson } from "./store/wipe.js";
import { fetchJson, Pull } from "./trackside/pull.js";
import { SessionStore } from "./trackside/store.js";

const { person } = document.body.dataset;
const WHO = "/phone/who";
const KEEP = { headers: { "X-Keep": "yes" } };

tellAge();
const form = document.querySelector("[data-sign-out]");
if (form) bindSignOut(form);
const sharedIdleS = Number(document.body.dataset.sharedIdle);
if (form && sharedIdleS) endByItself(form, sharedIdleS * 1000);
if ("indexedDB" in globalThis) begin();

async function begin() {
  await wipeLeft(person).catch(() => {});
  await wipePast(person).catch(() => {});
  if ("serviceWorker" in navigator) serve();
  if (!document.getElementById("queue")) sendWhatWaits();
}

/** A page that comes from this phone says how old it is. */
function tellAge() {
  const at = document.documentElement.dataset.keptAt;
  const note = document.querySelector("[data-kept-note]");
  if (!at || !note) return;
  const hour = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" }).format(new Date(Number(at)));
  note.textContent = note.dataset.keptNote.replace("{time}", hour);
  note.hidden = false;
}

async function serve() {
  try {
    await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" });
    const registration = await navigator.serviceWorker.ready;
    if (!navigator.serviceWorker.controller) await taken(registration);
    if (isUnkept() && !("posted" in document.body.dataset)) await fetch(location.href, KEEP);
    await fetchAhead();
  } catch {
    // Without a service worker the page works while it is open; how it is kept is said beside the queue.
  }
}

/** Whether this page came past the service worker; one that answers a form has no address to be fetched from. */
function isUnkept() {
  return performance.getEntriesByType("navigation")[0]?.workerStart === 0;
}

function taken(registration) {
  return new Promise((resolve) => {
    navigator.serviceWorker.addEventListener("controllerchange", resolve, { once: true });
    if (registration.active && navigator.serviceWorker.controller) resolve();
  });
}

/** Today's sessions of a coach, and the strides to log: page, bundle and entries, while there is signal. */
async function fetchAhead() {
  for (const link of document.querySelectorAll("a[data-ahead]")) {
    const answer = await fetch(link.href, KEEP);
    if (!answer.ok) continue;
    const found = new DOMParser().parseFromString(await answer.text(), "text/html");
    const place = found.querySelector("[data-served]")?.dataset;
    if (place?.bundle) await fetchSession(place);
  }
}

async function fetchSession(place) {
  const kept = new PersonStore(place.person);
  await kept.open();
  const store = new SessionStore({ kept, session: place.session });
  await store.open();
  await store.keepSession({ bundle: await fetchJson(place.bundle, place.person), ...freshPage(store.record, place) });
  await new Pull({ address: place.entries, person: place.person, store, came() {}, reached() {} }).readAll();
}

/** Entries of an earlier session, or of before the sign-in ran out, go from any page; answers what still waits or was not taken. */
async function sendWhatWaits() {
  const kept = new PersonStore(person);
  const outbox = new Outbox({ kept, changed() {} });
  try {
    await kept.open();
    await outbox.load();
  } catch {
    return [];
  }
  await outbox.send();
  return outbox.items;
}

/** Signing out sends what waits, then wipes what lies here; what could not be sent stays, unseen, and that is asked first. */
function bindSignOut(part) {
  part.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!(await answers())) return announce(part.dataset.noSignal);
    const left = await sendWhatWaits();
    if (left.length && !(await isWanted(left))) return undefined;
    markLeft(person);
    await wipePerson(person).catch(() => 0);
    if ("caches" in globalThis) await (await caches.open("who")).delete(WHO);
    return part.submit();
  });
}

/** On a phone that is not one's own: without a touch what waits is sent, the rest wiped, and the sign-in ends. */
function endByItself(part, idleMs) {
  let timer = 0;
  const restart = () => {
    clearTimeout(timer);
    timer = setTimeout(end, idleMs);
  };
  const end = async () => {
    await sendWhatWaits();
    markLeft(person);
    await wipePerson(person).catch(() => 0);
    if ("caches" in globalThis) await (await caches.open("who")).delete(WHO);
    part.submit();
  };
  for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, restart, { passive: true });
  restart();
}

/** Whether to sign out although entries stay behind: they may be written to a file before. */
function isWanted(left) {
  const dialog = document.querySelector("[data-sign-out-left]");
  const line = dialog.querySelector("[data-left]");
  line.textContent = line.dataset.left.replace("{count}", String(left.length));
  dialog.querySelector("[data-file]").onclick = (event) => writeFile(event.target.dataset.file, left);
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => dialog.addEventListener("close", () => resolve(dialog.returnValue === "yes"), { once: true }));
}
