// The runner who runs now: name, rest, what to look for, the last words, and the result in one tap.
import { announce } from "../announce.js";
import { besideNow } from "./beside.js";
import { minutes } from "./clock.js";
import { write } from "./dom.js";
import { followed } from "./fold.js";
import { bindLanes } from "./heat.js";
import { bindTimes } from "./times.js";
import { fill, say, words } from "./words.js";

/** Bind the stage; `go(view)` shows another view. Answers what is called after each change and each second. */
export function bindStage(part, session, go) {
  const at = (name) => part.querySelector(`[data-${name}]`);
  const showTimes = bindTimes(at("times"), session);
  const showLanes = bindLanes(at("heat"), session);
  let before = Promise.resolve();

  part.addEventListener("click", async (event) => {
    const button = event.target.closest("button");
    if (!button || !session.current) return;
    if (button.dataset.result) await inTurn(() => result(session, button.dataset.result));
    else if ("run" in button.dataset) await inTurn(() => hasRun(session));
    else if ("good" in button.dataset) await goodAgain(session, go);
    else if ("timesSwitch" in button.dataset) session.own.set({ times: !session.own.value.times });
    else if (button.dataset.go) go(button.dataset.go);
  });
  at("undo-step").addEventListener("click", () => undo(session));

  /** Two quick taps on different results are for two runners, the second for whoever came after the first. */
  function inTurn(act) {
    before = before.then(() => (session.current ? act() : undefined));
    return before;
  }

  return function show() {
    const { current } = session;
    part.querySelector("[data-runner]").hidden = !current;
    part.querySelector("[data-nobody]").hidden = Boolean(current);
    at("undo-step").disabled = !session.done.length;
    write(at("undone"), session.done.length ? session.done.at(-1).what : "");
    write(at("then"), nextWords(session));
    write(at("other-eyes"), otherEyes(session));
    at("times-switch").setAttribute("aria-pressed", String(session.own.value.times));
    at("beside").hidden = !besideNow(session).length;
    showTimes();
    showLanes();
    if (!current) return write(at("nobody-text"), say(session.here.length ? "allDone" : "orderEmpty"));
    showRunner(at, session, current);
    showPoint(at, session, current);
    return undefined;
  };
}

/** What other coaches saw on the stride that was judged last here: said only after one's own result. */
function otherEyes(session) {
  if (!session.judged) return "";
  const { athlete, stride } = session.judged;
  if (!session.athletes.has(athlete)) return "";
  const { results, others } = session.of(athlete);
  const seen = others.filter((one) => one.stride === stride && results.has(`${stride} ${one.feature}`));
  const told = seen.map((one) => say("othersResult", { name: session.nameOfCoach(one.by), shown: words.within[one.shown] }));
  return told.length ? say("otherEyes", { name: session.names.get(athlete), number: stride, told: told.join(", ") }) : "";
}

function showRunner(at, session, { athlete, stride }) {
  const person = session.athletes.get(athlete);
  const total = session.stridesWanted(athlete);
  const isOver = stride > total;
  write(at("name"), session.names.get(athlete));
  const count = isOver ? say("stride", { number: stride }) : say("strideOf", { number: stride, total });
  write(at("stride"), [count, person.distance, person.effort].filter(Boolean).join(", "));
  const rested = session.restedS(athlete);
  const wanted = minutes(person.rest_s);
  write(at("rest"), rested === null ? say("firstStride") : say("rested", { time: minutes(rested), wanted }));
  at("rest").classList.toggle("is-short", rested !== null && rested < person.rest_s);
}

