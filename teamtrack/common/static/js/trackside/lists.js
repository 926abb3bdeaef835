// The views that list people: the order, the roll call, the round, the numbers to ring.
import { announce } from "../announce.js";
import { hourIn, minutes } from "./clock.js";
import { el, groupRow, press, refill, write } from "./dom.js";
import { resultKey } from "./fold.js";
import { mostCommon } from "./session.js";
import { bindVisitors, visitorsHere } from "./visitors.js";
import { say, words } from "./words.js";

const STATES = ["came", "late", "away", "left"];
const AT_END = ["collected"];

/** The order of those who run, each in one tap; a STOP for each. */
export function bindOrder(part, session, go, stop) {
  const list = part.querySelector("ul");
  const change = part.querySelector("[data-change]");
  const isChanging = () => change.getAttribute("aria-pressed") === "true";
  const { own } = session;
  change.addEventListener("click", () => {
    change.setAttribute("aria-pressed", String(!isChanging()));
    show();
  });
  part.querySelector("[data-by-rest]").addEventListener("click", () => own.set({ hand: null, left: [], cut: 0 }));
  part.querySelector("[data-cut]").addEventListener("click", () => own.set({ cut: own.value.cut + session.forecast().cut }));
  for (const [name, value] of [["lanes", () => session.lanes], ["eyes", () => session.eyes]]) {
    for (const by of [-1, 1]) {
      const button = part.querySelector(`[data-${name}="${by}"]`);
      button.addEventListener("click", () => own.set({ [name]: Math.max(1, value() + by) }));
    }
  }

  const moves = (id) => {
    const name = session.athletes.get(id).name;
    const leave = () => own.set({ left: [...own.value.left, id] });
    return el(
      "div",
      { class: "roll-states" },
      press("↑", () => session.move(id, -1), { label: say("moveUp", { name }), "data-key": `up ${id}` }),
      press("↓", () => session.move(id, 1), { label: say("moveDown", { name }), "data-key": `down ${id}` }),
      press(say("leaveOut"), leave, { label: say("leaveOutName", { name }), "data-key": `leave ${id}` }),
    );
  };

  const row = ({ id, wait_s }) => {
    const name = session.athletes.get(id).name;
    const number = session.of(id).lastStride + 1;
    const state = wait_s ? "strideWaits" : session.restedS(id) === null ? "strideFirst" : "strideRested";
    const turn = el(
      "button",
      { type: "button", class: "row row-press", "aria-label": name, "data-key": id, click: () => turnTo(id) },
      el("strong", {}, session.names.get(id)),
      el("span", { class: "quiet" }, say(state, { number, time: minutes(Math.ceil(wait_s)) })),
    );
    const line = el("div", { class: "with-stop" }, turn, stopButton(session, id, stop));
    return el("li", {}, line, ...(isChanging() ? [moves(id)] : []));
  };
  const turnTo = (id) => {
    session.turnTo(id);
    go("run");
  };
  function show() {
    const order = session.order;
    const rest = session.here.filter((id) => !order.some((place) => place.id === id)).map((id) => over(session, id));
    refill(list, [...order.map(row), ...rest]);
    part.querySelector("[data-empty]").hidden = order.length + rest.length > 0;
    part.querySelector("[data-tools]").hidden = !order.length;
    const { hand, left, cut } = own.value;
    part.querySelector("[data-by-rest]").hidden = !hand && !left.length && !cut;
    showEnd(part, session);
  }
  return show;
}

/** When it ends; over time, by how much and what to cut. */
function showEnd(part, session) {
  const { ends_s, over_s, cut } = session.forecast();
  const zone = part.closest("[data-zone]").dataset.zone;
  const hour = (ms) => hourIn(zone, new Date(ms));
  const end = say("ends", { time: hour(Date.now() + ends_s * 1000), until: hour(Date.parse(session.place.ends_at)) });
  const over = say(cut ? "overCut" : "over", { minutes: Math.ceil(over_s / 60), cut });
  const line = part.querySelector("[data-end]");
  write(line, over_s > 0 ? `${over} ${end}` : end);
  line.parentElement.classList.toggle("notice-person", over_s > 0);
  const button = part.querySelector("[data-cut]");
  button.hidden = !(over_s > 0 && cut);
  write(button, say("cut", { cut }));
  write(part.querySelector("[data-lanes-now]"), say("lanes", { count: session.lanes }));
  write(part.querySelector("[data-eyes-now]"), say("eyes", { count: session.eyes }));
}

