// One session on this phone: its people, who runs now, and every act as entries that are kept and sent.
import { KINDS } from "../entries/kinds.js";
import { checkEntry } from "../entries/shape.js";
import { newEntryId } from "../ids.js";
import { steadyMs } from "./clock.js";
import { counting } from "../entries/counting.js";
import { fold, nobody } from "./fold.js";
import { filled, isSaid } from "./heat.js";
import { byHand, endsIn, moved, strideCut } from "./hand.js";
import { runningOrder } from "./order.js";
import { dayIn, PhoneOwn } from "./own.js";

const HERE = new Set(["came", "late"]);

/**
 * `bundle`: what `GET /api/v1/sessions/{id}` answers; `store`, `outbox`: where entries are kept and sent; `device`: this
 * phone's id; `changed`: called after each change.
 */
export class TracksideSession {
  constructor({ bundle, store, outbox, device, changed }) {
    Object.assign(this, { id: bundle.session.id, place: bundle.session, store, outbox, device, changed });
    this.notKept = () => {};
    this.current = null;
    this.heat = []; // who runs at once, the current one among them
    this.know(bundle.trackside);
    this.own = new PhoneOwn({ person: this.track.person, session: this.id, day: dayIn() });
    this.own.changed = () => this.refresh();
    this.folded = new Map();
    this.beside = [];
    this.judged = null;
    this.ranAtMs = new Map();
    this.chosen = new Map();
    this.done = [];
  }

  know(track) {
    this.track = track;
    this.athletes = new Map(track.athletes.map((one) => [one.person, one]));
    this.names = shortNames(track.athletes);
    this.features = new Map(track.features.map((one) => [one.code, one]));
  }

  /** The roster, the focus or the permissions are known anew; whoever left it runs no more. */
  take(track) {
    this.know(track);
    if (this.current && !this.athletes.has(this.current.athlete)) this.current = null;
    return this.refresh();
  }

  /** Read the store anew; who has run a new stride rests from now. */
  async refresh() {
    const stuck = new Set(this.outbox.stuck.map(({ id }) => id));
    const entries = (await this.store.all()).filter((entry) => entry.seq !== undefined || !stuck.has(entry.id));
    const counted = counting(entries);
    this.folded = fold(entries, this.track.person, counted);
    const all = new Map(entries.map((entry) => [entry.id, entry]));
    this.beside = counted.beside.map((group) => group.map((id) => all.get(id)));
    const own = new Map(); // by athlete and stride this phone's own first entry
    for (const entry of entries.filter(({ device }) => device === this.device).reverse()) {
      own.set(strideKey(entry.athlete, entry.stride), entry);
    }
    for (const [athlete, state] of this.folded) {
      for (const stride of state.strides) this.noticeStride(own, athlete, stride);
    }
    this.keepCurrent();
    this.changed(this);
  }

  /** When a stride was run, on the steady clock: by this phone's own entry, else when it came here. */
  noticeStride(own, athlete, stride) {
    const key = strideKey(athlete, stride);
    if (this.ranAtMs.has(key)) return;
    const first = own.get(key);
    const agoMs = first ? Math.max(0, Date.now() - Date.parse(first.at)) : 0;
    this.ranAtMs.set(key, steadyMs() - agoMs);
  }

  of(athlete) {
    return this.folded.get(athlete) ?? nobody();
  }

  get here() {
    return this.track.athletes.filter((one) => HERE.has(this.of(one.person).presence)).map((one) => one.person);
  }

  /** Those who still run, in their order, each with the seconds until rested. */
  get order() {
    const now = steadyMs();
    const { hand, left } = this.own.value;
    const runs = (athlete) => !this.of(athlete).isStopped && !left.includes(athlete);
    const runners = this.here.filter(runs).map((athlete) => this.runner(athlete, now));
    return byHand(runningOrder(runners), hand, this.stridesDone);
  }

  stridesDone = (athlete) => this.of(athlete).strides.size;

