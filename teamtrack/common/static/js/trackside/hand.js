// An order made by hand, which is this phone's own, and when the session ends at this pace.

/** Seconds from one start to the next under one pair of eyes: common practice, no source. */
export const TURN_S = 45;

/**
 * The order (`[{id, wait_s}]`) as it was made by hand: `hand` is `[[id, strides done then]]`. Who has not run since keeps
 * the place given; then whoever was not in it; behind them, in their own order, those who have run since.
 */
export function byHand(order, hand, stridesDone) {
  if (!hand) return order;
  const place = new Map(hand.map(([id, done], at) => [id, { at, done }]));
  const rank = ({ id }) => {
    const made = place.get(id);
    if (!made) return hand.length;
    return stridesDone(id) > made.done ? hand.length + 1 : made.at;
  };
  return order.map((one, at) => ({ one, at, rank: rank(one) })).sort((a, b) => a.rank - b.rank || a.at - b.at).map(({ one }) => one);
}

/** The order with one of it moved up (-1) or down (+1), to be kept as `hand`. */
export function moved(order, id, by, stridesDone) {
  const ids = order.map((one) => one.id);
  const from = ids.indexOf(id);
  const to = Math.min(ids.length - 1, Math.max(0, from + by));
  ids.splice(to, 0, ...ids.splice(from, 1));
  return ids.map((one) => [one, stridesDone(one)]);
}

/**
 * Seconds until everybody has run, taken in turn by order: `runners` `[{left, wait_s, wants_rest_s}]` in their order,
 * `eyes` watching at a time, each turn `turnS`; nobody starts before being rested.
 */
export function endsIn(runners, eyes, turnS = TURN_S) {
  const free = Array.from({ length: Math.max(1, eyes) }, () => 0);
  const queue = runners.filter(({ left }) => left > 0).map((one) => ({ ...one, from: one.wait_s }));
  let end = 0;
  while (queue.length) {
    const watcher = free.indexOf(Math.min(...free));
    const ready = queue.findIndex(({ from }) => from <= free[watcher]);
    const [next] = queue.splice(ready < 0 ? soonest(queue) : ready, 1);
    const starts = Math.max(free[watcher], next.from);
    free[watcher] = starts + turnS;
    end = Math.max(end, free[watcher]);
    if (next.left > 1) queue.push({ ...next, left: next.left - 1, from: starts + next.wants_rest_s });
  }
  return end;
}

const soonest = (queue) => queue.reduce((best, { from }, at) => (from < queue[best].from ? at : best), 0);

/** How many strides fewer for each would end it within `withinS`; null where even none would be too long. */
export function strideCut(runners, eyes, withinS, turnS = TURN_S) {
  const most = Math.max(0, ...runners.map(({ left }) => left));
  for (let cut = 0; cut <= most; cut += 1) {
    if (endsIn(runners.map((one) => ({ ...one, left: one.left - cut })), eyes, turnS) <= withinS) return cut;
  }
  return null;
}
