// Forms with much to type: sent only once the server answers, so that without signal the page and what was typed stay.
import { announce } from "./announce.js";
import { answers } from "./exchange.js";

async function sendIfAnswered(event) {
  const form = event.target.closest("form[data-typed]");
  if (!form || form.dataset.answered) {
    if (form) delete form.dataset.answered;
    return;
  }
  event.preventDefault();
  const { submitter } = event;
  if (!(await answers())) return announce(form.dataset.typed);
  form.dataset.answered = "yes";
  form.requestSubmit(submitter);
}

document.addEventListener("submit", sendIfAnswered);
