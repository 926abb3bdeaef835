// Shows an outbox in the page: the banner, each entry that waits or was refused, and how this phone keeps them.
import { announce } from "./announce.js";
import { writeFile } from "./store/file.js";
import { hasRoom, howKept } from "./store/persist.js";

const TOLD = { SIGN_IN_FIRST: "signedOut", OTHER_PERSON: "otherPerson" };

/**
 * Bind the queue part of a page (components/queue.html) to an outbox; the words stand in the template, as data.
 *
 * Answers `{changed, fault}`: what the outbox calls after each change, and how a fault of the store is said (null: none).
 */
export function queueView(part) {
  const words = part.dataset;
  const signal = part.querySelector(".signal");
  const banner = part.querySelector("[data-signal-text]");
  const list = part.querySelector("ul");
  const store = part.querySelector("[data-store-fault]");
  const old = part.querySelector("[data-old]");
  const file = part.querySelector("[data-file]");
  const signIn = part.querySelector("[data-sign-in]");
  let said = "";
  let shown = "";
  let last = null;

  function headline(outbox) {
    if (outbox.problem) return words[TOLD[outbox.problem.code]] ?? (outbox.problem.detail || words.problem);
    if (outbox.reach === "off") return words.off;
    if (outbox.waiting.length) return words.sending;
    return outbox.sentCount ? words.sent : words.on;
  }

  function counted(waiting, refused) {
    const told = [[words.count, waiting], [words.refused, refused]].filter(([, count]) => count);
    return told.map(([text, count]) => text.replace("{count}", String(count))).join(", ");
  }

  function row(item, outbox) {
    const line = document.createElement("li");
    line.className = "row";
    const text = document.createElement("span");
    text.textContent = `${item.name}: ${item.state === "waiting" ? words.waiting : item.detail || words.conflict}`;
    line.append(text);
    if (item.state !== "waiting") line.append(removal(item, outbox));
    return line;
  }

  function removal(item, outbox) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "press press-plain";
    button.textContent = words.remove;
    button.setAttribute("aria-label", `${words.remove} ${item.name}`);
    button.addEventListener("click", () => outbox.remove(item.id));
    return button;
  }

  function changed(outbox) {
    last = outbox;
    const count = outbox.waiting.length;
    part.hidden = !words.always && !outbox.items.length && !outbox.problem && store.hidden;
    signal.hidden = false;
    signal.dataset.state = outbox.reach === "off" ? "off" : outbox.items.length ? "waiting" : "on";
    banner.textContent = headline(outbox);
    part.querySelector("[data-signal-count]").textContent = counted(count, outbox.stuck.length);
    const rows = outbox.items.map((item) => `${item.id} ${item.state}`).join();
    if (rows !== shown) list.replaceChildren(...outbox.items.map((item) => row(item, outbox)));
    shown = rows;
    old.hidden = !outbox.old.length;
    old.textContent = words.old.replace("{count}", String(outbox.old.length));
    file.hidden = !outbox.items.length;
    signIn.hidden = outbox.problem?.code !== "SIGN_IN_FIRST";
    const now = `${banner.textContent} ${outbox.stuck.length}`;
    if (now !== said) announce(banner.textContent);
    said = now;
  }

  /** A fault of the store stays in sight: `full`, `none`, `failed`, `lost` or `rewritten` (with `{count}`). */
  function fault(code, count = 0) {
    store.hidden = !code;
    if (!code) return;
    part.hidden = false;
    signal.hidden = !banner.textContent;
    store.textContent = (words[`store${code[0].toUpperCase()}${code.slice(1)}`] ?? words.storeFailed).replace("{count}", String(count));
    announce(store.textContent);
  }

  file.addEventListener("click", () => last && writeFile(words.fileName, last.items));
  howKept().then((how) => {
    part.querySelector("[data-how-kept]").textContent = words[how];
    if (how === "insecure") fault("insecure");
  });
  hasRoom().then((has) => has || fault("nearlyFull"));
  return { changed, fault };
}
