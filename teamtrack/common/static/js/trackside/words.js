// The page's sentences, handed over by its template, and how they are filled.
const part = document.getElementById("trackside-words");

export const words = part ? JSON.parse(part.textContent) : {};

/** A sentence with its `{places}` filled. */
export function say(name, values = {}) {
  return fill(words[name] ?? name, values);
}

export function fill(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (whole, key) => values[key] ?? whole);
}
