// Times and steps, off at first: start and line by two taps on the phone's steady clock.
import { announce } from "../announce.js";
import { steadyMs } from "./clock.js";
import { write } from "./dom.js";
import { say, words } from "./words.js";

/** Bind the row of the stage; answers what shows it. A start without a line is kept with the result. */
export function bindTimes(part, session) {
  const at = (name) => part.querySelector(`[data-${name}]`);
  let taken = null;
  at("start").addEventListener("click", () => begin());
  at("line").addEventListener("click", () => cross());
  at("step").addEventListener("click", () => {
    taken = { ...current(), steps: Math.min(400, (current().steps ?? 0) + 1) };
    show();
  });

  const isFor = (one) => one && session.current && one.athlete === session.current.athlete && one.stride === session.current.stride;
  const current = () => (isFor(taken) ? taken : { ...session.current, steps: null, startMs: null, started_at: null });

  function begin() {
    taken = { ...session.current, steps: null, startMs: steadyMs(), started_at: new Date().toISOString() };
    announce(say("started", { name: session.names.get(taken.athlete) }));
    show();
  }

  async function cross() {
    const one = current();
    const time = one.startMs === null ? null : Math.round(steadyMs() - one.startMs) / 1000;
    const isTime = time !== null && time >= 0.1 && time <= 600;
    const own = { stride: one.stride, time_s: isTime ? time : null, steps: one.steps, started_at: one.started_at, crossed_at: new Date().toISOString() };
    const known = session.of(one.athlete).runs.get(one.stride);
    const made = session.make("run", one.athlete, known ? { ...own, replaces: known.id } : own);
    const what = say("recorded", { name: session.names.get(one.athlete), what: isTime ? say("seconds", { time: time.toFixed(2) }) : words.kinds.run });
    taken = null;
    if (await session.act(what, [made])) announce(`${what}, ${say("saved")}`);
  }

  function show() {
    part.hidden = !session.own.value.times || !session.current;
    if (part.hidden) return;
    const { athlete, stride } = session.current;
    const kept = session.of(athlete).runs.get(stride);
    const one = current();
    const running = one.startMs === null ? "" : say("seconds", { time: ((steadyMs() - one.startMs) / 1000).toFixed(0) });
    write(at("time"), kept?.time_s && !running ? say("seconds", { time: kept.time_s.toFixed(2) }) : running);
    write(at("steps"), String((running || one.steps ? one.steps : kept?.steps) ?? 0));
  }
  return show;
}