function over(session, id) {
  if (session.own.value.left.includes(id) && !session.of(id).isStopped) return leftOut(session, id);
  const mark = session.of(id).isStopped ? say("stoppedMark") : say("doneMark");
  return el("li", { class: "row" }, el("strong", {}, session.names.get(id)), el("span", { class: "quiet" }, mark));
}

function leftOut(session, id) {
  const { own } = session;
  const bring = () => own.set({ left: own.value.left.filter((one) => one !== id) });
  const label = say("bringBackName", { name: session.athletes.get(id).name });
  return el(
    "li",
    { class: "row apart" },
    el("strong", {}, session.names.get(id)),
    el("span", { class: "quiet" }, say("leftOutMark")),
    press(say("bringBack"), bring, { label, "data-key": `back ${id}` }),
  );
}

function stopButton(session, id, stop) {
  const label = `${words.stop} ${session.athletes.get(id).name}`;
  return press(words.stop, () => stop(id), { kind: "press press-stop press-stop-small", label, "data-key": `stop ${id}` });
}

/** The roll call: all here in one tap, then exceptions; at the end which minors were collected. */
export function bindRoll(part, session) {
  const list = part.querySelector("ul");
  const collect = part.querySelector("[data-collect]");
  const isEnd = () => collect.getAttribute("aria-pressed") === "true";
  const adultsNow = () => session.own.value.adults ?? session.track.staff.filter((one) => one.counts).length;
  const showVisitors = bindVisitors(part.querySelector("[data-visitors]"), session);
  part.querySelector("[data-all-here]").addEventListener("click", allHere);
  part.querySelector("[data-adult-more]").addEventListener("click", () => count(adultsNow() + 1));
  part.querySelector("[data-adult-fewer]").addEventListener("click", () => count(Math.max(0, adultsNow() - 1)));
  collect.addEventListener("click", () => turnToEnd(!isEnd()));

  async function allHere() {
    const unsaid = session.track.athletes.filter((one) => session.of(one.person).presence === null && !one.is_away);
    const made = unsaid.map((one) => session.make("presence", one.person, { state: "came" }));
    if (made.length && (await session.act(words.allHere, made))) announce(say("hereCount", { count: session.here.length }));
  }

  const count = (adults) => session.own.set({ adults });

  function turnToEnd(isOn) {
    collect.setAttribute("aria-pressed", String(isOn));
    show();
  }

  async function tell(athlete, state) {
    const what = say("recorded", { name: session.names.get(athlete), what: words.presence[state] });
    if (await session.act(what, [session.make("presence", athlete, { state })])) announce(what);
  }

  function row(one) {
    const { presence } = session.of(one.person);
    const buttons = (isEnd() ? AT_END : STATES).map((state) =>
      press(words.presence[state], () => presence !== state && tell(one.person, state), {
        kind: "press press-plain",
        "aria-pressed": String(presence === state),
        "data-key": `${one.person} ${state}`,
      }),
    );
    const said = one.out ? el("span", { class: "quiet" }, one.out) : "";
    const head = el("p", { class: "line-up" }, el("strong", {}, one.name), said);
    return groupRow(one.name, "roll-row", head, el("div", { class: "roll-states" }, ...buttons));
  }

  function show() {
    const adults = adultsNow();
    const here = new Set(session.here);
    const visitors = visitorsHere(session);
    showVisitors();
    const listed = session.track.athletes.filter((one) => !isEnd() || (one.is_minor && here.has(one.person)));
    refill(list, listed.map(row));
    part.querySelector("[data-all-collected]").hidden = !isEnd() || listed.length > 0;
    part.querySelector("[data-here]").textContent = say(visitors ? "hereAndVisitors" : "hereCount", { count: here.size, visitors });
    const wanted = session.track.adults_required;
    const line = part.querySelector("[data-adults]");
    line.textContent = say(adults < wanted ? "adultsLack" : "adults", { count: adults, wanted });
    line.parentElement.classList.toggle("notice-person", adults < wanted);
  }
  return { show, turnToEnd };
}

