"""How soon a phone beside the straight answers, its processor slowed four times: python -m tests.bench.bench_phone

Bytes of the first load, as they come over the line with their headers; a 3-hour session of 40 athletes and 1,500
entries opened from the phone's store without signal, until the runner is in sight; then from a tap to "saved" in the
live region, which is written once the entry lies on the phone. The server is the demo as it is served, the browser
Debian's Chromium.
"""

import os
import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page, sync_playwright

import tests.bench.with_django  # noqa: F401
from tests.browser.conftest import ARGS, PHONE
from tests.browser.test_offline import CONTROLLED, KEPT
from tests.demo_server import Browser, demo_server

SLOWED = 4
OPENED, TAPS = 11, 100
APART_MS = 450
ADULT = 18

FILL = """async () => {
  const ATHLETES = 40, ENTRIES = 1500, STRIDES = 13;
  const { session, person } = document.getElementById("trackside").dataset;
  const base = await new Promise((ok) => {
    const r = indexedDB.open(`person-${person}`); r.onsuccess = () => ok(r.result);
  });
  const known = await new Promise((ok) => {
    const r = base.transaction("sessions").objectStore("sessions").get(session); r.onsuccess = () => ok(r.result);
  });
  const { trackside } = known.bundle;
  const able = trackside.athletes.filter((one) => one.points?.length && one.may.includes("feedback"));
  const athletes = Array.from({ length: ATHLETES }, (_, at) => ({
    ...able[at % able.length], person: crypto.randomUUID(),
    name: `Runner ${at} Example`, given_name: `Runner${at}`, strides: 30,
  }));
  known.bundle = { ...known.bundle, trackside: { ...trackside, athletes } };
  let seq = known.next;
  const startMs = Date.now() - 3 * 3600 * 1000;
  const entries = [];
  const put = (kind, athlete, own) => entries.push({
    id: crypto.randomUUID(), session, kind, athlete, stride: null, replaces: null, withdrawn: false,
    device: "phone-0002",
    at: new Date(startMs + entries.length * 7000).toISOString(), by: person, seq: ++seq, ...own,
  });
  for (const { person: athlete } of athletes) put("presence", athlete, { state: "came" });
  for (let stride = 1; stride <= STRIDES; stride += 1) {
    for (const { person: athlete, points } of athletes) {
      const about = { stride, feature: points[0] };
      put("run", athlete, { stride, time_s: 4.2, steps: null, zone_m: null, started_at: null, crossed_at: null });
      put("observation", athlete, { ...about, shown: "partly", type: "adjustment", note: null });
      put("cue", athlete, { ...about, words: "grow tall", how: "told", focus: null, understood: "not_asked" });
    }
  }
  if (entries.length < ENTRIES) throw new Error(`only ${entries.length}`);
  known.next = seq;
  const at = base.transaction(["sessions", "entries"], "readwrite");
  at.objectStore("sessions").put(known);
  at.objectStore("entries").clear();
  for (const entry of entries.slice(0, ENTRIES)) at.objectStore("entries").put(entry);
  await new Promise((ok) => { at.oncomplete = ok; });
  base.close();
}"""
OPENED_AT = """(() => {
  const look = () => {
    const runner = document.querySelector('[data-view="run"]:not([hidden]) [data-name]');
    if (runner?.textContent) globalThis.openedAtMs = performance.now();
    else requestAnimationFrame(look);
  };
  look();
})();"""
TIME_TAPS = """() => {
  globalThis.tapsMs = [];
  let tappedAtMs = null;
  document.addEventListener("click", (event) => { tappedAtMs = event.timeStamp; }, true);
  new MutationObserver(() => {
    if (tappedAtMs === null || !document.getElementById("live").textContent.endsWith("saved")) return;
    tapsMs.push(performance.now() - tappedAtMs);
    tappedAtMs = null;
  }).observe(document.getElementById("live"), { childList: true });
}"""

WHEN_OPENED = """async () => {
  while (!globalThis.openedAtMs) await new Promise((ok) => setTimeout(ok, 20));
  return openedAtMs;
}"""
WHEN_SAVED = "async (count) => { while (tapsMs.length < count) await new Promise((ok) => setTimeout(ok, 20)); }"


