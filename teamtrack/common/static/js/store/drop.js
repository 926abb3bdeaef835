// What a reader may not use now leaves the phone: entries of that purpose, and what the session's bundle tells of it.
import { KINDS } from "../entries/kinds.js";

const TELLS = {
  feedback: { last_words: null, does_not_suit: null, points: null, strength: null, looks_last_time: 0 },
  availability: { out: "", is_away: false },
};

const keyOf = (athlete, purpose) => `${athlete} ${purpose}`;
const closedOf = (drop) => new Set(drop.map(({ athlete, purpose }) => keyOf(athlete, purpose)));

/** Whether an entry that the server has sent is to be forgotten. */
export function isDropped(drop) {
  const closed = closedOf(drop);
  return (entry) => closed.has(keyOf(entry.athlete, KINDS[entry.kind].purpose));
}

/** The bundle without what is closed; an athlete whose record is closed is not in it. The same one where nothing changes. */
export function withoutDropped(bundle, drop) {
  const closed = closedOf(drop);
  const isChanged = bundle.trackside.athletes.some((one) => one.may.some((purpose) => closed.has(keyOf(one.person, purpose))));
  if (!isChanged) return bundle;
  const athletes = bundle.trackside.athletes
    .filter((one) => !closed.has(keyOf(one.person, "record")))
    .map((one) => {
      const shut = one.may.filter((purpose) => closed.has(keyOf(one.person, purpose)));
      const may = one.may.filter((purpose) => !shut.includes(purpose));
      return Object.assign({ ...one, may }, ...shut.map((purpose) => TELLS[purpose] ?? {}));
    });
  return { ...bundle, trackside: { ...bundle.trackside, athletes } };
}
