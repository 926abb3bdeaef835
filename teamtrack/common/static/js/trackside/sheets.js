// The views that open from a runner: words, other point, a strength, the runner's own view, and after a stop.
import { announce } from "../announce.js";
import { press, refill, write } from "./dom.js";
import { familyCalls, staffCalls } from "./lists.js";
import { noteStrength, suits } from "./stage.js";
import { say, words } from "./words.js";

const URGENT = new Set(["chest", "head", "unwell"]);

/** Words for the current runner: a wording used before in one tap, or new ones; told, shown or other words; understood. */
export function bindWords(part, session, go) {
  const form = part.querySelector("form");
  const chosen = (name) => form.querySelector(`[name="${name}"]:checked`).value;
  let at = null;

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    save(form.elements.words.value);
  });

  async function save(text) {
    const stride = at.stride - (chosen("when") === "before" ? 1 : 0);
    const own = { stride, feature: at.point, words: text, how: chosen("how"), understood: chosen("understood") };
    const what = say("recorded", { name: session.names.get(at.athlete), what: `“${text}”` });
    const isKept = await session.act(what, [session.make("cue", at.athlete, own)]);
    part.querySelector("[data-fault]").hidden = isKept;
    if (!isKept) return;
    announce(`${what}, ${say("saved")}`);
    go("run");
  }

  function open() {
    const { athlete, stride } = session.current;
    at = { athlete, stride, point: session.pointOf(athlete, stride) };
    if (!at.point) return go("point");
    form.reset();
    part.querySelector("[data-fault]").hidden = true;
    write(part.querySelector("h2"), say("wordsFor", { name: session.names.get(athlete), point: session.label(at.point) }));
    write(part.querySelector("[data-after]"), say("afterStride", { number: stride }));
    write(part.querySelector("[data-before]"), stride === 1 ? say("beforeFirst") : say("beforeStride", { number: stride }));
    const phrases = wordings(session, at).map((text) =>
      press(say("sayAgain", { words: `“${text}”` }), () => save(text), { kind: "press press-plain press-track press-wide" }),
    );
    part.querySelector("[data-phrases]").replaceChildren(...phrases);
    return undefined;
  }
  return { open };
}

/** Wordings at hand, the last first, each once: this runner's, then those that the reader used with others; none that does not suit. */
function wordings(session, { athlete, point }) {
  const today = session.of(athlete).cues.filter((cue) => cue.feature === point).map((cue) => cue.words).reverse();
  const earlier = session.athletes.get(athlete).last_words?.[point];
  const all = new Set([...today, ...(earlier ? [earlier.words] : []), ...session.features.get(point).phrases]);
  return [...all].filter((text) => suits(session, athlete, point, text)).slice(0, 4);
}

/** A list of points, those in hand first; `act(code)` on a tap. */
function bindPoints(part, session, heading, act) {
  return {
    open() {
      const { athlete } = session.current;
      const codes = session.codesFor(athlete);
      write(part.querySelector("h2"), say(heading, { name: session.names.get(athlete) }));
      const rows = codes.map((code) =>
        press(session.label(code), () => act(code), { kind: "press press-plain press-track press-wide", "data-key": code }),
      );
      part.querySelector("[data-points]").replaceChildren(...rows);
    },
  };
}

export const bindPoint = (part, session, go) =>
  bindPoints(part, session, "pointFor", (code) => {
    session.chosen.set(session.current.athlete, code);
    go("run");
  });

export const bindStrength = (part, session, go) =>
  bindPoints(part, session, "strengthFor", async (code) => {
    const { athlete, stride } = session.current;
    await noteStrength(session, athlete, stride, code);
    go("run");
  });

/** What the runner noticed, asked before the coach says anything. */
export function bindOwnView(part, session, go) {
  const form = part.querySelector("form");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const { athlete, stride } = session.current;
    const shown = event.submitter?.value || null;
    const text = form.elements.words.value || null;
    const feature = shown ? session.pointOf(athlete, stride) : null;
    const what = say("recorded", { name: session.names.get(athlete), what: say("kindOwnView") });
    const isKept = await session.act(what, [session.make("own_view", athlete, { stride, feature, shown, words: text })]);
    part.querySelector("[data-fault]").hidden = isKept;
    if (!isKept) return;
    announce(`${what}, ${say("saved")}`);
    go("run");
  });
  return {
    open() {
      const { athlete, stride } = session.current;
      form.reset();
      part.querySelector("[data-fault]").hidden = true;
      part.querySelector("[data-shown]").hidden = !session.pointOf(athlete, stride);
      write(part.querySelector("h2"), say("viewFor", { name: session.names.get(athlete) }));
    },
  };
}

/** Stop first, at once; then where it hurts, only where that may be kept for this reader, else whom to tell. */
export function bindStop(part, session, go) {
  const emergency = part.querySelector("[data-emergency]");
  let athlete = null;
  let pain = null;
  part.querySelector("[data-back]").addEventListener("click", () => go("run"));
  part.querySelector("[data-undo-stop]").addEventListener("click", takeBack);
  part.querySelector("[data-places]").replaceChildren(
    ...Object.entries(words.places).map(([place, word]) => press(word, () => sayWhere(place), { "data-place": place })),
  );

  async function stop(who) {
    athlete = who;
    pain = null;
    go("stop");
    if (session.of(who).isStopped) return;
    const stride = session.of(who).lastStride || null;
    const what = say("stopped", { name: session.names.get(who) });
    await session.act(what, [session.make("stop", who, { stride })]);
    announce(what);
  }

  async function sayWhere(place) {
    emergency.classList.toggle("is-urgent", URGENT.has(place));
    if (URGENT.has(place)) emergency.querySelector("a").focus();
    const own = { place, stride: session.of(athlete).lastStride || null };
    const made = session.make("pain", athlete, pain ? { ...own, replaces: pain.id } : own);
    const what = say("recorded", { name: session.names.get(athlete), what: words.places[place] });
    if (!(await session.act(what, [made]))) return;
    pain = made;
    for (const button of part.querySelectorAll("[data-place]")) {
      button.setAttribute("aria-pressed", String(button.dataset.place === place));
    }
    announce(`${what}, ${say("saved")}`);
  }

  /** Taken back: the stop, and the place that was said with it. */
  async function takeBack() {
    const state = session.of(athlete);
    const gone = [state.stop, ...state.pains.filter((one) => one.device === session.device)].filter(Boolean);
    const back = gone.map((entry) => session.make(entry.kind, athlete, { replaces: entry.id, withdrawn: true }));
    const what = say("undone", { what: say("stopped", { name: session.names.get(athlete) }) });
    if (back.length) await session.act(what, back);
    session.turnTo(athlete);
    session.changed(session);
    announce(what);
    go("run");
  }

  function open() {
    const isAsked = session.track.posts_as === "coach" && session.mayKeep(athlete, "health");
    emergency.classList.remove("is-urgent");
    write(part.querySelector("h2"), say("stopped", { name: session.names.get(athlete) }));
    write(part.querySelector("[data-where-title]"), say("whereFor", { name: session.names.get(athlete) }));
    part.querySelector("[data-where]").hidden = !isAsked;
    part.querySelector("[data-tell]").hidden = isAsked;
    for (const button of part.querySelectorAll("[data-place]")) button.setAttribute("aria-pressed", "false");
    refill(part.querySelector("[data-calls]"), [...staffCalls(session), ...familyCalls(session, athlete)]);
  }
  return { stop, open };
}
