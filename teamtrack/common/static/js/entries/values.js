// The rules for single values of an entry: numbers, choices, instants and texts.
// Each rule is plain data; `normal` answers the value in its normal form, or BAD.

export const BAD = Symbol("bad value");

const INSTANT = /^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z$/;
// RFC 9562, section 5.7: version 7 in the thirteenth digit, variant 10 in the seventeenth.
const UUID7 = /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/;
const DEVICE = /^[a-z0-9-]{8,64}$/;
const FORBIDDEN =
  /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069\p{Surrogate}\p{Noncharacter_Code_Point}]/u;
const ONLY_WHITE_SPACE = /^\p{White_Space}*$/u;

export const whole = (low, high) => ({ type: "whole", low, high });
export const measure = (low, high, places) => ({ type: "measure", low, high, places });
export const choice = (...codes) => ({ type: "choice", codes });
export const text = (limit) => ({ type: "text", limit });
export const instant = { type: "instant" };
export const code = { type: "code" };
export const entryId = { type: "entry_id" };
export const device = { type: "device" };
export const flag = { type: "flag" };

const matches = (value, pattern) => typeof value === "string" && pattern.test(value);
const within = (value, { low, high }) => Number.isFinite(value) && low <= value && value <= high;
const codePoints = (value) => [...value].length;

const FITS = {
  whole: (value, rule) => Number.isInteger(value) && within(value, rule),
  measure: (value, rule) => within(value, rule) && Number(value.toFixed(rule.places)) === value,
  choice: (value, rule) => rule.codes.includes(value),
  text: (value, rule) => typeof value === "string" && value !== "" && codePoints(value) <= rule.limit,
  instant: (value) => matches(value, INSTANT) && isBetween1970And2099(value) && isWrittenByBrowser(value),
  code: (value) => typeof value === "string",
  entry_id: (value) => matches(value, UUID7),
  device: (value) => matches(value, DEVICE),
  flag: (value) => value === null || typeof value === "boolean",
};

/** The value in its normal form by this rule, or BAD where it does not fit. */
export function normal(rule, value) {
  if (!FITS[rule.type](value, rule)) return BAD;
  if (rule.type === "flag") return value === true;
  return value === 0 ? 0 : value;
}

/** Whether a text may be kept: more than white space, no character that is refused. */
export function isCleanText(value) {
  return !ONLY_WHITE_SPACE.test(value) && !FORBIDDEN.test(value);
}

function isBetween1970And2099(value) {
  const year = value.slice(0, 4);
  return "1970" <= year && year <= "2099";
}

function isWrittenByBrowser(value) {
  const read = new Date(value);
  return !Number.isNaN(read.getTime()) && read.toISOString() === value;
}
