// The undo bar: counts its seconds down and goes.
function start(bar) {
  if (bar.dataset.started) return;
  bar.dataset.started = "yes";
  const left = bar.querySelector("[data-seconds-left]");
  let seconds = Number(bar.dataset.undo);
  const clock = setInterval(() => {
    seconds -= 1;
    left.textContent = String(seconds);
    if (seconds > 0) return;
    clearInterval(clock);
    if (bar.contains(document.activeElement)) document.getElementById("main")?.focus();
    bar.remove();
  }, 1000);
}

function startAll(within) {
  for (const bar of within.querySelectorAll("[data-undo]")) start(bar);
}

startAll(document);
document.addEventListener("htmx:load", (event) => startAll(event.target.parentNode ?? document));
