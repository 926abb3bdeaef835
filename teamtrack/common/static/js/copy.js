// A button that copies what a field holds; where the browser does not let it, the field is selected to copy by hand.
import { announce } from "./announce.js";

async function copy(button) {
  const field = document.getElementById(button.dataset.copy);
  field.select();
  try {
    await navigator.clipboard.writeText(field.value);
    announce(button.dataset.done);
  } catch {
    announce(button.dataset.byHand);
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-copy]");
  if (button) copy(button);
});
