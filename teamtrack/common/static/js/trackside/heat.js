// Several at once, a lane for each: who runs together now, and whose result is still to be said.
import { announce } from "../announce.js";
import { press, refill } from "./dom.js";
import { say, words } from "./words.js";

/** Whether the reader has said what this stride of a runner showed, or that it was run. */
export function isSaid(session, { athlete, stride }) {
  const { results, runs } = session.of(athlete);
  return runs.has(stride) || [...results.values()].some((one) => one.stride === stride && one.type !== "strength");
}

/**
 * The runners at once (`[{athlete, stride}]`): those of `heat` who still run, filled up to `lanes` from `order` while no
 * result of theirs is said; who has just run stands back for the others.
 */
export function filled(session, heat, lanes, order) {
  const here = heat.filter(({ athlete }) => !session.hasEnded(athlete));
  if (here.some((one) => isSaid(session, one))) return here;
  const taken = new Set(here.map(({ athlete }) => athlete));
  const more = order.filter(({ id }) => !taken.has(id)).map(({ id }) => ({ athlete: id, stride: session.of(id).lastStride + 1 }));
  return [...here, ...more].slice(0, lanes);
}

/** Bind the lanes of the stage: whose result comes next is one tap; the unwatched have run in one. */
export function bindLanes(part, session) {
  const list = part.querySelector("ul");
  const rest = part.querySelector("[data-others-ran]");
  const unsaid = () => session.heat.filter((one) => !isSaid(session, one));
  rest.addEventListener("click", async () => {
    const ran = unsaid();
    if (!ran.length) return;
    const made = ran.map(({ athlete, stride }) => session.make("run", athlete, { stride }));
    const what = say("recorded", { name: ran.map(({ athlete }) => session.names.get(athlete)).join(", "), what: words.kinds.run });
    if (await session.act(what, made, { goesOn: true })) announce(`${what}, ${say("saved")}`);
  });

  const lane = (one, at) => {
    const isNow = one.athlete === session.current?.athlete;
    const name = session.names.get(one.athlete);
    const known = [...session.of(one.athlete).results.values()].find(({ stride, type }) => stride === one.stride && type !== "strength");
    const state = known ? words.within[known.shown] : isSaid(session, one) ? words.kinds.run : "";
    const label = [say("laneOf", { number: at + 1, name: session.athletes.get(one.athlete).name }), state].filter(Boolean).join(", ");
    const turn = () => {
      session.current = one;
      session.changed(session);
    };
    const made = press(`${at + 1} ${name}`, turn, { label, "data-key": `lane ${at + 1}`, "aria-current": isNow ? "true" : null });
    if (state) made.append(Object.assign(document.createElement("span"), { className: "small", textContent: state }));
    const item = document.createElement("li");
    item.append(made);
    return item;
  };

  let shown = "";
  return function show() {
    part.hidden = session.heat.length < 2 || !session.current;
    if (part.hidden) return;
    const now = JSON.stringify([session.heat.map((one, at) => [one, at, isSaid(session, one)]), session.current]);
    if (now !== shown) refill(list, session.heat.map(lane));
    shown = now;
    rest.hidden = unsaid().length === 0;
  };
}