function showPoint(at, session, { athlete, stride }) {
  const isKept = session.mayKeep(athlete, "feedback");
  const point = isKept ? session.pointOf(athlete, stride) : null;
  at("results").hidden = !point;
  at("has-run").hidden = Boolean(point);
  for (const name of ["good", "ask", "words-button", "point-button"]) at(name).hidden = !isKept;
  write(at("point"), !isKept ? say("notKept", { name: session.names.get(athlete) }) : point ? session.label(point) : say("noPoint"));
  write(at("point-button"), say(point ? "otherPoint" : "choosePoint"));
  at("look").hidden = !isKept;
  const last = point ? lastWords(session, athlete, point) : null;
  write(at("words"), last ? `“${last.words}”` : isKept ? say("noWords") : "");
  write(at("followed"), last ? last.told : "");
  const strength = session.strengthOf(athlete);
  const noted = session.of(athlete).results.get(`${stride} ${strength}`)?.type === "strength";
  const good = strength ? say(noted ? "goodNoted" : "goodAgain", { point: session.label(strength) }) : say("sayStrength");
  write(at("good-text"), good);
  at("good-more").hidden = !strength || noted;
  at("good").setAttribute("aria-pressed", String(noted));
}

const alike = (text) => text.trim().replace(/\s+/g, " ").toLowerCase();

/** Whether a coach has not noted these words as not suiting this runner. */
export function suits(session, athlete, point, text) {
  const noted = session.athletes.get(athlete).does_not_suit?.[point] ?? [];
  return !noted.some((one) => alike(one) === alike(text));
}

/** The last words on a point that suit: today's, else those of an earlier session, with who, when and what followed. */
export function lastWords(session, athlete, point) {
  const state = session.of(athlete);
  const today = state.cues.filter((cue) => cue.feature === point && suits(session, athlete, point, cue.words)).at(-1);
  if (today) {
    const how = words.how[today.how];
    const told = today.stride ? say("toldToday", { how, number: today.stride }) : say("toldInTalk", { how });
    return { words: today.words, told: withFollowed(told, followed(state, today)) };
  }
  const earlier = session.athletes.get(athlete).last_words?.[point];
  if (!earlier) return null;
  const told = say("toldWhen", { how: words.how[earlier.how], when: earlier.when, name: earlier.by });
  return { words: earlier.words, told: withFollowed(told, earlier.followed) };
}

const withFollowed = (told, shown) => (shown ? `${told}, ${say("then", { shown: words.within[shown] })}` : told);

function nextWords(session) {
  const now = new Set(session.heat.map(({ athlete }) => athlete));
  const next = session.order.filter(({ id }) => !now.has(id)).slice(0, 2);
  const named = next.map(({ id, wait_s }) => {
    const name = session.names.get(id);
    if (wait_s) return say("waits", { name, time: minutes(Math.ceil(wait_s)) });
    return session.restedS(id) === null ? name : say("ready", { name });
  });
  return named.length ? `${say("next")} ${named.join(", ")}` : say("nobodyNext");
}

async function result(session, shown) {
  const { athlete, stride } = session.current;
  const feature = session.pointOf(athlete, stride);
  if (!feature) return;
  const what = say("recorded", { name: session.names.get(athlete), what: words.within[shown] });
  const made = session.make("observation", athlete, { stride, feature, shown, type: "adjustment" });
  if (await session.act(what, [made], { goesOn: true })) announce(`${what}, ${say("saved")}`);
}

async function hasRun(session) {
  const { athlete, stride } = session.current;
  const what = say("recorded", { name: session.names.get(athlete), what: say("kindRun") });
  if (await session.act(what, [session.make("run", athlete, { stride })], { goesOn: true })) announce(what);
}

async function goodAgain(session, go) {
  const { athlete, stride } = session.current;
  const feature = session.strengthOf(athlete);
  if (!feature) return go("strength");
  return noteStrength(session, athlete, stride, feature);
}

/** A strength, said first: a field of its own beside the point. */
export async function noteStrength(session, athlete, stride, feature) {
  if (session.of(athlete).results.get(`${stride} ${feature}`)?.type === "strength") return;
  const what = fill("{name}: {good}", {
    name: session.names.get(athlete),
    good: say("goodAgain", { point: session.label(feature) }),
  });
  const made = session.make("observation", athlete, { stride, feature, shown: "held", type: "strength" });
  if (await session.act(what, [made])) announce(`${what}, ${say("saved")}`);
}

async function undo(session) {
  const step = await session.undo();
  if (step) announce(say("undone", { what: step.what }));
}
