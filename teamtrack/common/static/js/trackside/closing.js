// The summary on the phone that counted: its numbers of adults and visitors stand in the form already; what needs signal says so.
import { announce } from "../announce.js";
import { answers } from "../exchange.js";
import { dayIn, PhoneOwn } from "./own.js";

const form = document.querySelector("[data-closing]");
if (form) {
  const { closing, person } = form.dataset;
  const { adults, visitors } = new PhoneOwn({ person, session: closing, day: dayIn() }).value;
  if (adults !== null) form.elements.adults.value = String(adults);
  if (visitors.length) form.elements.visitors.value = String(visitors.filter((one) => one.isHere).length);
}
for (const one of document.querySelectorAll("form[data-needs-signal]")) one.addEventListener("submit", sendWithSignal);

/** Without an answer the page stays as it is, with what was typed. */
async function sendWithSignal(event) {
  event.preventDefault();
  const sent = event.target;
  if (await answers()) sent.submit();
  else announce(sent.dataset.needsSignal);
}
