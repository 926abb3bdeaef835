"""Random schedules on the phone's own modules in Chromium: a wire that drops, repeats, holds back and cuts, pages that
are killed in the midst of it, clocks that are hours off; after the last fault all phones equal the server.

The phone is what a page runs (`outbox.js`, `pull.js`, `store.js`, `fold.js`); the server is made of the product's own
rules, as in the schedules of the core's tests.
"""

import io
import json
import random
import threading
import uuid
from collections.abc import Callable, Iterator
from contextlib import suppress
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, Route

from sessions.core.entries.judging import Surroundings
from sessions.core.entries.kinds import Role
from sessions.core.entries.shape import Poster
from tests.core.entries.exchange import Killed, Reply, Simulated, Wire, counted
from tests.core.entries.invented import run_schedule
from tests.sizes import examples

pytestmark = pytest.mark.browser

MODULES = Path(__file__).parents[2] / "teamtrack/common/static/js"
PERIOD_S, STEP_S = 60, 30
"""The longest wait of a phone's outbox between two tries, in steps of this test's clock."""

PHONE = """async ({ person, session }) => {
  const [{ PersonStore }, { SessionStore }, { Outbox, itemOf }, { Pull }, { fold }, { counting }] = await Promise.all(
    ["store/person", "trackside/store", "outbox", "trackside/pull", "trackside/fold", "entries/counting"].map(
      (name) => import(`/${name}.js`),
    ),
  );
  const kept = new PersonStore(person);
  await kept.open();
  const store = new SessionStore({ kept, session, itemOf: (entry) => itemOf(entry, entry.kind) });
  await store.open();
  const outbox = new Outbox({ kept, changed() {} });
  await outbox.load();
  const address = `/api/v1/sessions/${session}/entries`;
  const reached = () => outbox.waiting.length && outbox.send();
  const pull = new Pull({ address, person, store, came() {}, reached });
  const ask = pull.ask.bind(pull);
  let asking = null;
  let adding = null;
  pull.ask = () => (asking = ask());
  const stands = async () => {
    const entries = await store.all();
    const people = [...fold(entries, person)].map(([athlete, one]) => [athlete, {
      strides: [...one.strides].sort(), lastStride: one.lastStride, isStopped: one.isStopped,
      cues: one.cues.map(({ id }) => id), runs: [...one.runs].map(([stride, { id }]) => [stride, id]).sort(),
    }]);
    const stuck = outbox.stuck.map(({ id, state, code }) => [id, code ?? state]);
    return { entries, counted: counting(entries), people: Object.fromEntries(people), stuck };
  };
  globalThis.phone = {
    record: async (entry) => {
      if (store.entries.has(entry.id)) return;
      await store.keep([{ ...entry, by: person }]);
      adding = outbox.add();
    },
    still: async () => {
      do await Promise.all([outbox.sending, asking, adding]);
      while (outbox.sending || pull.isAsking);
    },
    waiting: () => outbox.waiting.length,
    giveUp: async () => {
      const stuck = outbox.stuck.map(({ id }) => id);
      for (const id of stuck) await outbox.remove(id);
      store.forgot(stuck);
    },
    stands,
    start: () => void (outbox.send(), pull.ask()),
  };
}"""


class Phone:
    """One phone with a browser of its own; `person` holds it, whatever page is open on it."""

    def __init__(self, person: str, context: BrowserContext, wire: Wire, dice: random.Random, session: str) -> None:
        self.person, self.context, self.wire, self.dice, self.session = person, context, wire, dice, session
        self.is_killed = False
        self.page = self.opened()
        self.settled(lambda: self.page.evaluate("phone.start()"))

    def opened(self) -> Page:
        """A page opened anew, its clock somewhere else than before."""
        page = self.context.new_page()
        page.route("**/api/**", self.answer)
        page.clock.install(time=self.dice.uniform(1e9, 3e9))
        page.goto("/")
        page.evaluate(PHONE, {"person": self.person, "session": self.session})
        return page

    def record(self, entry: dict[str, Any]) -> None:
        """Kept on the phone before anything is sent, whatever becomes of that."""
        self.settled(lambda: self.page.evaluate("(entry) => phone.record(entry)", entry))

    def timer(self, seconds: float | None = None) -> None:
        """Time passes: what is due is done; at times the clock is set back or forth meanwhile, or nothing happens."""
        if seconds is None and self.dice.random() < 0.5:
            return
        forward = self.dice.choice([2, 5, 30]) if seconds is None else seconds
        self.settled(lambda: self.page.clock.fast_forward(1000 * forward))
        if seconds is None and self.dice.random() < 0.2:
            self.page.clock.set_system_time(self.dice.uniform(1e9, 3e9))

    def settled(self, step: Callable[[], object]) -> None:
        """A step, then until nothing is on its way; a page that was killed in the midst of it is opened again."""
        try:
            step()
            self.page.evaluate("phone.still()")
        except Error:
            if not self.is_killed:
                raise
        if self.is_killed:
            self.is_killed = False
            self.page = self.opened()
            self.settled(lambda: self.page.evaluate("phone.start()"))

    def answer(self, route: Route) -> None:
        try:
            reply = self.ask(route, parse_qs(urlsplit(route.request.url).query))
        except Killed:
            self.kill(route)
            return
        if reply is None:
            route.abort()
            return
        status, content = reply
        route.fulfill(status=status, json=content, headers={"Phone-Person": self.person})

    def kill(self, route: Route) -> None:
        """Close the page while it waits; every other time only the answer is lost, for a new page costs most."""
        self.is_killed = self.dice.random() < 0.5
        if self.is_killed:
            self.page.close()
        with suppress(Error):
            route.abort()

    def ask(self, route: Route, query: dict[str, list[str]]) -> Reply | None:
        if route.request.method == "POST":
            return self.wire.post(self.person, (route.request.post_data or "").encode())
        reply = self.wire.get(self.person, int(query["after"][0]))
        return None if reply is None else (reply[0], {**reply[1], "drop": []})

    def stands(self) -> dict[str, Any]:
        found: dict[str, Any] = self.page.evaluate("phone.stands()")
        return found


