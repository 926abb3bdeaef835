// Time beside the straight: a steady clock for rests, and how seconds and the hour are said.

/** Milliseconds of a clock that never jumps; only differences mean something. */
export const steadyMs = () => performance.now();

/** "0:20", "5:10", "1:02:03": whole seconds, never below zero. */
export function minutes(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const hours = Math.floor(whole / 3600);
  const two = (number) => String(number).padStart(2, "0");
  const rest = `${Math.floor((whole % 3600) / 60)}:${two(whole % 60)}`;
  return hours ? `${hours}:${two(Math.floor((whole % 3600) / 60))}:${two(whole % 60)}` : rest;
}

/** The hour in the club's zone, as "18:24". */
export function hourIn(zone, now = new Date()) {
  return new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: zone }).format(now);
}
