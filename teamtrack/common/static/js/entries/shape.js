// The check of one entry before it is kept: the very checks of the server, in the same order.

import { ATHLETE, KINDS, NEVER_NULL, SHARED_KEYS } from "./kinds.js";
import { BAD, entryId, isCleanText, normal } from "./values.js";

class Found extends Error {
  constructor(fault, field) {
    super(fault);
    this.refusal = { code: fault, field };
  }
}

const isObject = (raw) => typeof raw === "object" && raw !== null && !Array.isArray(raw);
const valueOf = (raw, key) => (Object.hasOwn(raw, key) && raw[key] !== undefined ? raw[key] : null);
const isEntryId = (value) => normal(entryId, value) !== BAD;

/**
 * Check one entry by what stands in it alone.
 *
 * `session` is the id of the session's address, `poster` who is signed in: `{person, role}`. Answers
 * `{entry}` in its normal form, or `{refusal: {code, field, id}}` with the first code that applies.
 */
export function checkEntry(raw, { session, poster }) {
  const id = isObject(raw) && isEntryId(valueOf(raw, "id")) ? raw.id : null;
  try {
    return { entry: checked(raw, session, poster) };
  } catch (found) {
    if (!(found instanceof Found)) throw found;
    return { refusal: { ...found.refusal, id } };
  }
}

function checked(raw, session, poster) {
  if (!isObject(raw)) throw new Found("BAD_ENTRY", null);
  if (!isEntryId(valueOf(raw, "id"))) throw new Found("BAD_ID", "id");
  const kind = kindOf(raw);
  const unknown = Object.keys(raw).filter((key) => !Object.hasOwn(SHARED_KEYS, key) && !Object.hasOwn(kind.keys, key));
  if (unknown.length) throw new Found("UNKNOWN_KEY", unknown.sort()[0]);
  const entry = sharedValues(raw, kind);
  Object.assign(entry, ownValues(raw, kind, entry.withdrawn));
  checkTexts(entry, kind);
  checkAddress(entry, kind, session, poster);
  return entry;
}

function kindOf(raw) {
  const name = valueOf(raw, "kind");
  if (typeof name !== "string" || !Object.hasOwn(KINDS, name)) throw new Found("UNKNOWN_KIND", "kind");
  return KINDS[name];
}

function sharedValues(raw, kind) {
  const values = {};
  for (const [key, rule] of Object.entries(SHARED_KEYS)) {
    const value = valueOf(raw, key);
    if (key === "stride") values[key] = stride(value, kind);
    else if (key === "withdrawn" || value !== null) values[key] = normalOf(key, rule, value);
    else if (NEVER_NULL.includes(key)) throw new Found("BAD_VALUE", key);
    else values[key] = null;
  }
  const namesNothing = values.withdrawn && values.replaces === null;
  if (values.replaces === values.id || namesNothing) throw new Found("BAD_VALUE", "replaces");
  return values;
}

function stride(value, kind) {
  if (value === null) return null;
  if (kind.stride === null) throw new Found("BAD_VALUE", "stride");
  return normalOf("stride", kind.stride, value);
}

function ownValues(raw, kind, isWithdrawn) {
  const values = {};
  for (const [key, rule] of Object.entries(kind.keys)) {
    const value = valueOf(raw, key);
    const isMissing = !isWithdrawn && value === null && kind.needed.includes(key);
    if (isMissing || (isWithdrawn && value !== null)) throw new Found("BAD_VALUE", key);
    values[key] = value === null ? null : normalOf(key, rule, value);
  }
  if (!isWithdrawn) checkTogether(values, kind);
  return values;
}

function checkTogether(values, kind) {
  if (kind.oneOf.length && kind.oneOf.every((key) => values[key] === null)) throw new Found("BAD_VALUE", null);
  if (kind.needsFeature && values.shown !== null && values.feature === null) throw new Found("BAD_VALUE", "feature");
}

function normalOf(key, rule, value) {
  const found = normal(rule, value);
  if (found === BAD) throw new Found("BAD_VALUE", key);
  return found;
}

function checkTexts(entry, kind) {
  for (const [key, rule] of Object.entries(kind.keys)) {
    if (rule.type === "text" && entry[key] !== null && !isCleanText(entry[key])) throw new Found("BAD_TEXT", key);
  }
}

function checkAddress(entry, kind, session, poster) {
  if (entry.session !== session) throw new Found("WRONG_SESSION", "session");
  if (!kind.postedBy.includes(poster.role)) throw new Found("NOT_FOR_YOU", "kind");
  if (poster.role === ATHLETE && entry.athlete !== poster.person) throw new Found("NOT_FOR_YOU", "athlete");
}
