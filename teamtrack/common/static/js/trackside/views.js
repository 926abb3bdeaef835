// The page's views: one is in sight, the others are hidden; STOP is in reach from all of them.
import { bindBeside } from "./beside.js";
import { hourIn } from "./clock.js";
import { write } from "./dom.js";
import { bindNumbers, bindOrder, bindRoll, bindRound } from "./lists.js";
import { bindOwnView, bindPoint, bindStop, bindStrength, bindWords } from "./sheets.js";
import { bindStage } from "./stage.js";
import { bindTalk } from "./talk.js";
import { bindThunder } from "./thunder.js";
import { bindUndoBar } from "./undo_bar.js";
import { words } from "./words.js";

/** Bind every view of the page (`page`) to the session; answers how the first is begun and how the one in sight is shown anew. */
export function bindViews(page, session) {
  const part = (name) => page.querySelector(`[data-view="${name}"]`);
  const stop = bindStop(part("stop"), session, go);
  const round = bindRound(part("round"), session, stop.stop);
  const roll = bindRoll(part("roll"), session);
  const shows = {
    run: bindStage(part("run"), session, go),
    order: bindOrder(part("order"), session, go, stop.stop),
    roll: roll.show,
    round: round.show,
    numbers: bindNumbers(part("numbers"), session),
    beside: bindBeside(part("beside"), session, go),
  };
  const opens = {
    words: bindWords(part("words"), session, go).open,
    point: bindPoint(part("point"), session, go).open,
    strength: bindStrength(part("strength"), session, go).open,
    view: bindOwnView(part("view"), session, go).open,
    stop: stop.open,
    talk: bindTalk(part("talk"), session, go).open,
    round: round.begin,
  };
  const stopNow = page.querySelector("[data-stop]");
  const hour = page.querySelector("[data-hour]");
  const showUndo = bindUndoBar(page.querySelector("[data-undo-bar]"), session, () => view !== "run" && view !== "stop");
  const showThunder = bindThunder(page, session);
  let view = null;

  /** Show one view and put the keyboard there; the others are hidden. */
  function go(name) {
    view = name;
    for (const one of page.querySelectorAll("[data-view]")) one.hidden = one.dataset.view !== name;
    for (const tab of page.querySelectorAll("[data-tab]")) {
      if (tab.dataset.tab === name) tab.setAttribute("aria-current", "page");
      else tab.removeAttribute("aria-current");
    }
    opens[name]?.();
    if (view !== name) return;
    show();
    part(name).querySelector("h2")?.focus({ preventScroll: true });
    scrollTo(0, page.offsetTop);
  }

  function show() {
    if (!view) return;
    shows[view]?.();
    write(hour, hourIn(page.dataset.zone));
    showStop();
    showUndo();
    showThunder();
  }

  /** STOP is for who runs now, and says so where that runner is not in sight; after a stop it waits for the next. */
  function showStop() {
    const athlete = session.current?.athlete;
    stopNow.classList.toggle("is-away", view === "stop");
    stopNow.disabled = view === "stop";
    stopNow.setAttribute("aria-label", athlete ? `${words.stop} ${session.athletes.get(athlete).name}` : words.stop);
    const who = page.querySelector("[data-stop-who]");
    who.hidden = !athlete || view === "run";
    write(who, athlete ? session.names.get(athlete) : "");
  }

  stopNow.addEventListener("click", () => (session.current ? stop.stop(session.current.athlete) : go("order")));
  for (const tab of page.querySelectorAll("[data-tab]")) tab.addEventListener("click", () => go(tab.dataset.tab));
  for (const back of page.querySelectorAll("[data-to-run]")) back.addEventListener("click", () => go("run"));

  /** The first view: the roll call until somebody is here. */
  function begin() {
    page.querySelector("[data-body]").hidden = false;
    const isEnd = location.hash === "#collect";
    roll.turnToEnd(isEnd);
    go(isEnd || !session.here.length ? "roll" : "run");
  }
  return { begin, show };
}
