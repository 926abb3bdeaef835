// Moves a session of the drawn week, by pointer or keys, and asks the server what that would break before anything is saved.
const QUARTER = 15;
const DAYS = 7;
const WAIT_MS = 60;
const panel = document.getElementById("what-if");
let held = null; // {block, day, startsMin, homeDay, homeMin}
let asking = null;
let timer = null;

const scaleOf = (svg) => Object.fromEntries(["opens", "closes", "firstColumn", "column", "padding"].map((name) => [name, Number(svg.dataset[name])]));

function xOf(svg, day, minute) {
  const { opens, closes, firstColumn, column, padding } = scaleOf(svg);
  return firstColumn + day * column + padding + ((minute - opens) / (closes - opens)) * (column - 2 * padding);
}

/** Day and quarter hour under a place of the drawing. */
function placeAt(svg, x) {
  const { opens, closes, firstColumn, column, padding } = scaleOf(svg);
  const day = Math.min(DAYS - 1, Math.max(0, Math.floor((x - firstColumn) / column)));
  const share = (x - firstColumn - day * column - padding) / (column - 2 * padding);
  const minute = Math.round((opens + Math.min(1, Math.max(0, share)) * (closes - opens)) / QUARTER) * QUARTER;
  return { day, startsMin: Math.min(24 * 60 - QUARTER, minute) };
}

const clock = (minutes) => `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;

function hold(block) {
  if (held?.block === block) return;
  leave();
  const day = Number(block.dataset.day);
  const startsMin = Number(block.dataset.starts);
  held = { block, day, startsMin, homeDay: day, homeMin: startsMin };
  fetch(checkOf(block, day, startsMin)).catch(() => {}); // the server reads the week's rules while the session is taken up
}

/** Where to ask what a session at this place would break. */
function checkOf(block, day, startsMin) {
  const { moves, days } = block.ownerSVGElement.dataset;
  const query = new URLSearchParams({ day: days.split(" ")[day], starts: clock(startsMin) });
  return `${moves}/sessions/${block.dataset.session}/check?${query}`;
}

function show() {
  const svg = held.block.ownerSVGElement;
  const dx = xOf(svg, held.day, held.startsMin) - xOf(svg, held.homeDay, held.homeMin);
  held.block.setAttribute("transform", `translate(${dx.toFixed(1)} 0)`);
  held.block.dataset.moved = "";
}

function leave() {
  clearTimeout(timer);
  asking?.abort();
  if (!held) return;
  held.block.removeAttribute("transform");
  delete held.block.dataset.moved;
  held = null;
  panel.replaceChildren();
}

const isAtHome = () => held.day === held.homeDay && held.startsMin === held.homeMin;

function askSoon() {
  clearTimeout(timer);
  timer = setTimeout(ask, WAIT_MS);
}

async function ask() {
  clearTimeout(timer);
  asking?.abort();
  if (!held || isAtHome()) return panel.replaceChildren();
  const mine = (asking = new AbortController());
  const { block, day, startsMin } = held;
  try {
    const answer = await fetch(checkOf(block, day, startsMin), { signal: mine.signal });
    const text = await answer.text();
    if (mine.signal.aborted) return;
    if (answer.ok || answer.status === 400) panel.innerHTML = text;
    else panel.textContent = panel.dataset.lost;
  } catch (error) {
    if (error.name !== "AbortError") panel.textContent = panel.dataset.lost;
  }
}

function move(days, minutes) {
  held.day = Math.min(DAYS - 1, Math.max(0, held.day + days));
  held.startsMin = Math.min(24 * 60 - QUARTER, Math.max(0, held.startsMin + minutes));
  show();
  askSoon();
}

/** What has the focus is taken up already, so that the first key is answered as soon as the next. */
function onFocus(event) {
  const block = event.target.closest("[data-session]");
  if (block && held?.block !== block && !held?.block.hasAttribute("data-moved")) hold(block);
}

function onKey(event) {
  const block = event.target.closest("[data-session]");
  const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!block || (step === undefined && event.key !== "Enter" && event.key !== "Escape")) return;
  event.preventDefault();
  hold(block);
  if (event.key === "Escape") return leave();
  if (step !== undefined) return event.shiftKey ? move(step, 0) : move(0, step * QUARTER);
  ask().then(() => (panel.querySelector("[data-save]") ?? panel.querySelector("[data-leave]"))?.focus());
}

function onGrab(event) {
  const block = event.target.closest("[data-session]");
  if (!block || event.button !== 0) return;
  hold(block);
  const svg = block.ownerSVGElement;
  const toDrawing = svg.getScreenCTM().inverse();
  const xUnder = (one) => new DOMPoint(one.clientX, one.clientY).matrixTransform(toDrawing).x;
  const offset = xUnder(event) - xOf(svg, held.day, held.startsMin);
  block.setPointerCapture(event.pointerId);
  const follow = (one) => {
    Object.assign(held ?? {}, placeAt(svg, xUnder(one) - offset));
    if (!held) return;
    show();
    askSoon();
  };
  const drop = () => {
    block.removeEventListener("pointermove", follow);
    if (held) ask();
  };
  block.addEventListener("pointermove", follow);
  block.addEventListener("pointerup", drop, { once: true });
  block.addEventListener("pointercancel", () => (drop(), leave()), { once: true });
}

for (const svg of document.querySelectorAll("svg[data-moves]")) {
  svg.addEventListener("pointerdown", onGrab);
  svg.addEventListener("keydown", onKey);
  svg.addEventListener("focusin", onFocus);
}
panel?.addEventListener("click", (event) => {
  if (!event.target.closest("[data-leave]")) return;
  const block = held?.block;
  leave();
  block?.focus();
});
panel?.addEventListener("keydown", (event) => {
  if (event.key === "Escape") panel.querySelector("[data-leave]")?.click();
});