def main() -> None:
    load = os.getloadavg()[0]
    print(f"processor of the page slowed {SLOWED} times; load of this machine {load:.1f} on {os.cpu_count()} cores")
    with (
        tempfile.TemporaryDirectory() as folder,
        demo_server(Path(folder) / "data") as server,
        sync_playwright() as with_,
    ):
        server.seconds_until_ready(at_most=120)
        session, cookies = _session_of_today(server.facts(), Browser(server.url))
        chromium = with_.chromium.launch(executable_path=shutil.which("chromium"), args=ARGS)
        origin = server.url.replace("127.0.0.1", "localhost")  # where a page may work without signal
        address = f"{origin}/coach/sessions/{session}"
        for cookie in cookies:
            cookie["url"] = origin
        fresh = chromium.new_context(service_workers="block", **PHONE)
        fresh.add_cookies(cookies)
        _first_load(fresh, address)
        phone = chromium.new_context(**PHONE)
        phone.add_cookies(cookies)
        _open_and_tap(phone, address)
        chromium.close()
    print(f"load of this machine at the end {os.getloadavg()[0]:.1f}")


def _session_of_today(facts: Any, client: Browser) -> tuple[str, list[Any]]:
    """A technique session of today and the sign-in of an adult coach of it."""
    today = time.strftime("%Y-%m-%d")
    for session in facts["sessions"]:
        if session["kind"] != "technique" or not session["start"].startswith(today):
            continue
        for account in facts["accounts"]:
            if account["username"] in session["coaches"] and (account["age"] or ADULT) >= ADULT:
                client.sign_in(account)
                return session["id"], [{"name": one.name, "value": one.value} for one in client.cookies]
    raise RuntimeError("the demo has no technique session today")


def _first_load(context: BrowserContext, address: str) -> None:
    page = context.new_page()
    network, kinds, sizes = context.new_cdp_session(page), {}, {}
    network.on("Network.responseReceived", lambda told: kinds.update({told["requestId"]: told["type"]}))
    network.on("Network.loadingFinished", lambda told: sizes.update({told["requestId"]: told["encodedDataLength"]}))
    network.send("Network.enable")
    page.goto(address)
    page.locator("[data-body]").wait_for()
    of_kind = {
        kind: sum(sizes.get(key, 0) for key in kinds if kinds[key] == kind) for kind in sorted(set(kinds.values()))
    }
    told = ", ".join(f"{kind} {size / 1000:.1f}" for kind, size in of_kind.items())
    print(f"first load: {sum(of_kind.values()) / 1000:.1f} kB in {len(kinds)} answers ({told})", flush=True)


def _open_and_tap(context: BrowserContext, address: str) -> None:
    page = context.new_page()
    page.goto(address)
    page.evaluate(CONTROLLED)
    if not page.evaluate(KEPT):
        raise RuntimeError("the page was not kept on the phone")
    page.locator("[data-body]").wait_for()
    context.set_offline(True)
    page.evaluate(FILL)
    page.add_init_script(OPENED_AT)
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
    opened = [_opened_ms(page) for _ in range(OPENED)]
    print(
        f"1,500 entries of 40 athletes opened: median {statistics.median(opened):.0f} ms, longest {max(opened):.0f} ms"
    )
    taps = _taps_ms(page)
    p95 = sorted(taps)[int(len(taps) * 0.95)]
    print(
        f"from a tap to saved: median {statistics.median(taps):.0f} ms, p95 {p95:.0f} ms ({len(taps)} of {TAPS} taps)"
    )


def _opened_ms(page: Page) -> float:
    page.reload()
    return float(page.evaluate(WHEN_OPENED))


def _taps_ms(page: Page) -> list[float]:
    page.evaluate(TIME_TAPS)
    for number in range(TAPS):
        page.locator('[data-result="held"]').click()
        page.evaluate(WHEN_SAVED, number + 1)
        page.wait_for_timeout(APART_MS)
    return [float(one) for one in page.evaluate("tapsMs")]


if __name__ == "__main__":
    main()
