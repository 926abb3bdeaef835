"""A mark in every personal field: after all flows it stands in no log, mail, queue, address, cache, header or line of
the access log, nor in the browser sessions' rows."""

import json
import logging
import re
from collections.abc import Collection, Iterator
from html import unescape
from zlib import crc32

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.core import mail
from django.core.cache import cache
from django.db import models
from django.test import Client

from athletes.models import AccessLogEntry, Club, ContactNumber, PermissionEvent, Person
from athletes.services.signed_heads import heads_file, sign_heads
from athletes.viewer import viewer_for
from sessions.models import Feature, Venue
from sessions.services.emergency_access import open_in_emergency
from sessions.services.tell_pain import tell_pain
from teamtrack.common.logs import JsonLine
from teamtrack.common.models import Job
from tests.api.entry_posts import OWN_KEYS, Phone, entry
from tests.people import answer
from tests.sizes import LONG
from tests.test_doors import DOORS, EVERYBODY, OWN, WRITTEN, address

pytestmark = pytest.mark.django_db

MARK = "zqcanary"
# What looks like text and is none of a person's: codes of the house, and what the server itself makes.
NOT_PERSONAL = re.compile(r"hash|signature|pseudonym|password|token|code$|currency|country|timezone|language|locale")


def fields_of_people() -> Iterator[models.Field]:
    """Free text of every model of ours: no choices, no codes."""
    for model in apps.get_models():
        if model.__module__.split(".")[0] in ("athletes", "sessions") and model is not AccessLogEntry:
            for field in model._meta.concrete_fields:
                is_text = isinstance(field, models.CharField | models.TextField) and not field.choices
                if is_text and not field.primary_key and not NOT_PERSONAL.search(field.name):
                    yield field


def mark(number: int) -> str:
    return f"{MARK}{number:03d}x"


FREE_TEXT = ("note", "words", "text", "said", "reason", "reference", "name")


def put_marks() -> list[str]:
    """Each text of a person in each row that the scene has, by fields; answers which fields were marked."""
    marked = []
    for number, field in enumerate(fields_of_people()):
        is_free = field.name in FREE_TEXT and field.model is not Feature
        is_whole = field.model in (Person, ContactNumber, Club, Venue, PermissionEvent)
        if (is_free or is_whole) and field.model._base_manager.update(**{field.attname: mark(number)}):
            marked.append(str(field))
    return marked


class Seen(logging.Handler):
    """What a log of the server would hold: each line as it is written, and as the framework words it."""

    def __init__(self) -> None:
        super().__init__(level=logging.DEBUG)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if not record.name.startswith(("django.db", "faker", "hypothesis")):
            self.lines += [JsonLine().format(record), record.getMessage()]


@pytest.fixture
def logs() -> Iterator[Seen]:
    seen, root = Seen(), logging.getLogger()
    names = ("", "django", "django.request", "django.security", "celery", "athletes", "sessions", "teamtrack")
    levels = {name: logging.getLogger(name).level for name in names}
    for name in names:
        logging.getLogger(name).addHandler(seen)
        logging.getLogger(name).setLevel(logging.DEBUG)
    yield seen
    for name, level in levels.items():
        logging.getLogger(name).removeHandler(seen)
        logging.getLogger(name).setLevel(level)
    assert root.level == levels[""]


def addresses_in(body: str) -> list[str]:
    found = re.findall(r'(?:href|src|action|hx-get|hx-post|data-bundle|data-entries)="([^"]*)"', body)
    return [unescape(one) for one in found if not one.startswith("tel:")]


