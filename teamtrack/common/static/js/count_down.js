// Counts down what a page says is left, in minutes and seconds; at the end the page is read anew.
function start(place) {
  const endsAtMs = Date.now() + Number(place.dataset.countDown) * 1000;
  const tick = () => {
    const left = Math.max(0, Math.round((endsAtMs - Date.now()) / 1000));
    place.textContent = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
    if (left > 0) return;
    clearInterval(clock);
    if (navigator.onLine) location.reload();
  };
  const clock = setInterval(tick, 1000);
  tick();
}

for (const place of document.querySelectorAll("[data-count-down]")) start(place);
