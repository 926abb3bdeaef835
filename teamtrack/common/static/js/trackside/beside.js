// Two corrections of one entry: both stand, side by side, until somebody taps the one that is right.
import { announce } from "../announce.js";
import { el, groupRow, press, refill } from "./dom.js";
import { say, words } from "./words.js";

/** What stands beside each other and may be looked at: another's result not before one's own, nothing of an athlete's own. */
export function besideNow(session) {
  const { person: me } = session.track;
  const isOpen = (entry) =>
    entry.kind !== "observation" || entry.by === me || session.of(entry.athlete).results.has(`${entry.stride} ${entry.feature}`);
  return session.beside.filter(
    (group) => group.every((entry) => entry.by !== entry.athlete && isOpen(entry)) && session.athletes.has(group[0].athlete),
  );
}

/** Bind the view that settles them; answers what shows it. */
export function bindBeside(part, session, go) {
  const list = part.querySelector("ul");

  async function settle(group, kept) {
    const others = group.filter((entry) => entry.id !== kept.id);
    const back = others.map((entry) => session.make(entry.kind, entry.athlete, { replaces: entry.id, withdrawn: true }));
    const what = say("settled", { what: said(session, kept) });
    if (!(await session.act(what, back))) return;
    announce(`${what}, ${say("saved")}`);
    if (!besideNow(session).length) go("run");
  }

  const row = (group) => {
    const name = session.names.get(group[0].athlete);
    const buttons = group.map((entry) =>
      press(said(session, entry), () => settle(group, entry), { kind: "press press-plain press-track press-wide", "data-key": entry.id }),
    );
    const stride = group[0].stride ? say("stride", { number: group[0].stride }) : "";
    const head = [name, words.kinds[group[0].kind], stride].filter(Boolean).join(", ");
    return groupRow(head, "stack roll-row", el("strong", {}, head), ...buttons);
  };
  return () => refill(list, besideNow(session).map(row));
}

/** What an entry says, and who said it. */
function said(session, entry) {
  const what = {
    presence: () => words.presence[entry.state],
    observation: () => `${session.label(entry.feature)}: ${words.within[entry.shown]}`,
    cue: () => `“${entry.words}”`,
    pain: () => words.places[entry.place],
    run: () => (entry.time_s ? say("seconds", { time: entry.time_s }) : words.kinds.run),
    own_view: () => entry.words ?? words.within[entry.shown],
  }[entry.kind];
  return [what ? what() : words.kinds[entry.kind], session.nameOfCoach(entry.by)].filter(Boolean).join(", ");
}
