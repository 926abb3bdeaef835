// One person's database on this phone: opened when wanted, opened again where the connection was lost.
const VERSION = 1;
const STORES = { phone: null, sessions: null, entries: "session", outbox: "session" };

/** Why this phone does not keep something: `code` is `full`, `none` (nothing can be kept here) or `failed`. */
export class StoreFault extends Error {
  constructor(code, cause) {
    super(code, { cause });
    this.code = code;
  }
}

export const databaseName = (person) => `person-${person}`;
const codeOf = (fault) => (fault?.name === "QuotaExceededError" ? "full" : "failed");

/** The answer of a request, as a promise. */
export function answered(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

export class Database {
  constructor(name) {
    this.name = name;
    this.opening = null;
  }

  /** The open connection; a lost one is opened again. */
  connection() {
    this.opening ??= this.open().catch((fault) => {
      this.opening = null;
      throw new StoreFault(fault?.name === "QuotaExceededError" ? "full" : "none", fault);
    });
    return this.opening;
  }

  async open() {
    const request = indexedDB.open(this.name, VERSION);
    request.onupgradeneeded = () => makeStores(request.result, request.transaction);
    const connection = await answered(request);
    const lose = () => (this.opening = null);
    connection.onclose = lose;
    connection.onversionchange = () => {
      lose();
      connection.close();
    };
    return connection;
  }

  read(stores, work) {
    return this.transact(stores, "readonly", work);
  }

  /** Resolved at the transaction's `complete`, when what was written lies on the disk. */
  write(stores, work) {
    return this.transact(stores, "readwrite", work);
  }

  /** `work(store by name)` makes its requests at once and may answer a promise of them. */
  async transact(stores, mode, work, isAgain = false) {
    try {
      return await this.once(stores, mode, work);
    } catch (fault) {
      if (fault instanceof StoreFault) throw fault;
      if (isAgain || codeOf(fault) === "full") throw new StoreFault(codeOf(fault), fault);
      this.opening = null;
      return this.transact(stores, mode, work, true);
    }
  }

  async once(stores, mode, work) {
    const connection = await this.connection();
    const transaction = connection.transaction(stores, mode, { durability: mode === "readwrite" ? "strict" : "default" });
    const done = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error ?? new DOMException("aborted", "AbortError"));
    });
    const found = work((name) => transaction.objectStore(name));
    const [answer] = await Promise.all([found, done]);
    return answer;
  }
}

/** `born` tells a new store from the one before: where it changed, the store was cleared meanwhile. */
function makeStores(connection, transaction) {
  for (const [name, index] of Object.entries(STORES)) {
    const made = connection.createObjectStore(name, { keyPath: "id" });
    if (index) made.createIndex(index, index);
  }
  transaction.objectStore("phone").add({ id: "born", value: `${Date.now()}-${Math.random()}` });
}
