// Forms with something typed or chosen are sent only once the server answers, so that without signal the page stays and
// what was typed in it.
import { announce } from "./announce.js";
import { answers } from "./exchange.js";

const TYPED = "input:not([type=hidden]), select, textarea";
const ON_THEIR_OWN = "[data-passkey], [data-needs-signal]";

async function sendIfAnswered(event) {
  const { target: form, submitter } = event;
  const isPosted = form.getAttribute("method")?.toLowerCase() === "post";
  if (event.defaultPrevented || !isPosted || form.matches(ON_THEIR_OWN) || !form.querySelector(TYPED)) return;
  const is = form.dataset.sending;
  if (is === "answered") return delete form.dataset.sending;
  event.preventDefault();
  if (is === "asks") return;
  form.dataset.sending = "asks";
  const there = await answers();
  if (!there) delete form.dataset.sending;
  if (!there) return announce(document.body.dataset.typed);
  form.dataset.sending = "answered";
  form.requestSubmit(submitter);
}

document.addEventListener("submit", sendIfAnswered);