class Modules(SimpleHTTPRequestHandler):
    """The modules as files, and an empty page."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given, directory=str(MODULES))

    def do_GET(self) -> None:
        """A page that is killed takes no more."""
        with suppress(ConnectionError):
            super().do_GET()

    def list_directory(self, path: Any) -> io.BytesIO:
        page = b'<!doctype html><title>Phone</title><link rel="icon" href="data:,">'
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(page)))
        self.end_headers()
        return io.BytesIO(page)

    def log_message(self, *_given: Any) -> None:
        """Nothing is written."""


@pytest.fixture
def contexts(chromium: Browser) -> Iterator[Callable[[int], BrowserContext]]:
    """A browser for each phone by its place, with the modules served from this machine."""
    made: dict[int, BrowserContext] = {}
    with ThreadingHTTPServer(("127.0.0.1", 0), Modules) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        address = f"http://localhost:{server.server_port}"
        yield lambda place: made.setdefault(place, chromium.new_context(base_url=address))
        for context in made.values():
            context.close()
        server.shutdown()


def server_of(session: str, runners: list[str], coaches: list[str]) -> Simulated:
    roles = dict.fromkeys(coaches, Role.COACH) | {runners[0]: Role.ATHLETE}
    around = Surroundings(erased=set(), features={"tall_hips"}, roster=set(runners), refused={})
    return Simulated(session, {person: Poster(person, role) for person, role in roles.items()}, around)


def test_after_the_last_fault_all_phones_equal_the_server(contexts: Callable[[int], BrowserContext]) -> None:
    for number in range(examples(80, one_in=20)):
        dice = random.Random(number)
        session, *people = (str(uuid.UUID(int=dice.getrandbits(128), version=4)) for _ in range(5))
        runners, coaches = people[:2], people[2:]
        server = server_of(session, runners, coaches)
        wire = Wire(server, dice)
        owners = dice.sample([*coaches, runners[0], coaches[0]], 3)
        phones = [Phone(one, contexts(place), wire, dice, session) for place, one in enumerate(owners)]
        made = run_schedule(dice, wire, phones, session, runners)  # type: ignore[arg-type]
        wire.fails = 0.0
        wire.bring_held(len(wire.held))
        check_one_period(dice, phones)
        for phone in phones:
            check_agreement(phone, server, made)
            phone.page.close()


def check_one_period(dice: random.Random, phones: list[Phone]) -> None:
    """Within the longest wait all is sent; a step later each phone has it all."""
    for _ in range(PERIOD_S // STEP_S):
        for phone in dice.sample(phones, len(phones)):
            phone.timer(STEP_S)
    assert [phone.page.evaluate("phone.waiting()") for phone in phones] == [0] * len(phones)
    for phone in phones:
        phone.timer(2 * STEP_S)


def check_agreement(phone: Phone, server: Simulated, made: dict[str, list[dict[str, Any]]]) -> None:
    there = {one["id"]: one for one in server.items if server.may_read(phone.person, one)}
    for entry_id, why in phone.stands()["stuck"]:
        assert why in ({"conflict"} if entry_id in there else {"UNKNOWN_FEATURE"}), json.dumps(made[entry_id])
    phone.page.evaluate("phone.giveUp()")
    found = phone.stands()
    assert found["stuck"] == []
    assert {one["id"]: one for one in found["entries"]} == there
    expected = counted(there.values())
    assert found["counted"] == {"ids": list(expected.ids), "beside": [list(group) for group in expected.beside]}
    ids = set(expected.ids)
    standing = [one for one in sorted(there.values(), key=lambda one: one["seq"]) if one["id"] in ids]
    for athlete in {one["athlete"] for one in standing}:
        own = [one for one in standing if one["athlete"] == athlete]
        folded = found["people"][athlete]
        assert folded["isStopped"] is any(one["kind"] == "stop" for one in own)
        assert folded["cues"] == [one["id"] for one in own if one["kind"] == "cue"]
