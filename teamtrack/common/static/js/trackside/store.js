// Where this phone keeps one session's entries: on its disk, and read from memory; "saved" is said once they lie there.
import { isDropped, withoutDropped } from "../store/drop.js";

export class SessionStore {
  /** `kept`: the person's store; `session`: its id; `itemOf(entry)`: how an entry waits to be sent; `dropped(bundle)`. */
  constructor({ kept, session, itemOf, dropped = () => {} }) {
    Object.assign(this, { kept, session, itemOf, dropped });
    this.entries = new Map();
    this.record = { id: session, next: 0, bundle: null };
  }

  get next() {
    return this.record.next;
  }

  /** Read all that lies here; again when another tab wrote. */
  async open() {
    this.record = (await this.kept.session(this.session)) ?? this.record;
    this.entries = new Map((await this.kept.entriesOf(this.session)).map((entry) => [entry.id, entry]));
    return this.record;
  }

  /** Keep what the session's page needs without signal. */
  async keepSession(more) {
    this.record = { ...this.record, ...more };
    await this.kept.keepSession(this.record);
  }

  /** Keep own entries and that they wait, before anything is sent; resolved once they lie on the disk. */
  async keep(entries) {
    await this.kept.keepEntries(entries, entries.map(this.itemOf));
    for (const entry of entries) this.entries.set(entry.id, entry);
  }

  /** Keep what the server sent, and how far it was read; forget what this reader may not use now. */
  async keepPage({ items, next, drop }) {
    const gone = [...this.entries.values()].filter((entry) => entry.seq !== undefined).filter(isDropped(drop));
    const bundle = this.record.bundle && withoutDropped(this.record.bundle, drop);
    const isSame = !items.length && !gone.length && next === this.next && bundle === this.record.bundle;
    if (isSame) return;
    const isCut = bundle !== this.record.bundle;
    const record = { ...this.record, bundle, next };
    await this.kept.write(["entries", "sessions"], (at) => {
      for (const item of items) at("entries").put(item);
      for (const { id } of gone) at("entries").delete(id);
      at("sessions").put(record);
    });
    this.record = record;
    for (const item of items) this.entries.set(item.id, item);
    for (const { id } of gone) this.entries.delete(id);
    if (isCut) this.dropped(bundle);
  }

  /** Write all anew: the store was cleared while this page was open. */
  rewrite() {
    return this.kept.database.write(["entries", "sessions"], (at) => {
      for (const entry of this.entries.values()) at("entries").put(entry);
      at("sessions").put(this.record);
    });
  }

  /** What was given up by hand is no longer read; what the server sent under the same id stays. */
  forgot(ids) {
    for (const id of ids) if (this.entries.get(id)?.seq === undefined) this.entries.delete(id);
  }

  async all() {
    return [...this.entries.values()];
  }
}
