// The ends of the phases under the season's strip: pulled with the pointer or moved with the arrow keys; what a phase
// would be is written in words, and sent to be tried only by its button.
const strip = document.querySelector("[data-strip]");
const form = document.querySelector("[data-stretch]");
const WHOLE = 1000;

function weekWidth() {
  return Number(strip.dataset.weekWidth);
}

function place(end, week) {
  const left = (week * weekWidth()) / WHOLE;
  end.style.left = `${100 * left}%`;
}

function drawPhase(id, first, last) {
  const [x, width] = [(first - 1) * weekWidth(), (last - first + 1) * weekWidth()];
  for (const box of strip.querySelectorAll(`[data-phase="${id}"] rect`)) {
    box.setAttribute("x", String(x));
    box.setAttribute("width", String(width));
  }
  strip.querySelector(`[data-phase="${id}"] text`)?.setAttribute("x", String(x + width / 2));
}

/** The phase after it gives way, and follows where the two touch. */
function drawNext(end, last) {
  const next = end.nextElementSibling;
  if (!next) return;
  const touch = Number(next.dataset.first) === Number(end.dataset.last) + 1;
  const first = touch ? last + 1 : Math.max(Number(next.dataset.first), last + 1);
  drawPhase(next.dataset.end, first, Number(next.dataset.last));
}

/** The phase ends with `week` now, as far as that goes. */
function stretch(end, week) {
  const first = Number(end.dataset.first);
  const last = Math.min(Math.max(week, first), Number(end.getAttribute("aria-valuemax")));
  if (last === Number(end.getAttribute("aria-valuenow"))) return;
  for (const other of form.querySelectorAll("[data-end]")) if (other !== end) back(other);
  end.setAttribute("aria-valuenow", String(last));
  place(end, last);
  drawPhase(end.dataset.end, first, last);
  drawNext(end, last);
  tell(end, first, last);
}

function tell(end, first, last) {
  const told = form.querySelector("[data-stretched]");
  const words = told.querySelector("[data-stretched-words]");
  told.hidden = last === Number(end.dataset.last);
  words.textContent = words.dataset.stretchedWords
    .replace("{phase}", end.dataset.name).replace("{first}", String(first)).replace("{last}", String(last));
  form.action = form.dataset.address + end.dataset.end;
  form.elements.first_week.value = String(first);
  form.elements.last_week.value = String(last);
  form.elements.aim.value = end.dataset.aim;
  form.elements.name.value = end.dataset.ownName ?? "";
}

function back(end) {
  end.setAttribute("aria-valuenow", end.dataset.last);
  place(end, Number(end.dataset.last));
  drawPhase(end.dataset.end, Number(end.dataset.first), Number(end.dataset.last));
}

function letBe() {
  for (const end of form.querySelectorAll("[data-end]")) back(end);
  form.querySelector("[data-stretched]").hidden = true;
}

const STEPS = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -4, PageUp: 4 };

function byKey(event) {
  const end = event.currentTarget;
  if (event.key === "Escape") letBe();
  else if (event.key in STEPS) stretch(end, Number(end.getAttribute("aria-valuenow")) + STEPS[event.key]);
  else return;
  event.preventDefault();
}

function pull(event) {
  const end = event.currentTarget;
  if (!end.hasPointerCapture(event.pointerId)) return;
  const bounds = form.querySelector(".strip-ends").getBoundingClientRect();
  stretch(end, Math.round(((event.clientX - bounds.left) / bounds.width) * WHOLE / weekWidth()));
}

if (strip && form) {
  for (const end of form.querySelectorAll("[data-end]")) {
    place(end, Number(end.dataset.last));
    end.addEventListener("keydown", byKey);
    end.addEventListener("pointerdown", (event) => end.setPointerCapture(event.pointerId));
    end.addEventListener("pointermove", pull);
  }
  form.querySelector("[data-let-be]").addEventListener("click", letBe);
  form.querySelector(".strip-ends").dataset.ready = "";
}
