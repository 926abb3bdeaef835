// One exchange with the server, and what its answer means for what waits.
const NO_ANSWER_MS = 20000;
const IS_THERE_MS = 8000;
const TOO_MANY = 429;

/** Whether the server answers at all: the browser's own word for it is not asked. */
export const answers = () => fetch("/healthz", { signal: AbortSignal.timeout(IS_THERE_MS) }).then((found) => found.ok, () => false);

/** The proof of origin that the server gave last: its cookie, else that of the page. */
export function originToken() {
  const cookie = document.cookie.match(/(?:^|; )(?:__Host-)?csrftoken=([^;]+)/);
  return cookie?.[1] ?? document.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
}

/**
 * Post entries as one person: `{answers}`, or `{halve}`, `{reach: "off", retryAfterMs}`, `{problem: {code, detail}}`.
 *
 * A token that is too old is fetched anew once, and the same is posted again.
 */
export async function postEntries(address, person, entries, isAgain = false) {
  const response = await fetch(address, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": originToken() },
    body: JSON.stringify({ as: person, entries }),
    signal: AbortSignal.timeout(NO_ANSWER_MS),
  }).catch(() => null);
  if (!response) return { reach: "off" };
  if (response.status === 413 && entries.length > 1) return { halve: true };
  if (response.status === TOO_MANY || response.status >= 500) return { reach: "off", retryAfterMs: 1000 * (Number(response.headers.get("Retry-After")) || 0) };
  const said = await response.json().catch(() => null);
  if (response.ok) return said?.answers?.length === entries.length ? { answers: said.answers } : { reach: "off" };
  if (said?.code === "CSRF_FAILED" && !isAgain) {
    await fetch("/api/v1/sign-in", { signal: AbortSignal.timeout(NO_ANSWER_MS) }).catch(() => null);
    return postEntries(address, person, entries, true);
  }
  return { problem: { code: said?.code ?? String(response.status), detail: said?.detail ?? "" } };
}
