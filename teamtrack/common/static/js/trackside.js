// The page beside the straight: opens the session from this phone or the server, and keeps it in step with the other phones.
import { announce } from "./announce.js";
import { deviceId } from "./ids.js";
import { freshPage, openOnPhone } from "./store/on_phone.js";
import { fetchJson, Pull } from "./trackside/pull.js";
import { TracksideSession } from "./trackside/session.js";
import { bindViews } from "./trackside/views.js";
import { say, words } from "./trackside/words.js";

const AGAIN_MS = 3000;
const page = document.getElementById("trackside");
if (page) load();

async function load() {
  const names = new Map();
  const nameOf = (entry) => `${names.get(entry.athlete) ?? ""} ${words.kinds[entry.kind]}`.trim();
  const heard = { queue: () => {}, dropped: () => {} };
  const phone = await openOnPhone({
    part: page.querySelector("#queue"),
    place: page.dataset,
    nameOf,
    changed: (outbox) => heard.queue(outbox),
    dropped: (bundle) => heard.dropped(bundle),
  });
  if (!phone) {
    page.querySelector("[data-loading]").hidden = true;
    return;
  }
  const isHere = Boolean(phone.store.record.bundle);
  const bundle = await firstBundle(phone.store);
  for (const one of bundle.trackside.athletes) names.set(one.person, one.given_name);
  page.querySelector("[data-loading]").hidden = true;
  await start(bundle, phone, heard, isHere);
}

/** The bundle that lies here, else the server's; asked again until one of them is there. */
async function firstBundle(store) {
  if (store.record.bundle) return store.record.bundle;
  const note = page.querySelector("[data-loading]");
  for (;;) {
    try {
      return await fetchBundle(store);
    } catch (fault) {
      note.textContent = fault.said?.detail || say("noBundle");
      note.classList.add("notice-person");
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
  }
}

async function fetchBundle(store) {
  const bundle = await fetchJson(page.dataset.bundle, page.dataset.person);
  await store.keepSession({ bundle, ...freshPage(store.record, page.dataset) });
  return bundle;
}

async function start(bundle, { kept, store, outbox, view }, heard, isFromPhone) {
  const session = new TracksideSession({ bundle, store, outbox, device: deviceId(), changed: () => views?.show() });
  session.notKept = (fault) => view.fault(fault.code ?? "failed");
  const views = bindViews(page, session);
  let stuck = new Set(outbox.stuck.map(({ id }) => id));

  /** What was refused no longer counts here; what was given up by hand is forgotten. */
  heard.queue = async (box) => {
    const now = new Set(box.stuck.map(({ id }) => id));
    const isSame = now.size === stuck.size && [...now].every((id) => stuck.has(id));
    store.forgot([...stuck].filter((id) => !now.has(id)));
    stuck = now;
    if (!isSame) await session.refresh();
  };
  heard.dropped = (less) => session.take(less.trackside);
  kept.heard(async () => {
    await store.open();
    await session.refresh();
  });

  function reached(isOn, problem) {
    outbox.reach = isOn ? "on" : "off";
    outbox.problem = problem;
    outbox.tell();
    if (isOn && !problem && outbox.waiting.length) outbox.send();
  }

  const pull = new Pull({
    address: page.dataset.entries,
    person: page.dataset.person,
    store,
    came: (came) => came.items.length && session.refresh(),
    reached,
  });
  if (!isFromPhone) await pull.ask();
  await session.refresh();
  views.begin();
  bindHand();
  keepAwake();
  setInterval(views.show, 1000);
  addEventListener("online", () => renew(store, session));
  if (!isFromPhone) return;
  renew(store, session);
  pull.ask();
}

/** What the server knows anew of roster, focus and permissions; without signal what lies here goes on. */
async function renew(store, session) {
  const fresh = await fetchBundle(store).catch(() => null);
  if (fresh) session.take(fresh.trackside);
}

/** Left or right hand, kept on this phone. */
function bindHand() {
  const button = page.querySelector("[data-hand-switch]");
  const apply = (hand) => {
    page.dataset.hand = hand;
    button.setAttribute("aria-pressed", String(hand === "left"));
  };
  apply(read("hand") ?? "right");
  button.addEventListener("click", () => {
    const hand = page.dataset.hand === "left" ? "right" : "left";
    apply(hand);
    keep("hand", hand);
  });
}

function read(name) {
  try {
    return localStorage.getItem(name);
  } catch {
    return null;
  }
}

function keep(name, value) {
  try {
    localStorage.setItem(name, value);
  } catch {
    announce(words.notKeptHere);
  }
}

/** The screen stays awake where the browser can. */
function keepAwake() {
  if (!("wakeLock" in navigator)) return;
  const ask = () => document.visibilityState === "visible" && navigator.wakeLock.request("screen").catch(() => {});
  ask();
  document.addEventListener("visibilitychange", ask);
}
