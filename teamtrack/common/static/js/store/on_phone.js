// One session of one person on this phone: the store opened, what waits shown and sent, faults of the store said.
import { Outbox, itemOf } from "../outbox.js";
import { queueView } from "../queue.js";
import { SessionStore } from "../trackside/store.js";
import { PersonStore } from "./person.js";

/**
 * `part`: the page's queue; `place`: its `{session, person, served, keepS}` as the server wrote it; `nameOf(entry)`; `changed(outbox)`
 * and `dropped(bundle)` are told. Answers `{kept, store, outbox, view}`, or null where this phone keeps nothing: that is said.
 */
export async function openOnPhone({ part, place, nameOf, changed = () => {}, dropped }) {
  const view = queueView(part);
  const kept = new PersonStore(place.person);
  const outbox = new Outbox({
    kept,
    changed(box) {
      view.changed(box);
      changed(box);
    },
  });
  const store = new SessionStore({
    kept,
    session: place.session,
    itemOf: (entry) => itemOf(entry, nameOf(entry)),
    dropped,
  });
  try {
    const lost = await kept.open();
    if (lost) view.fault("lost", lost);
    await store.open();
  } catch (fault) {
    view.fault(fault.code ?? "failed");
    return null;
  }
  kept.cleared = async () => {
    await store.rewrite();
    await kept.database.write(["outbox"], (at) => outbox.items.forEach((item) => at("outbox").put(item)) ?? null);
    view.fault("rewritten");
  };
  await outbox.load();
  return { kept, store, outbox, view };
}

/** What is written down of a session where the page comes fresh from the server: until when it may lie here. */
export function freshPage(record, { served, keepS }) {
  if (record.served === served) return {};
  return { served, wipe_after: Date.now() + 1000 * Number(keepS) };
}
