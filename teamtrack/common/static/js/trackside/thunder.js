// Thunder heard beside the straight: the half hour is counted on this phone at once, and the club is told as soon as there is signal.
import { announce } from "../announce.js";
import { originToken } from "../exchange.js";
import { newEntryId } from "../ids.js";
import { hourIn, minutes } from "./clock.js";
import { write } from "./dom.js";
import { say, words } from "./words.js";

const HALF_HOUR_MS = 1800000;
const AGAIN_MS = 5000;
const NO_ANSWER_MS = 8000;

/** Bind the buttons and the note of `page`; answers what shows them, and sends what waits. */
export function bindThunder(page, session) {
  const { thunderAgo, thunderTo, zone } = page.dataset;
  const note = page.querySelector("[data-thunder-note]");
  const [said, what, told, back] = ["said", "what", "told", "back"].map((name) => note.querySelector(`[data-thunder-${name}]`));
  const readMs = Number(document.documentElement.dataset.keptAt) || Date.now();
  const known = thunderAgo ? { at: readMs - 1000 * Number(thunderAgo), isSent: true } : null;
  const own = () => session.own.value.thunder;
  const last = () => own().findLast((one) => !one.isBack);
  let isSending = false;
  let againMs = 0;

  const change = (id, more) => session.own.set({ thunder: own().map((one) => (one.id === id ? { ...one, ...more } : one)) });

  for (const button of page.querySelectorAll("[data-thunder]")) {
    button.addEventListener("click", () => {
      session.own.set({ thunder: [...own(), { id: newEntryId(), at: Date.now() }] });
      announce(words.thunderIn);
      send();
    });
  }
  back.addEventListener("click", () => {
    change(last().id, { isBack: true, isSent: false });
    send();
  });

  /** One after the other; what is not answered waits, and is tried again while the page is open. */
  async function send() {
    const one = own().find(({ isSent }) => !isSent);
    if (!one || isSending) return;
    [isSending, againMs] = [true, Date.now() + AGAIN_MS];
    const body = new URLSearchParams({ id: one.id, ago_s: Math.max(0, Math.round((Date.now() - one.at) / 1000)), back: one.isBack ? "1" : "" });
    const signal = AbortSignal.timeout(NO_ANSWER_MS);
    const headers = { "X-CSRFToken": originToken() };
    const answer = await fetch(thunderTo, { method: "POST", headers, body, redirect: "error", signal }).catch(() => null);
    isSending = false;
    if (!answer?.ok || own().find(({ id }) => id === one.id).isBack !== one.isBack) return;
    change(one.id, { isSent: true });
    send();
  }

  return () => {
    if (Date.now() > againMs) send();
    const mine = last();
    const one = known && known.at > (mine?.at ?? 0) ? known : mine;
    const leftMs = one ? one.at + HALF_HOUR_MS - Date.now() : -Infinity;
    note.hidden = leftMs < -HALF_HOUR_MS;
    if (note.hidden) return;
    const until = hourIn(zone, new Date(one.at + HALF_HOUR_MS));
    write(said, say("thunderAt", { time: hourIn(zone, new Date(one.at)) }));
    write(what, leftMs > 0 ? say("thunderOut", { until, left: minutes(leftMs / 1000) }) : words.thunderOver);
    write(told, one.isSent ? words.thunderTold : words.thunderAlone);
    back.hidden = one === known;
  };
}