  /** Move one up (-1) or down (+1): from now the order is made by hand, on this phone. */
  move(athlete, by) {
    this.own.set({ hand: moved(this.order, athlete, by, this.stridesDone) });
  }

  /** Strides wanted of one athlete, less those cut on this phone. */
  stridesWanted(athlete) {
    return Math.max(1, this.athletes.get(athlete).strides - this.own.value.cut);
  }

  /** How many turns there are at a time: those who run at once, or one for each pair of eyes where there are lanes. */
  get atOnce() {
    return Math.max(this.lanes, Math.min(this.place.venue?.lanes ?? 1, this.eyes));
  }

  /** How many run at once, a lane for each: as set on this phone, else as the group of most of those here is used to. */
  get lanes() {
    return this.own.value.lanes ?? mostCommon(this.here.map((id) => this.athletes.get(id).at_once)) ?? 1;
  }

  get eyes() {
    return this.own.value.eyes ?? Math.max(1, this.track.staff.filter((one) => one.counts && !one.is_helper).length);
  }

  /** When it ends at this pace: seconds from now, seconds over the session's end, and strides to cut for each. */
  forecast(nowMs = Date.now()) {
    const runners = this.order.map(({ id, wait_s }) => ({
      left: this.stridesWanted(id) - this.stridesDone(id),
      wait_s,
      wants_rest_s: this.athletes.get(id).rest_s,
    }));
    const ends_s = endsIn(runners, this.atOnce);
    const within_s = (Date.parse(this.place.ends_at) - nowMs) / 1000;
    return { ends_s, over_s: ends_s - within_s, cut: ends_s > within_s ? strideCut(runners, this.atOnce, within_s) : 0 };
  }

  /** Given name of a coach of the session. */
  nameOfCoach(person) {
    return this.track.staff.find((one) => one.person === person)?.name ?? "";
  }

  runner(athlete, now) {
    const person = this.athletes.get(athlete);
    return {
      id: athlete,
      looks_last_time: person.looks_last_time,
      rested_s: this.restedS(athlete, now),
      wants_rest_s: person.rest_s,
      strides_done: this.of(athlete).strides.size,
      strides_wanted: this.stridesWanted(athlete),
    };
  }

  restedS(athlete, now = steadyMs()) {
    const moments = [...this.of(athlete).strides].map((stride) => this.ranAtMs.get(strideKey(athlete, stride)));
    return moments.length ? (now - Math.max(...moments)) / 1000 : null;
  }

  /** Somebody runs now: the first of the order, unless who was turned to can still run. */
  keepCurrent() {
    if (!this.current || this.hasEnded(this.current.athlete)) return this.advance();
    this.heat = filled(this, this.heat, Math.max(1, this.lanes), this.order);
    if (!this.heat.some(({ athlete }) => athlete === this.current.athlete)) this.heat = [this.current];
    return undefined;
  }

  hasEnded(athlete) {
    return !HERE.has(this.of(athlete).presence) || this.of(athlete).isStopped;
  }

  advance() {
    const gone = this.current?.athlete;
    const waits = this.heat.find((one) => !this.hasEnded(one.athlete) && !isSaid(this, one));
    const others = this.order.filter(({ id }) => id !== gone);
    this.heat = waits ? this.heat : filled(this, [], this.lanes, others.length ? others : this.order);
    this.current = waits ?? this.heat[0] ?? null;
  }

  /** Turn to one runner; the stride stays that one while another phone goes on. */
  turnTo(athlete, stride = this.of(athlete).lastStride + 1) {
    this.current = this.heat.find((one) => one.athlete === athlete && !isSaid(this, one)) ?? { athlete, stride };
    if (!this.heat.includes(this.current)) this.heat = filled(this, [this.current], this.lanes, this.order);
  }

  mayKeep(athlete, purpose) {
    return this.athletes.get(athlete).may.includes(purpose);
  }

