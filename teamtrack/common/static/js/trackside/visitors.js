// Visitors on trial: a first name, on this phone only and gone with the day; counted so that nobody is forgotten.
import { announce } from "../announce.js";
import { el, groupRow, press, refill } from "./dom.js";
import { say, words } from "./words.js";

/** Bind the visitors' part of the roll call; answers what shows it. */
export function bindVisitors(part, session) {
  const form = part.querySelector("form");
  const list = part.querySelector("ul");
  const field = form.elements.visitor;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const name = field.value.trim();
    if (!name) return field.focus();
    session.own.set({ visitors: [...session.own.value.visitors, { name, isHere: true }] });
    form.reset();
    announce(say("visitorHere", { name }));
    return undefined;
  });

  const change = (at, more) =>
    session.own.set({ visitors: session.own.value.visitors.map((one, place) => (place === at ? { ...one, ...more } : one)) });

  function row({ name, isHere }, at) {
    const buttons = [
      [words.presence.came, true],
      [words.presence.left, false],
    ].map(([word, state]) =>
      press(word, () => change(at, { isHere: state }), { "aria-pressed": String(isHere === state), "data-key": `visitor ${at} ${state}` }),
    );
    return groupRow(name, "roll-row", el("strong", {}, name), el("div", { class: "roll-states" }, ...buttons));
  }

  return () => refill(list, session.own.value.visitors.map(row));
}

export const visitorsHere = (session) => session.own.value.visitors.filter((one) => one.isHere).length;
