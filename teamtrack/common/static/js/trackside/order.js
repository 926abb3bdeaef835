// Who runs next: the very rule of the server, so that the order re-flows on the phone.

/**
 * The order of the runners who still have strides to run: those who have not run yet first, the overlooked before the
 * others, then the longest rested; never by speed. Runners: `{id, looks_last_time, rested_s, wants_rest_s,
 * strides_done, strides_wanted}` (`rested_s` null before the first stride). Answers `[{id, wait_s}]`.
 */
export function runningOrder(runners) {
  const waiting = runners.filter((one) => one.strides_done < one.strides_wanted);
  return waiting.sort(byTurn).map((one) => ({ id: one.id, wait_s: waitOf(one) }));
}

function byTurn(one, other) {
  const [ran, otherRan] = [one.rested_s !== null, other.rested_s !== null];
  if (ran !== otherRan) return ran ? 1 : -1;
  return ran ? other.rested_s - one.rested_s : one.looks_last_time - other.looks_last_time;
}

const waitOf = (one) => (one.rested_s === null ? 0 : Math.max(0, one.wants_rest_s - one.rested_s));
