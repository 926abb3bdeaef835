// What is this phone's own for one session and the person on it: visitors, adults counted, a hand-made order, lanes, thunder.
// It never leaves the phone but for two numbers (closing a session) and when thunder was heard, and is gone with the day.
const PREFIX = "own ";

const START = { visitors: [], thunder: [], adults: null, hand: null, left: [], cut: 0, lanes: null, eyes: null, times: false };

export class PhoneOwn {
  /** `day`: the day at the club; what lies here of another day is removed. `refused()`: nothing can be kept here. */
  constructor({ person, session, day, refused = () => {} }) {
    Object.assign(this, { key: `${PREFIX}${person} ${session}`, day, refused, changed: () => {} });
    forgetOtherDays(day);
    this.value = { ...START, ...read(this.key)?.value };
  }

  set(more) {
    this.value = { ...this.value, ...more };
    try {
      localStorage.setItem(this.key, JSON.stringify({ day: this.day, value: this.value }));
    } catch {
      this.refused();
    }
    this.changed();
  }
}

/** The day in a zone (the phone's where none is named), as "2027-03-09". */
export const dayIn = (zone, now = new Date()) => new Intl.DateTimeFormat("en-CA", { timeZone: zone }).format(now);

/** Remove what is of another day; with no day named, all of it. */
export function forgetOtherDays(day) {
  try {
    const own = Object.keys(localStorage).filter((key) => key.startsWith(PREFIX));
    for (const key of own) if (!day || read(key)?.day !== day) localStorage.removeItem(key);
  } catch {
    // Nothing was kept where nothing can be.
  }
}

function read(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}