  /** What to look for: chosen by hand, else of the points in hand the one whose turn it is. */
  pointOf(athlete, stride) {
    if (this.chosen.has(athlete)) return this.chosen.get(athlete);
    const points = (this.athletes.get(athlete).points ?? []).filter((code) => this.features.has(code));
    if (!points.length) return null;
    return points[Math.floor((stride - 1) / this.athletes.get(athlete).strides_a_feature) % points.length];
  }

  /** The codes that are looked for with one athlete: the points in hand, then those of the group. */
  codesFor(athlete) {
    const { points, features } = this.athletes.get(athlete);
    return [...new Set([...(points ?? []), ...features])].filter((code) => this.features.has(code));
  }

  label(code) {
    return this.features.get(code)?.label ?? code;
  }

  strengthOf(athlete) {
    return this.of(athlete).strength ?? this.athletes.get(athlete).strength;
  }

  make(kind, athlete, own) {
    return { id: newEntryId(), session: this.id, kind, athlete, at: new Date().toISOString(), device: this.device, ...own };
  }

  /**
   * Keep and send entries as one step that can be undone, then turn to the next runner if `goesOn`.
   *
   * Answers false, and nothing is kept, where one would be refused for what it says or the phone is full.
   */
  async act(what, entries, { goesOn = false } = {}) {
    const poster = { person: this.track.person, role: this.track.posts_as };
    if (entries.some((entry) => checkEntry(entry, { session: this.id, poster }).refusal)) return false;
    this.done.push({ what, entries, before: this.current, heat: this.heat });
    if (goesOn) this.judged = this.current;
    return this.keepOrTell(entries, goesOn ? null : this.current);
  }

  /** Whether this phone has kept and begun to send them; else nothing has changed, and it is said. */
  async keepOrTell(entries, current) {
    try {
      await this.send(entries, current);
    } catch (fault) {
      this.done = this.done.filter((step) => step.entries !== entries);
      this.notKept(fault);
      return false;
    }
    return true;
  }

  async send(entries, current) {
    await this.store.keep(entries.map((entry) => ({ ...entry, by: this.track.person })));
    navigator.vibrate?.(20);
    this.current = current;
    await this.refresh();
    this.outbox.add(...entries);
  }

  /** Take back the last step of this phone; what one of its entries had replaced is said again. */
  async undo() {
    const step = this.done.pop();
    if (!step) return null;
    const all = new Map((await this.store.all()).map((entry) => [entry.id, entry]));
    this.heat = step.heat;
    await this.send(step.entries.map((entry) => this.takenBack(entry, all)), step.before);
    return step;
  }

  takenBack(entry, all) {
    const before = all.get(entry.replaces);
    if (!before) return this.make(entry.kind, entry.athlete, { replaces: entry.id, withdrawn: true });
    const own = Object.keys(KINDS[entry.kind].keys).map((key) => [key, before[key] ?? null]);
    return this.make(entry.kind, before.athlete, {
      stride: before.stride ?? null,
      replaces: entry.id,
      ...Object.fromEntries(own),
    });
  }
}

/** What stands most often in a list, the first of those alike; undefined for an empty one. */
export function mostCommon(list) {
  const count = new Map();
  for (const one of list) count.set(one, (count.get(one) ?? 0) + 1);
  return [...count].sort(([, one], [, other]) => other - one)[0]?.[0];
}

/** Given names; where two are alike, with the first letter of the family name. */
function shortNames(athletes) {
  const count = new Map();
  for (const one of athletes) count.set(one.given_name, (count.get(one.given_name) ?? 0) + 1);
  const short = (one) => {
    const family = one.name.slice(one.given_name.length).trim();
    return count.get(one.given_name) > 1 && family ? `${one.given_name} ${family[0]}.` : one.given_name;
  };
  return new Map(athletes.map((one) => [one.person, short(one)]));
}

function strideKey(athlete, stride) {
  return `${athlete} ${stride}`;
}
