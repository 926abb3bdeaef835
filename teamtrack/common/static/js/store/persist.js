// Whether this browser promises to keep what lies here, and whether it has room.
const ROOM_BYTES = 2 * 1024 * 1024;

/** The name of the sentence that says so: `insecure`, `persisted` or `clearable`. */
export async function howKept() {
  if (!globalThis.isSecureContext) return "insecure";
  const storage = navigator.storage;
  const isPromised = (await storage?.persisted?.()) || (await storage?.persist?.());
  return isPromised ? "persisted" : "clearable";
}

/** Whether there is room for many more entries; unknown counts as yes. */
export async function hasRoom() {
  const { quota, usage } = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  return !(quota - usage < ROOM_BYTES);
}
