// Double taps: a second press of the same button within 0.4 s does not count; two different buttons both count.
const WITHIN_MS = 400;
const NEAR_PX = 24;
let pressed = []; // of the last 0.4 s: {button, name, atMs, x, y}

/**
 * Whether `button` is the one pressed before: itself, the same one drawn anew, or, where the browser
 * takes it for a double tap, what came under the finger in its place.
 */
function isAgain(button, before, event) {
  if (before.button === button) return true;
  if (before.button.isConnected && before.button.checkVisibility({ visibilityProperty: true })) return false;
  if (before.name && before.name === button.dataset.key) return true;
  return event.detail > 1 && Math.hypot(event.clientX - before.x, event.clientY - before.y) < NEAR_PX;
}

function refuseRepeat(event) {
  const button = event.target.closest("button, .press");
  if (!button) return;
  const atMs = event.timeStamp;
  pressed = pressed.filter((before) => atMs - before.atMs < WITHIN_MS);
  if (pressed.some((before) => isAgain(button, before, event))) {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  pressed.push({ button, name: button.dataset.key, atMs, x: event.clientX, y: event.clientY });
}

document.addEventListener("click", refuseRepeat, { capture: true });
