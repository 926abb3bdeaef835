// Small help for building the page's lists.

/** An element with attributes (functions become listeners of that event), and children: elements or text. */
export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") made.addEventListener(name, value);
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children);
  return made;
}

/** A button of the page. */
export function press(text, click, { kind = "press press-plain", label = null, ...more } = {}) {
  return el("button", { type: "button", class: kind, "aria-label": label, click, ...more }, text);
}

/** Replace the children of a part but keep the keyboard's place: the control of the same `data-key` gets it back. */
export function refill(part, children) {
  const key = part.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  part.replaceChildren(...children);
  if (key) part.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
}

/** Write a text only where it changed. */
export function write(part, text) {
  if (part.textContent !== text) part.textContent = text;
}

/** A row of a list that is a named group of controls: a list item may not be one itself. */
export function groupRow(name, kind, ...parts) {
  return el("li", {}, el("div", { role: "group", "aria-label": name, class: kind }, ...parts));
}
