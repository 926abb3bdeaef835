// Ten seconds to take back the last step, in every view; later it is undone from the run.
import { announce } from "../announce.js";
import { el, press, write } from "./dom.js";
import { say } from "./words.js";

const SECONDS = 10;

/** A bar in `part` after each step; `isShown()` says whether it is wanted where one is. Answers what shows it. */
export function bindUndoBar(part, session, isShown) {
  const what = el("span", {});
  const left = el("span", { "aria-hidden": "true" });
  const button = press("", undo, { kind: "press" });
  button.append(`${say("undo")}\u00a0`, left);
  part.append(what, button);
  let step = null;
  let atMs = -Infinity;

  async function undo() {
    const gone = await session.undo();
    if (gone) announce(say("undone", { what: gone.what }));
    step = session.done.at(-1) ?? null;
    atMs = -Infinity;
    show();
  }

  function show() {
    const last = session.done.at(-1) ?? null;
    if (last !== step) [step, atMs] = [last, last ? performance.now() : -Infinity];
    const seconds = Math.ceil(SECONDS - (performance.now() - atMs) / 1000);
    part.hidden = !step || seconds <= 0 || !isShown();
    if (part.hidden) return;
    write(what, step.what);
    write(left, `(${seconds} s)`);
  }
  return show;
}
