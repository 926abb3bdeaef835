// Which entries of a session count, and which stand beside each other: the very rules of the server.

import { ATHLETE, KINDS } from "./kinds.js";

/**
 * What counts among these entries of one session (`{id, kind, athlete, by, replaces, withdrawn}`), whatever
 * their order and however often each is given: `{ids, beside}`, sorted.
 */
export function counting(entries) {
  const here = new Map(entries.map((entry) => [entry.id, entry]));
  const aims = workingAims(here);
  const replaced = new Set(aims.values());
  const ids = [...here.values()].filter((entry) => !entry.withdrawn && !replaced.has(entry.id)).map(({ id }) => id);
  ids.sort();
  return { ids, beside: besideEachOther(ids, aims) };
}

/** What each entry replaces, here or not, without the namings that have no effect. */
function workingAims(here) {
  const aims = new Map();
  for (const entry of here.values()) {
    const named = here.get(entry.replaces);
    if (entry.replaces != null && (named === undefined || mayReplace(entry, named))) aims.set(entry.id, entry.replaces);
  }
  for (const member of ringMembers(aims)) aims.delete(member);
  return aims;
}

function mayReplace(entry, named) {
  if (entry.kind !== named.kind) return false;
  return isOwn(named) ? entry.by === named.by : !isOwn(entry);
}

/** Whether this is an athlete's own entry: of a kind that athletes post, by the one whom it is about. */
function isOwn(entry) {
  return KINDS[entry.kind].postedBy.includes(ATHLETE) && entry.by === entry.athlete;
}

function ringMembers(aims) {
  const members = new Set();
  const seen = new Set();
  for (const start of aims.keys()) {
    const path = [];
    let at = start;
    while (aims.has(at) && !seen.has(at)) {
      seen.add(at);
      path.push(at);
      at = aims.get(at);
    }
    const closes = path.indexOf(at);
    if (closes >= 0) path.slice(closes).forEach((member) => members.add(member));
  }
  return members;
}

function besideEachOther(ids, aims) {
  const groups = new Map();
  const ends = new Map();
  for (const id of ids) {
    const end = endOfChain(id, aims, ends);
    groups.set(end, [...(groups.get(end) ?? []), id]);
  }
  const beside = [...groups.values()].filter((group) => group.length > 1);
  return beside.sort((one, other) => (one[0] < other[0] ? -1 : 1));
}

function endOfChain(start, aims, ends) {
  const path = [];
  let at = start;
  while (aims.has(at) && !ends.has(at)) {
    path.push(at);
    at = aims.get(at);
  }
  const end = ends.get(at) ?? at;
  for (const id of path) ends.set(id, end);
  return end;
}
