// From the entries of a session to what the page knows of each athlete: presence, stop, strides, words.
import { counting } from "../entries/counting.js";

const RUNS = new Set(["run", "observation"]);

/**
 * Fold the entries of one session, `me` being the reader. Order of arrival: by `seq`, those not yet sent last.
 *
 * Answers a Map from athlete to `{presence, isStopped, stop, pains, strides, lastStride, results, cues, strength}`;
 * `results` are the reader's own by stride and feature, `others` those of other hands (not looked at before one's own),
 * `runs` the reader's own by stride. `counted`: what counts of these entries.
 */
export function fold(entries, me, counted = counting(entries)) {
  const ids = new Set(counted.ids);
  const people = new Map();
  for (const entry of inOrder(entries)) {
    if (!ids.has(entry.id)) continue;
    if (!people.has(entry.athlete)) people.set(entry.athlete, nobody());
    take(people.get(entry.athlete), entry, me);
  }
  return people;
}

/** What is known of an athlete about whom nothing was recorded. */
export function nobody() {
  return {
    presence: null,
    isStopped: false,
    stop: null,
    pains: [],
    strides: new Set(),
    lastStride: 0,
    results: new Map(),
    others: [],
    runs: new Map(),
    cues: [],
    strength: null,
  };
}

/** The key of one's own result. */
export const resultKey = (stride, feature) => `${stride} ${feature}`;

function inOrder(entries) {
  const place = (entry) => entry.seq ?? Infinity;
  return [...entries].sort((one, other) => (place(one) === place(other) ? 0 : place(one) - place(other)));
}

function take(person, entry, me) {
  if (RUNS.has(entry.kind) && entry.stride) {
    person.strides.add(entry.stride);
    person.lastStride = Math.max(person.lastStride, entry.stride);
  }
  TAKES[entry.kind]?.(person, entry, me);
}

const TAKES = {
  presence(person, entry) {
    person.presence = entry.state;
  },
  stop(person, entry) {
    person.isStopped = true;
    person.stop = entry;
  },
  pain(person, entry) {
    person.pains.push(entry);
  },
  observation(person, entry, me) {
    if (entry.by === me) person.results.set(resultKey(entry.stride, entry.feature), entry);
    else person.others.push(entry);
    if (entry.type === "strength" || entry.shown === "held") person.strength = entry.feature;
  },
  cue(person, entry) {
    person.cues.push(entry);
  },
  run(person, entry, me) {
    if (entry.by === me) person.runs.set(entry.stride, entry);
  },
};

/** What followed some words: the reader's own first later result on that feature, if any. */
export function followed(person, cue) {
  if (cue.stride === null || cue.stride === undefined) return null;
  const later = [...person.results.values()].filter((one) => one.feature === cue.feature && one.stride > cue.stride);
  later.sort((one, other) => one.stride - other.stride);
  return later[0]?.shown ?? null;
}
