// Log strides: answers become entries, kept on this phone and sent by the outbox; pain stops the strides at once.
import { announce } from "./announce.js";
import { counting } from "./entries/counting.js";
import { ATHLETE } from "./entries/kinds.js";
import { checkEntry } from "./entries/shape.js";
import { deviceId, newEntryId } from "./ids.js";
import { freshPage, openOnPhone } from "./store/on_phone.js";
import { Pull } from "./trackside/pull.js";

const UNDO_MS = 10000;
const READ_MS = 2000;
const part = document.getElementById("log");
if (part) start();

async function start() {
  for (const efforts of part.querySelectorAll("[data-efforts]")) bindEffortWord(efforts);
  const { session, person } = part.dataset;
  const names = {
    felt: part.dataset.nameFelt,
    day: part.dataset.nameDay,
    stop: part.dataset.nameStop,
    pain: part.dataset.namePain,
  };
  const queue = part.querySelector("#queue");
  const phone = await openOnPhone({ part: queue, place: part.dataset, nameOf: (entry) => names[entry.kind] });
  if (!phone) return takeNothing();
  const { store, outbox, view } = phone;
  const device = deviceId();
  const entry = (kind, own) => ({
    id: newEntryId(),
    session,
    kind,
    athlete: person,
    at: new Date().toISOString(),
    device,
    ...own,
  });

  /** Keep entries on this phone, then send; false, and said, where it cannot keep them. */
  async function add(...entries) {
    try {
      await store.keep(entries.map((one) => ({ ...one, by: person })));
    } catch (fault) {
      view.fault(fault.code ?? "failed");
      return false;
    }
    announce(queue.dataset.kept);
    await outbox.add();
    return true;
  }

  const log = {
    add,
    entry,
    outbox,
    withdrawal: (kind, id) => entry(kind, { replaces: id, withdrawn: true }),
    check: (made) => checkEntry(made, { session, poster: { person, role: ATHLETE } }).refusal,
  };
  for (const hurts of part.querySelectorAll("[data-hurts]")) bindHurts(hurts, log); // a stop waits for nothing
  await store.keepSession(freshPage(store.record, part.dataset)).catch((fault) => view.fault(fault.code));
  outbox.send();
  await readAnew(store);
  for (const form of part.querySelectorAll("[data-log]")) bindLog(form, log, ownThatCount(store, form.dataset.log, person));
  part.dataset.ready = "yes";
  return undefined;
}

/** Where this phone keeps nothing, nothing can be said here. */
function takeNothing() {
  for (const control of part.querySelectorAll("[data-log] :is(input, textarea, button), [data-hurts] :is(input, button)")) {
    control.disabled = true;
  }
}

/** What was sent from another phone too; without signal what lies here is enough. */
function readAnew(store) {
  const wait = new Promise((resolve) => setTimeout(resolve, READ_MS));
  const pull = new Pull({ address: part.dataset.address, person: part.dataset.person, store, came() {}, reached() {} });
  return navigator.onLine ? Promise.race([pull.readAll(), wait]) : null;
}

/** The own entries of a kind that count, the oldest first. */
function ownThatCount(store, kind, person) {
  const entries = [...store.entries.values()].filter((one) => one.kind === kind && one.by === person && !one.stride);
  return counting(entries).ids.map((id) => store.entries.get(id));
}

/** What a form says, as the own keys of its entries. */
const SAYS = {
  felt(form) {
    const said = { effort: number(form, "effort"), feel: chosen(form, "feel"), words: form.elements.words.value || null };
    const points = [...form.querySelectorAll("[data-point]:checked")].map((radio) => ({
      feature: radio.dataset.point,
      shown: radio.value,
    }));
    const first = without({ ...said, ...points[0] });
    return [first, ...points.slice(1)].filter((own) => Object.keys(own).length);
  },
  day(form) {
    const own = without({ rpe: number(form, "rpe") });
    return Object.keys(own).length ? [own] : [];
  },
};

