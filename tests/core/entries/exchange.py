"""Phones that exchange entries over a wire that fails: what the contract asks of a phone, step by step.

A wire carries a post and a get to a server; `Simulated` is one made of the product's own rules, without a database.
"""

import json
import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Protocol

from sessions.core.entries.counting import Counting, Link, counting
from sessions.core.entries.judging import Surroundings, Verdict, judge
from sessions.core.entries.posted import Posted, read_body
from sessions.core.entries.shape import Entry, Poster, Refusal, check_entry

MOST_BYTES, PAGE = 900, 3
"""So little that batches are halved and pages turned in short schedules."""
Reply = tuple[int, dict[str, Any]]


class Server(Protocol):
    """What a phone talks to, as a person."""

    def post(self, person: str, body: bytes) -> Reply: ...

    def get(self, person: str, after: int) -> Reply: ...


class Killed(Exception):
    """The phone's browser ends here: all but its store is lost."""


def counted(items: Iterable[dict[str, Any]]) -> Counting:
    """What counts of entries as they are read."""
    return counting(
        Link(one["id"], one["kind"], one["athlete"], one["by"], one["replaces"], one["withdrawn"]) for one in items
    )


@dataclass
class Simulated:
    """A server of one session: bodies read, entries checked and judged by the product's own rules."""

    session: str
    posters: dict[str, Poster]
    around: Surroundings
    kept: dict[str, Entry] = field(default_factory=dict)
    items: list[dict[str, Any]] = field(default_factory=list)

    def post(self, person: str, body: bytes) -> Reply:
        if len(body) > MOST_BYTES:
            return 413, {}
        posted = read_body(body)
        assert isinstance(posted, Posted)
        if posted.sent_as != person:
            return 409, {}
        return 200, {"answers": [self._take(raw, self.posters[person]) for raw in posted.entries]}

    def get(self, person: str, after: int) -> Reply:
        came = [one for one in self.items if one["seq"] > after and self.may_read(person, one)]
        page = came[:PAGE]
        return 200, {"items": page, "next": page[-1]["seq"] if page else after, "more": len(came) > PAGE}

    def may_read(self, person: str, item: dict[str, Any]) -> bool:
        about_oneself = item["athlete"] == person and item["kind"] in ("stop", "pain")
        return self.posters[person].role != "athlete" or item["by"] == person or about_oneself

    def _take(self, raw: object, poster: Poster) -> dict[str, Any]:
        entry = check_entry(raw, session=self.session, poster=poster)
        verdict = judge(entry, kept=self.kept, around=self.around) if isinstance(entry, Entry) else entry
        if isinstance(verdict, Refusal):
            return {"id": verdict.id, "answer": "refused", "code": verdict.code}
        assert isinstance(entry, Entry)
        if verdict is Verdict.ACCEPTED:
            self.kept[entry.id] = entry
            self.items.append(entry.as_dict() | {"by": poster.person, "seq": 2 * len(self.items) + 1})
        seq = next(one["seq"] for one in self.items if one["id"] == entry.id)
        return {"id": entry.id, "answer": str(verdict), "seq": seq}


@dataclass
class Wire:
    """A connection that drops, holds back, repeats and reorders, until its faults are over."""

    server: Server
    dice: random.Random
    fails: float = 0.0
    held: list[Callable[[], object]] = field(default_factory=list)

    def post(self, person: str, body: bytes) -> Reply | None:
        """The answer; None where none came, whether or not the server was reached."""
        fault = self._fault(("lost", "held", "cut", "twice", "busy", "killed", "killed after"))
        if fault == "lost":
            return None
        if fault == "held":
            self.held.append(lambda: self.server.post(person, body))
            return None
        if fault == "busy":
            return 503, {}
        if fault == "killed":
            raise Killed
        reply = self.server.post(person, body)
        if fault == "twice":
            self.held.append(lambda: self.server.post(person, body))
        if fault == "killed after":
            raise Killed
        return None if fault == "cut" else reply

    def get(self, person: str, after: int) -> Reply | None:
        fault = self._fault(("lost", "busy", "killed"))
        if fault == "killed":
            raise Killed
        return None if fault == "lost" else (503, {}) if fault == "busy" else self.server.get(person, after)

    def bring_held(self, most: int) -> None:
        """Some of what was held back arrives, in any order."""
        for _ in range(min(most, len(self.held))):
            self.held.pop(self.dice.randrange(len(self.held)))()

    def _fault(self, faults: tuple[str, ...]) -> str:
        return self.dice.choice(faults) if self.dice.random() < self.fails else ""


@dataclass
class Device:
    """A phone: its store survives it, the size of its batches does not."""

    person: str
    wire: Wire
    waiting: dict[str, dict[str, Any]] = field(default_factory=dict)
    stays: dict[str, str] = field(default_factory=dict)
    sent: dict[str, int] = field(default_factory=dict)
    got: dict[str, dict[str, Any]] = field(default_factory=dict)
    after: int = 0
    batch: int = 8

    def record(self, entry: dict[str, Any]) -> None:
        self.waiting[entry["id"]] = entry

    def timer(self) -> None:
        """One firing of the timer: all that waits is sent, then all that came is fetched, as far as the wire holds."""
        try:
            if self._send():
                self._fetch()
        except Killed:
            self.batch = 8

    def _send(self) -> bool:
        while self.waiting:
            entries = list(self.waiting.values())[: self.batch]
            body = json.dumps({"as": self.person, "entries": entries}).encode()
            status, content = self.wire.post(self.person, body) or (0, {})
            if status == 413 and self.batch > 1:
                self.batch = max(1, len(entries) // 2)
            elif status == 200:
                self._note(entries, content["answers"])
            else:
                return False
        return True

    def _note(self, entries: list[dict[str, Any]], answers: list[dict[str, Any]]) -> None:
        for entry, answer in zip(entries, answers, strict=True):
            del self.waiting[entry["id"]]
            if answer["answer"] in ("accepted", "known"):
                self.sent[entry["id"]] = answer["seq"]
            else:
                self.stays[entry["id"]] = answer.get("code", answer["answer"])

    def _fetch(self) -> None:
        more = True
        while more:
            status, page = self.wire.get(self.person, self.after) or (0, {})
            if status != 200:
                return
            self.got |= {one["id"]: one for one in page["items"]}
            self.after, more = page["next"], page["more"]
