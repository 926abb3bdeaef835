// What this phone keeps of one person: sessions, their entries, and what waits to be sent; shared by all open tabs.
import { Database, answered, databaseName } from "./database.js";

const inSession = (store, session) => answered(store.index("session").getAll(session));

export class PersonStore {
  /** `changed(session)` is called when another tab wrote; `cleared()` when the store was emptied under an open page. */
  constructor(person) {
    this.person = person;
    this.database = new Database(databaseName(person));
    this.born = null;
    this.listeners = [];
    this.cleared = () => {};
    this.channel = "BroadcastChannel" in globalThis ? new BroadcastChannel(databaseName(person)) : null;
    if (this.channel) this.channel.onmessage = () => this.listeners.forEach((heard) => heard());
  }

  /** Open the store; answers how many entries waited here before it was cleared, 0 where it was not. */
  async open() {
    this.born = await this.readBorn();
    const before = recall(this.person);
    const lost = before && before.born !== this.born ? before.waiting : 0;
    remember(this.person, { born: this.born, waiting: before?.born === this.born ? before.waiting : 0 });
    return lost;
  }

  async readBorn() {
    return (await this.database.read(["phone"], (at) => answered(at("phone").get("born"))))?.value;
  }

  heard(listener) {
    this.listeners.push(listener);
  }

  /** Write, then tell the other tabs; an open page whose store was emptied meanwhile is told first. */
  async write(stores, work) {
    const born = await this.readBorn();
    if (this.born && born !== this.born) {
      this.born = born;
      await this.cleared();
    }
    const answer = await this.database.write(stores, work);
    this.channel?.postMessage("changed");
    return answer;
  }

  keepEntries(entries, items = []) {
    return this.write(["entries", "outbox"], (at) => {
      for (const entry of entries) at("entries").put(entry);
      for (const item of items) at("outbox").put(item);
    });
  }

  /** The session as it was opened last: `{id, bundle, next, served, wipe_after}`, or undefined. */
  session(id) {
    return this.database.read(["sessions"], (at) => answered(at("sessions").get(id)));
  }

  sessions() {
    return this.database.read(["sessions"], (at) => answered(at("sessions").getAll()));
  }

  keepSession(record) {
    return this.write(["sessions"], (at) => at("sessions").put(record) && undefined);
  }

  entriesOf(session) {
    return this.database.read(["entries"], (at) => inSession(at("entries"), session));
  }

  items() {
    return this.database.read(["outbox"], (at) => answered(at("outbox").getAll()));
  }

  /** Settle sent items: those in `sent` leave, those in `stuck` stay with their reason; what is gone stays gone. */
  settle(sent, stuck) {
    return this.write(["outbox"], async (at) => {
      for (const id of sent) at("outbox").delete(id);
      for (const item of stuck) {
        if (await answered(at("outbox").get(item.id))) at("outbox").put(item);
      }
    });
  }

  /** Forget one entry, given up by hand; what the server keeps under the same id stays. */
  forget(id) {
    return this.write(["entries", "outbox"], async (at) => {
      at("outbox").delete(id);
      const entry = await answered(at("entries").get(id));
      if (entry?.seq === undefined) at("entries").delete(id);
    });
  }

  countWaiting(waiting) {
    remember(this.person, { born: this.born, waiting });
  }
}

function recall(person) {
  try {
    return JSON.parse(localStorage.getItem(`store-${person}`));
  } catch {
    return null;
  }
}

function remember(person, known) {
  try {
    if (known.waiting) localStorage.setItem(`store-${person}`, JSON.stringify(known));
    else localStorage.removeItem(`store-${person}`);
  } catch {
    // Where even this is refused, the store itself says so.
  }
}
