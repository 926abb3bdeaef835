// What waits to be sent: it lies in the person's store, and each entry stays there until the server has said that it keeps it.
import { postEntries } from "./exchange.js";

const AT_ONCE = 500;
const FIRST_WAIT_MS = 2000;
const LONGEST_WAIT_MS = 60000;
const LONGEST_ASKED_MS = 300000;
const DAYS_MS = 24 * 3600 * 1000;
export const LONG_MS = 3 * DAYS_MS;

const WAITING = "waiting";
const KEPT_BY_SERVER = new Set(["accepted", "known"]);
const addressOf = (session) => `/api/v1/sessions/${session}/entries`;
const withoutBy = ({ by, ...entry }) => entry;

/** An entry on its way: `{id, session, entry, name, state, code, detail, kept_at}`; `name` says what it is. */
export function itemOf(entry, name) {
  const sent = withoutBy(entry);
  return { id: entry.id, session: entry.session, entry: sent, name, state: WAITING, code: null, detail: null, kept_at: Date.now() };
}

/**
 * All entries of one person that are on their way, of every session; other tabs may send the same, which is harmless.
 *
 * `kept`: the person's store; `changed`: called after each change with this outbox. State of an item: `waiting`, `refused` or
 * `conflict`; the last two leave by hand alone.
 */
export class Outbox {
  constructor({ kept, changed }) {
    Object.assign(this, { kept, changed });
    this.items = [];
    this.sentCount = 0;
    this.reach = "on";
    this.problem = null;
    this.batch = AT_ONCE;
    this.waitMs = FIRST_WAIT_MS;
    this.timer = null;
    this.isAskedToWait = false;
    this.sending = null;
    kept.heard(() => this.load());
    addEventListener("online", () => this.send());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.send());
  }

  get waiting() {
    return this.items.filter((item) => item.state === WAITING);
  }

  get stuck() {
    return this.items.filter((item) => item.state !== WAITING);
  }

  /** What has waited for more than three days. */
  get old() {
    return this.items.filter((item) => Date.now() - item.kept_at > LONG_MS);
  }

  /** Read what lies in the store, also after another tab wrote. */
  async load() {
    this.items = (await this.kept.items()).sort((one, other) => (one.id < other.id ? -1 : 1));
    this.tell();
  }

  tell() {
    this.kept.countWaiting(this.waiting.length);
    this.changed(this);
  }

  /** Take in what was just kept and try to send; answers when this try is over. */
  async add() {
    await this.load();
    return this.send();
  }

  /** Give one up by hand. */
  async remove(id) {
    await this.kept.forget(id);
    await this.load();
  }

  /**
   * Send what waits; who asks while it is being sent waits for the end of that, then for the rest. A server that asked for time
   * (`Retry-After`) gets it.
   */
  async send() {
    while (this.sending) await this.sending;
    if (!this.waiting.length || this.isAskedToWait) return;
    clearTimeout(this.timer);
    this.sending = this.sendAll();
    const retryAfterMs = await this.sending.finally(() => (this.sending = null));
    if (this.waiting.length) this.sendLater(retryAfterMs);
  }

  /** One batch after the other of each session, until one is not answered; a session that is refused does not hold up others. */
  async sendAll() {
    const refused = new Set();
    this.problem = null;
    for (;;) {
      const next = this.waiting.find((item) => !refused.has(item.session));
      if (!next) return 0;
      const going = this.waiting.filter((item) => item.session === next.session).slice(0, this.batch);
      const outcome = await postEntries(addressOf(next.session), this.kept.person, going.map(({ entry }) => entry));
      this.reach = outcome.reach ?? "on";
      if (outcome.halve) this.batch = Math.max(1, Math.floor(going.length / 2));
      if (outcome.problem) {
        this.problem = outcome.problem;
        refused.add(next.session);
      }
      if (outcome.answers) await this.settle(going, outcome.answers);
      this.tell();
      if (this.reach === "off") return outcome.retryAfterMs ?? 0;
    }
  }

  async settle(going, answers) {
    this.waitMs = FIRST_WAIT_MS;
    const isSent = going.map((_, place) => KEPT_BY_SERVER.has(answers[place].answer));
    const stuck = going.map((item, place) => {
      const { answer, code = null, detail = null } = answers[place];
      return { ...item, state: answer, code, detail };
    });
    const sent = going.filter((_, place) => isSent[place]);
    await this.kept.settle(sent.map(({ id }) => id), stuck.filter((_, place) => !isSent[place]));
    this.sentCount += sent.length;
    await this.load();
  }

  sendLater(retryAfterMs = 0) {
    this.isAskedToWait = retryAfterMs > 0;
    const again = () => {
      this.isAskedToWait = false;
      this.send();
    };
    this.timer = setTimeout(again, Math.max(this.waitMs, Math.min(retryAfterMs, LONGEST_ASKED_MS)));
    this.waitMs = Math.min(LONGEST_WAIT_MS, this.waitMs * 2);
  }
}
