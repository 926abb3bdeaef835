// Fetches what other phones recorded, again and again; a failed try is said and made again.
const EVERY_MS = 5000;
const LONGEST_MS = 30000;
const NO_ANSWER_MS = 20000;
const AT_ONCE = 500;

/**
 * Ask the exchange for what came after `store.next`, every few seconds while the page is seen.
 *
 * Only what the server answers to `person` is taken in: somebody else may have signed in on this phone meanwhile.
 * `came(page)` is called with each page once it is kept; `reached(isOn, problem)` after each try: whether the server answered,
 * and what it refused, if anything.
 */
export class Pull {
  constructor({ address, person, store, came, reached }) {
    Object.assign(this, { address, person, store, came, reached });
    this.waitMs = EVERY_MS;
    this.timer = null;
    this.isAsking = false;
    addEventListener("online", () => this.ask());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.ask());
  }

  async ask() {
    if (this.isAsking) return;
    clearTimeout(this.timer);
    this.isAsking = true;
    const isOn = await this.readAll();
    this.isAsking = false;
    this.waitMs = isOn ? EVERY_MS : Math.min(LONGEST_MS, this.waitMs * 2);
    this.timer = setTimeout(() => this.ask(), this.waitMs);
  }

  async readAll() {
    try {
      for (let more = true; more; ) more = await this.readOne();
    } catch (fault) {
      this.reached(Boolean(fault.said), fault.said ?? null);
      return false;
    }
    this.reached(true, null);
    return true;
  }

  async readOne() {
    const page = await fetchJson(`${this.address}?after=${this.store.next}&limit=${AT_ONCE}`, this.person);
    await this.store.keepPage(page);
    this.came(page);
    return page.more;
  }
}

/** JSON of an address for this person; a refusal is thrown with what the server said, a lost connection as it comes. */
export async function fetchJson(address, person) {
  const response = await fetch(address, {
    headers: { Accept: "application/json" },
    signal: AbortSignal.timeout(NO_ANSWER_MS),
  });
  const isOther = response.ok && response.headers.get("Phone-Person") !== person;
  if (response.ok && !isOther) return response.json();
  const fault = new Error(String(response.status));
  fault.status = response.status;
  if (isOther) fault.said = { code: "OTHER_PERSON", detail: "" };
  else if (response.status < 500) fault.said = await response.json().catch(() => ({ detail: "" }));
  throw fault;
}
