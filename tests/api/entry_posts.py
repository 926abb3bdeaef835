"""Makers of entries as a phone posts them, and a phone that posts and fetches."""

import json
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import OperationalError
from django.http import HttpResponse
from django.test import Client

from athletes.models import Person
from sessions.models import TrainingSession

OWN_KEYS: dict[str, dict[str, Any]] = {
    "run": {"time_s": 8.125, "steps": 31},
    "observation": {"feature": "tall_hips", "shown": "partly", "note": "late on the left"},
    "cue": {"feature": "tall_hips", "words": "Grow taller", "how": "told", "understood": "yes"},
    "own_view": {"words": "felt quick"},
    "stop": {},
    "pain": {"place": "knee", "side": "left", "words": "since the last one"},
    "presence": {"state": "came"},
    "felt": {"effort": 6},
    "day": {"rpe": 4, "minutes": 75},
}


def new_id() -> str:
    """An id as RFC 9562, section 5.7 has it; the time in it says nothing here."""
    digits = uuid.uuid4().hex
    return str(uuid.UUID(digits[:12] + "7" + digits[13:]))


def entry(kind: str, athlete: Person, training_session: TrainingSession, **more: Any) -> dict[str, Any]:
    """A valid entry; `more` overrides, and replaces the kind's own keys where it withdraws."""
    own = {} if more.get("withdrawn") else OWN_KEYS[kind]
    return {
        "id": new_id(),
        "session": str(training_session.pk),
        "kind": kind,
        "athlete": str(athlete.pk),
        "at": "2027-03-09T17:04:05.123Z",
        "device": "phone-0001",
        **own,
        **more,
    }


@dataclass
class Phone:
    """A signed-in browser on one training session."""

    client: Client
    person: Person
    training_session: TrainingSession

    @property
    def address(self) -> str:
        return f"/api/v1/sessions/{self.training_session.pk}/entries"

    def send(self, body: Any, **options: Any) -> HttpResponse:
        content = body if isinstance(body, bytes | str) else json.dumps(body)
        return self.client.post(self.address, content, content_type="application/json", **options)

    def post(self, *entries: Any) -> list[dict[str, Any]]:
        response = self.send({"as": str(self.person.pk), "entries": list(entries)})
        assert response.status_code == 200, response.content
        return response.json()["answers"]

    def get(self, **query: Any) -> dict[str, Any]:
        response = self.client.get(self.address, query)
        assert response.status_code == 200, response.content
        return response.json()

    def items(self) -> list[dict[str, Any]]:
        return self.get()["items"]

    def counting(self) -> dict[str, Any]:
        response = self.client.get(self.address + "/counting")
        assert response.status_code == 200, response.content
        return response.json()


def codes(answers: Sequence[dict[str, Any]]) -> list[str]:
    """The code of each refusal, the answer of the others."""
    return [answer.get("code", answer["answer"]) for answer in answers]


def away_after(number: int) -> Callable[..., object]:
    """The database goes away after so many statements; what is undone then is undone by its marks alone."""
    left = [number]

    def asked(execute: Callable[..., object], sql: str, *given: object) -> object:
        left[0] -= 1
        if left[0] < 0 and not sql.startswith(("SAVEPOINT", "ROLLBACK", "RELEASE")):
            raise OperationalError("the connection was lost")
        return execute(sql, *given)

    return asked