def test_no_mark_is_found_where_nobody_asked(scene, signed_in, logs) -> None:
    for giver in (scene.athlete, scene.guardian):
        answer(scene.athlete, giver, names=(scene.coach,))
    ContactNumber.objects.create(club=scene.club, athlete=scene.athlete, name="G", relation="aunt", phone="1")
    admin = viewer_for(scene.admin, "admin")
    open_in_emergency(viewer=admin, athlete_id=scene.athlete.pk, reason="Fell", cannot_answer=True)
    marked = put_marks()
    assert "training.EmergencyAccess.reason" in marked
    assert len(marked) >= 6, marked

    bodies, outside = everything(scene, signed_in)
    assert any(MARK in body for body in bodies), "the marks were put where nobody reads"

    sign_heads()
    kept = {
        "logs": logs.lines,
        "mails": [str(one.message()) for one in mail.outbox],
        "jobs": [json.dumps(row, default=str) for row in Job.objects.values()],
        "browser sessions": [json.dumps(row.get_decoded()) for row in Session.objects.all()],
        "access log": [json.dumps(row, default=str) for row in AccessLogEntry.objects.values()],
        "heads": [heads_file().read_text()],
        "cache": [repr(getattr(cache, "_cache", {}))],
        "headers and addresses": outside,
    }
    assert kept["logs"] and kept["jobs"] and kept["access log"] and outside
    for where, texts in kept.items():
        assert [text[:200] for text in texts if MARK in text.lower()] == [], where


def comes_to(who: str, number: int, names: Collection[str]) -> list[str]:
    """The addresses that one person asks for: all that open, and a share of the others (by turns, each by somebody)."""

    def comes(name: str) -> bool:
        return LONG or who in DOORS.get(name, EVERYBODY) or crc32(name.encode()) % len(EVERYBODY) == number

    return [name for name in sorted(names) if comes(name)]


def everything(scene, signed_in) -> tuple[list[str], list[str]]:
    """Every flow with marks in what is written too; the bodies, and what lies outside of bodies."""
    bodies, outside = [], []

    def met(found) -> None:
        body = b"".join(found.streaming_content) if found.streaming else found.content
        bodies.append(body.decode())
        outside.append(json.dumps(dict(found.headers)))
        outside.append(str(found.cookies))
        outside.extend(addresses_in(body.decode()))

    stranger = Client(raise_request_exception=False)
    met(stranger.post("/sign-in", {"username": f"{MARK}-name", "password": f"{MARK} pass words"}))
    met(stranger.post("/api/v1/sign-in", {"username": f"{MARK}-name", "password": MARK}, "application/json"))
    for number, who in enumerate(EVERYBODY):
        browser = signed_in(getattr(scene, who), raise_request_exception=False)
        for name in comes_to(who, number, set(DOORS) | OWN - {"sign-out", "api-sign-out"}):
            met(browser.get(address(name, scene)))
        for name in comes_to(who, number, WRITTEN):
            met(browser.post(address(name, scene), {"words": MARK, "note": MARK, "purpose": MARK, "text": MARK}))
            met(browser.post(address(name, scene), json.dumps({"words": MARK}), content_type="application/json"))
    phone = Phone(signed_in(scene.coach), scene.coach, scene.training_session)
    said = [
        entry(kind, scene.athlete, scene.training_session)
        | {key: f"{MARK} {key}" for key in own if key in ("words", "note")}
        for kind, own in OWN_KEYS.items()
        if kind in ("cue", "observation", "pain", "own_view")
    ]
    met(phone.send({"as": str(scene.coach.pk), "entries": said}))
    met(phone.send({"as": str(scene.coach.pk), "entries": [{"id": MARK, "kind": MARK}]}))
    for one in said:
        if one["kind"] == "pain":
            tell_pain(entry_id=one["id"])
    for who in ("coach", "second_coach", "athlete", "guardian", "head_coach"):
        browser = signed_in(getattr(scene, who))
        for name in ("trackside", "session-summary", "coach-athlete", "api-entries", "api-form-history", "today"):
            met(browser.get(address(name, scene)))
    return bodies, outside


def test_a_fault_names_nobody(scene, signed_in, logs, monkeypatch) -> None:
    """An error in the middle of a page about somebody: its line in the log has the place, not the person."""
    Person.objects.filter(pk=scene.athlete.pk).update(given_name=MARK)

    def breaks(**given: object) -> None:
        raise RuntimeError("broken")

    monkeypatch.setattr("sessions.web.trackside.session_summary", breaks)
    browser = signed_in(scene.coach, raise_request_exception=False)
    found = browser.get(address("session-summary", scene))
    assert found.status_code == 500
    assert MARK not in found.content.decode()
    assert any('"ERROR"' in line for line in logs.lines)
    assert [line for line in logs.lines if MARK in line] == []
