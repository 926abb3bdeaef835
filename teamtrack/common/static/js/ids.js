// Ids made on the phone: entries as UUID version 7 (RFC 9562, section 5.7), and this device's own id.
const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");

/** A new id: 48 bits of the phone's clock in ms, then random bits; lower case. */
export function newEntryId(nowMs = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let rest = nowMs;
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const text = hex(bytes);
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20)].join("-");
}

/** This device's id: made once and kept; where nothing can be kept, one for this page. */
export function deviceId() {
  const made = `d-${hex(crypto.getRandomValues(new Uint8Array(12)))}`;
  try {
    const kept = localStorage.getItem("device");
    if (kept) return kept;
    localStorage.setItem("device", made);
  } catch {
    return made;
  }
  return made;
}