function bindLog(form, { add, outbox, entry, withdrawal, check }, said) {
  const kind = form.dataset.log;
  const takeBack = form.querySelector("[data-take-back]");
  let kept = form.dataset.kept ? form.dataset.kept.split(" ") : [];
  let timer = null;
  if (said.length) {
    kept = said.map(({ id }) => id);
    sayAgain(form, said);
  }

  form.querySelector("[data-save]").disabled = false; // before, it would have sent the form by itself
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const made = SAYS[kind](form).map((own, place) => entry(kind, kept[place] ? { ...own, replaces: kept[place] } : own));
    const fault = made.length ? faultOf(made, check) : part.dataset.empty;
    tell(form, fault);
    if (fault) return;
    const left = kept.slice(made.length).map((id) => withdrawal(kind, id));
    if (!(await add(...made, ...left))) return;
    kept = made.map(({ id }) => id);
    show(true);
    navigator.vibrate?.(20);
    revealAfter(form, outbox, kept);
  });

  takeBack.addEventListener("click", async () => {
    if (!(await add(...kept.map((id) => withdrawal(kind, id))))) return;
    kept = [];
    form.reset();
    show(false);
  });

  function show(isOffered) {
    clearTimeout(timer);
    takeBack.hidden = !isOffered;
    if (isOffered) timer = setTimeout(() => (takeBack.hidden = true), UNDO_MS);
  }
}

/** What was said before, shown in the form; what the athlete answered while it was being read stays. */
function sayAgain(form, said) {
  const answered = new Set([...form.elements].filter(isAnswered).map(({ name }) => name));
  for (const { effort, rpe, feel, feature, shown, words } of said) {
    for (const [name, value] of Object.entries({ effort, rpe, feel, [`point ${feature}`]: shown })) {
      if (!answered.has(name)) tick(form, name, value);
    }
    if (words && !answered.has("words")) form.elements.words.value = words;
  }
}

/** Whether a control says something else than the page did when it came. */
const isAnswered = (control) =>
  control.type === "radio" ? control.checked !== control.defaultChecked : control.value !== control.defaultValue;

function tick(form, name, value) {
  const radio = form.querySelector(`[name="${CSS.escape(name)}"][value="${CSS.escape(String(value ?? ""))}"]`);
  if (!radio) return;
  radio.checked = true;
  radio.dispatchEvent(new Event("change", { bubbles: true })); // the word beside it follows
}

function faultOf(made, check) {
  const refusal = made.map(check).find(Boolean);
  if (!refusal) return "";
  return refusal.code === "BAD_TEXT" ? part.dataset.badText : part.dataset.tooLong;
}

function tell(form, fault) {
  const line = form.querySelector("[data-fault]");
  line.hidden = !fault;
  line.textContent = fault;
}

/** The coach's words are offered once the own view has reached the server. */
function revealAfter(form, outbox, ids) {
  const after = form.querySelector("[data-after]");
  const isOut = !outbox.items.some((item) => ids.includes(item.id));
  if (after && isOut) after.hidden = false;
}

function bindHurts(hurts, { add, entry, withdrawal }) {
  const yes = hurts.querySelector("[data-hurts-yes]");
  const urgent = hurts.querySelector("[data-urgent]");
  const side = hurts.querySelector("[data-side]");
  let stopped = null;
  let pain = null;

  hurts.addEventListener("change", ({ target }) => {
    if (target.name === "hurts") target.value === "yes" ? stop() : takeBack();
    if (target.name === "place" || target.name === "side") sayWhere();
  });
  if (hurts.querySelector("[name=hurts][value=yes]:checked")) stop(); // tapped before this page could hear it
  if (hurts.querySelector("[name=place]:checked")) sayWhere();

  function stop() {
    yes.hidden = false;
    if (stopped) return;
    stopped = entry("stop", {});
    add(stopped);
  }

  function sayWhere() {
    const place = hurts.querySelector("[name=place]:checked");
    const isUrgent = "urgentPlace" in place.dataset;
    urgent.hidden = !isUrgent;
    side.hidden = isUrgent;
    const onSide = isUrgent ? null : hurts.querySelector("[name=side]:checked")?.value;
    const own = without({ place: place.value, side: onSide });
    pain = entry("pain", pain ? { ...own, replaces: pain.id } : own);
    add(pain);
  }

  function takeBack() {
    yes.hidden = true;
    const gone = [stopped, pain].filter(Boolean).map(({ kind, id }) => withdrawal(kind, id));
    if (gone.length) add(...gone);
    stopped = pain = null;
    for (const radio of yes.querySelectorAll("input")) radio.checked = false;
  }
}

function bindEffortWord(efforts) {
  const word = efforts.querySelector("[data-effort-word]");
  const show = () => {
    const radio = efforts.querySelector("input:checked");
    word.textContent = radio ? `${radio.ariaLabel ?? radio.dataset.word}` : "";
  };
  efforts.addEventListener("change", show);
  show();
}

const chosen = (form, name) => form.querySelector(`[name="${name}"]:checked`)?.value ?? null;
const number = (form, name) => (chosen(form, name) === null ? null : Number(chosen(form, name)));
const without = (values) => Object.fromEntries(Object.entries(values).filter(([, value]) => value != null));
