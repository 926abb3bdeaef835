// The live region of the page: one sentence at a time, read out and shown for ten seconds.
const SHOWN_MS = 10000;
let timer = null;

export function announce(text) {
  const region = document.getElementById("live");
  if (!region) return;
  clearTimeout(timer);
  region.textContent = text;
  timer = setTimeout(() => (region.textContent = ""), SHOWN_MS);
}
