// Who signed out here: what another page of theirs was still writing at that moment is wiped by the next page that opens.
import { wipePerson } from "./wipe.js";

const KEY = "signed-out";

function read() {
  try {
    return JSON.parse(localStorage.getItem(KEY)) ?? [];
  } catch {
    return [];
  }
}

function write(people) {
  try {
    if (people.length) localStorage.setItem(KEY, JSON.stringify(people));
    else localStorage.removeItem(KEY);
  } catch {
    // Where this is refused nothing is kept here either.
  }
}

export const markLeft = (person) => write([...new Set([...read(), person])]);

/** Wipe what lies here of those who signed out, but not of who is signed in now. */
export async function wipeLeft(signedIn = null) {
  for (const person of read()) {
    if (person !== signedIn) await wipePerson(person);
    write(read().filter((one) => one !== person));
  }
}