/** By round: watch all, then mark the results of one point in a grid. */
export function bindRound(part, session, stop) {
  const list = part.querySelector("ul");
  const choice = part.querySelector("select");
  let strides = new Map();
  choice.replaceChildren(...session.track.features.map((one) => el("option", { value: one.code }, one.label)));
  choice.addEventListener("change", () => show());
  part.querySelector("[data-new-round]").addEventListener("click", () => begin());

  function begin() {
    strides = new Map(runners().map((id) => [id, session.of(id).lastStride + 1]));
    const common = mostCommon(runners().map((id) => session.pointOf(id, strides.get(id))).filter(Boolean));
    if (common) choice.value = common;
    show();
  }

  const runners = () => session.here.filter((id) => !session.of(id).isStopped && session.mayKeep(id, "feedback"));

  async function mark(athlete, shown, known) {
    if (known?.shown === shown) return;
    const what = say("recorded", { name: session.names.get(athlete), what: words.within[shown] });
    const own = { stride: strides.get(athlete), feature: choice.value, shown, type: "adjustment" };
    const made = session.make("observation", athlete, known ? { ...own, replaces: known.id } : own);
    if (await session.act(what, [made])) announce(what);
  }

  function row(athlete) {
    const known = session.of(athlete).results.get(resultKey(strides.get(athlete), choice.value));
    const name = session.athletes.get(athlete).name;
    const buttons = Object.entries(words.shown).map(([shown, word]) =>
      press(el("span", { class: `shown shown-${shown}` }, word), () => mark(athlete, shown, known), {
        kind: "press press-result",
        label: `${word} ${name}`,
        "aria-pressed": String(known?.shown === shown),
        "data-key": `${athlete} ${shown}`,
      }),
    );
    const head = el(
      "p",
      { class: "line-up apart" },
      el("strong", {}, session.names.get(athlete)),
      el("span", { class: "quiet" }, say("stride", { number: strides.get(athlete) })),
      stopButton(session, athlete, stop),
    );
    return groupRow(name, "stack round-row", head, el("div", { class: "trio" }, ...buttons));
  }

  function show() {
    for (const id of runners()) if (!strides.has(id)) strides.set(id, session.of(id).lastStride + 1);
    refill(list, runners().map(row));
    part.querySelector("[data-empty]").hidden = runners().length > 0;
  }
  return { show, begin };
}

/** Numbers to ring: the emergency number, adults of the session, each athlete's people; no signal needed to see them. */
export function bindNumbers(part, session) {
  const athletes = session.track.athletes.filter((one) => one.numbers.length);
  part.querySelector("[data-staff]").replaceChildren(...staffCalls(session));
  part.querySelector("[data-families]").replaceChildren(
    ...athletes.map((one) => el("li", {}, el("h3", {}, one.name), ...one.numbers.map(call))),
  );
  return () => {};
}

/** The adults of the session whom one may ring. */
export function staffCalls(session) {
  const others = session.track.staff.filter((one) => one.counts && one.phone && one.person !== session.track.person);
  return others.map((one) => el("li", {}, link(one.name, one.phone)));
}

export function familyCalls(session, athlete) {
  return session.athletes.get(athlete).numbers.map((number) => el("li", {}, call(number)));
}

function call({ name, relation, phone, may_collect }) {
  const more = [relation, may_collect ? say("mayCollect") : ""].filter(Boolean).join(", ");
  return link(more ? `${name} (${more})` : name, phone);
}

function link(name, phone) {
  return el("a", { class: "press press-plain press-track press-wide", href: `tel:${phone.replace(/[^+\d]/g, "")}` }, `${say("call", { name })} ${phone}`);
}
