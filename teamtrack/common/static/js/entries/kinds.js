// The table of kinds: the keys of an entry, who posts it and for which purpose it is kept.

import { choice, code, device, entryId, flag, instant, measure, text, whole } from "./values.js";

export const COACH = "coach";
export const HELPER_UNDER_18 = "helper_under_18";
export const ATHLETE = "athlete";

const STRIDE = whole(1, 99);
const SHOWN = choice("held", "partly", "not_yet");
const PLACES = choice(
  "foot", "ankle", "lower_leg", "knee", "thigh", "hip", "back", "chest", "head", "unwell", "other",
);

export const SHARED_KEYS = {
  id: entryId,
  session: code,
  kind: code,
  athlete: code,
  stride: STRIDE,
  at: instant,
  device,
  replaces: entryId,
  withdrawn: flag,
};
export const NEVER_NULL = ["session", "athlete", "at", "device"];

// `needed`: own keys that are never null; `oneOf`: at least one of them is not; `needsFeature`: `shown` needs `feature`.
const kind = (own) => ({ needed: [], oneOf: [], needsFeature: false, stride: STRIDE, ...own });

export const KINDS = {
  run: kind({
    keys: {
      time_s: measure(0.1, 600, 3),
      steps: whole(1, 400),
      zone_m: measure(1, 400, 2),
      started_at: instant,
      crossed_at: instant,
    },
    purpose: "record",
    postedBy: [COACH, HELPER_UNDER_18],
  }),
  observation: kind({
    keys: { feature: code, shown: SHOWN, type: choice("strength", "adjustment"), note: text(500) },
    needed: ["feature", "shown"],
    purpose: "feedback",
    postedBy: [COACH, HELPER_UNDER_18],
  }),
  cue: kind({
    keys: {
      feature: code,
      words: text(200),
      how: choice("told", "shown", "other_words"),
      focus: choice("outside", "body"),
      understood: choice("yes", "no", "not_asked"),
    },
    needed: ["feature", "words", "how", "understood"],
    stride: whole(0, 99),
    purpose: "feedback",
    postedBy: [COACH, HELPER_UNDER_18],
  }),
  own_view: kind({
    keys: { feature: code, shown: SHOWN, words: text(500) },
    oneOf: ["shown", "words"],
    needsFeature: true,
    purpose: "feedback",
    postedBy: [COACH, HELPER_UNDER_18],
  }),
  stop: kind({ keys: {}, purpose: "availability", postedBy: [COACH, HELPER_UNDER_18, ATHLETE] }),
  pain: kind({
    keys: { place: PLACES, side: choice("left", "right", "both"), words: text(500) },
    needed: ["place"],
    purpose: "health",
    postedBy: [COACH, ATHLETE],
  }),
  presence: kind({
    keys: { state: choice("came", "late", "away", "left", "collected") },
    needed: ["state"],
    purpose: "record",
    postedBy: [COACH, HELPER_UNDER_18],
  }),
  felt: kind({
    keys: {
      effort: whole(0, 10),
      feel: choice("by_itself", "strange", "not_nice"),
      feature: code,
      shown: SHOWN,
      words: text(500),
    },
    oneOf: ["effort", "feel", "shown", "words"],
    needsFeature: true,
    purpose: "record",
    postedBy: [ATHLETE],
  }),
  day: kind({
    keys: { rpe: whole(0, 10), minutes: whole(1, 600), words: text(500) },
    needed: ["rpe"],
    stride: null,
    purpose: "record",
    postedBy: [ATHLETE],
  }),
};
