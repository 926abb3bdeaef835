"""Every form of every page is sent twice, the very same: the second time nothing is added, and no link leads nowhere.

Each role goes through its pages by their links and by the table of doors. Then what the forms do is done, where it ends
nothing, and the pages are gone through once more, for the forms that only then stand there.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from html.parser import HTMLParser
from urllib.parse import parse_qs, urlsplit

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.urls import Resolver404, resolve

from tests.doors import FILES, OF_PERSON, OF_ROLE, PARTS
from tests.people import PASSWORD
from tests.planning import make_placed_week
from tests.test_doors import address

pytestmark = pytest.mark.django_db

WHO = ("head_coach", "coach", "helper", "admin", "welfare", "athlete", "guardian", "care_guardian")
PAGES = {name for name in OF_ROLE | OF_PERSON if not name.startswith("api-")} - FILES - PARTS

MEANT_TO_ADD = {
    "own-calendar-make": "the secret address is shown once: the one shown last is the one that opens",
    "consents-print": "a form's code is shown once: the one printed last is the one that opens",
    "consents-print-all": "forms' codes are shown once: those printed last are those that open",
    "child-sheet": "a sheet's code is shown once: the one printed last is the one that opens",
    "sign-in-sheets-make": "a sheet's code is shown once: the one printed last is the one that opens",
}
"""Forms that add once more when they are sent twice, and why that is right."""

REFUSED = {
    "assign": "the scene's coaches have their groups: tests/web/test_staff_pages.py",
    "consents-by-code": "needs the code of a printed form: tests/web/test_form_by_code.py",
    "emergency-open": "needs a reason that is an emergency: tests/web/test_emergencies.py",
    "season-change": "waits for what the planner says: tests/web/test_season_pages.py",
    "season-phase-new": "every week has its phase: tests/web/test_season_pages.py",
    "venue-remove": "the venue is in use: tests/web/test_venues.py",
}
"""Forms that refuse whatever is plausible here, and which test sends them in earnest."""

ENDS = {"sign-out", "my-password", "person-leave", "group-hand-over", "venue-remove", "meet-remove"}
"""What ends so much that little would be left for the second round."""

TRACES = {"AccessLogEntry", "ChainHead", "LedgerLine", "PseudonymKey", "Tries"}
"""What is kept of every act, also of one that changes nothing: the log, and the ledger for a restore."""

LIST = b"Given name,Family name,Birth date\r\nNuria,Quill,2012-04-13\r\n"
MARKS = b"name,event,time,date\r\nTam Tester,100 m,12.64,2026-05-28\r\n"
CALENDAR = b"""BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//club//list//EN\r\nBEGIN:VEVENT\r\nUID:1@club
DTSTAMP:20260101T000000Z\r\nDTSTART;VALUE=DATE:{day}\r\nSUMMARY:Lower lane meet\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"""


@dataclass
class Form:
    """A form as a browser would send it: its fields, and the button that is pressed. (The handles of the season's
    picture are none: a script gives them their address, and sends what the phase's own page sends.)"""

    action: str
    fields: list[dict[str, str]] = field(default_factory=list)
    buttons: list[dict[str, str]] = field(default_factory=list)
    is_post: bool = False


class Page(HTMLParser):
    """The links and forms of a page."""

    def __init__(self, body: str, place: str) -> None:
        super().__init__()
        self.place, self.links, self.forms, self._by_id, self._loose = place, [], [], {}, []
        self._form, self._open = None, None
        self.feed(body)
        for form_id, one in self._loose:
            if form_id in self._by_id:
                _put(self._by_id[form_id], one)

    def handle_starttag(self, tag, attrs):
        said = {name: value or "" for name, value in attrs}
        if tag == "a" and said.get("href", "").startswith("/"):
            self.links.append(said["href"])
        elif tag == "form":
            is_sent = said.get("method") == "post" and "stretch" not in said.get("class", "")
            self._form = Form(said.get("action") or self.place, is_post=is_sent)
            self.forms.append(self._form)
            self._by_id[said.get("id", "")] = self._form
        elif tag in ("input", "select", "textarea", "button") and "disabled" not in said:
            one = {"tag": tag, "options": []} | said
            self._open = one if tag in ("select", "textarea") else None
            if "form" in said:
                self._loose.append((said["form"], one))
            elif self._form is not None:
                _put(self._form, one)
        elif tag == "option" and self._open is not None:
            self._open["options"].insert(0 if "selected" in said else 99, said.get("value", ""))

    def handle_data(self, data):
        if self._open is not None and self._open["tag"] == "textarea":
            self._open["value"] = self._open.get("value", "") + data

    def handle_endtag(self, tag):
        if tag == "form":
            self._form = None
        elif tag in ("select", "textarea"):
            self._open = None


def _put(form, one):
    is_button = one["tag"] == "button" or one.get("type") == "submit"
    (form.buttons if is_button else form.fields).append(one)


class Club:
    """The people whose pages are gone through, and what is plausible in their forms."""

    def __init__(self, signed_in):
        made = make_placed_week()
        self.scene, self.monday, self._signed_in = made.scene, made.monday, signed_in
        doors = OF_ROLE | OF_PERSON
        self.there = {who: [address(one, self.scene) for one in sorted(PAGES) if who in doors[one]] for who in WHO}
        week = f"{made.monday:%G-W%V}"
        self.there["head_coach"].insert(0, f"/head-coach/week/{week}")
        self.there["coach"].insert(0, f"/coach/week/{week}")
        self.dead = {}

    def browser(self, who):
        return self._signed_in(getattr(self.scene, who), raise_request_exception=False)

    def pages(self, who) -> Iterator[Page]:
        """The pages of somebody: by the links, and those that the table of doors gives them."""
        browser, seen = self.browser(who), set()
        waiting = ["/", *self.there[who]]
        while waiting:
            place = waiting.pop(0)
            kind = _kind(place)
            if kind in seen or kind[0] in FILES:
                continue
            seen.add(kind)
            answer = browser.get(place)
            if answer.status_code in (301, 302):
                waiting.insert(0, answer["Location"])
            elif answer.status_code != 200 and place not in self.there[who]:
                self.dead[who, kind[0]] = place
            elif answer["Content-Type"].startswith("text/html"):
                page = Page(answer.content.decode(), place)
                waiting += page.links
                yield page

    def tries(self, name, form, button) -> Iterator[dict[str, list[object]]]:
        """What may be typed: all of it, or only what has to be."""
        for fills in (lambda one: True, lambda one: "required" in one):
            data = {"csrfmiddlewaretoken": ["sent by every form"]}
            for one in form.fields:
                if one.get("name") and one["name"] != "csrfmiddlewaretoken":
                    self._fill(data, one, fills(one))
            for key, value in self.plausible(name).items():
                if key in data or key in {one.get("name") for one in form.fields}:
                    data[key] = [value]
            if button.get("name"):
                data[button["name"]] = [button.get("value", "")]
            yield data

    def _fill(self, data, one, is_filled):
        name, kind, value = one["name"], one.get("type", "text"), one.get("value", "")
        if kind in ("radio", "checkbox"):
            if "checked" in one or (name not in data and is_filled):
                data[name] = ([] if kind == "radio" else data.get(name, [])) + [value or "on"]
        elif one["tag"] == "select":
            data[name] = [value or next((said for said in one["options"] if said or not is_filled), "")]
        elif kind != "file":
            data[name] = [value or (self._typed(one, kind) if is_filled else "")]

    def _typed(self, one, kind):
        day = self.monday.isoformat()
        return {
            "date": day, "datetime-local": f"{day}T18:00", "time": "18:00", "number": one.get("min") or "1",
            "tel": "085 555 0102", "email": "mor@example.org", "hidden": "",
        }.get(kind, "Words typed")  # fmt: skip

    def plausible(self, name):
        """Where no value is plausible by its kind alone: by the address, and by the field's name."""
        later = (self.monday + timedelta(days=400)).isoformat()
        files = {
            "roster-file-new": LIST, "coach-marks-file": MARKS, "head-coach-marks-file": MARKS,
            "calendar-file-read": CALENDAR.replace(b"{day}", f"{self.monday:%Y%m%d}".encode()),
        }  # fmt: skip
        said = {
            "my-password": {"old": PASSWORD, "new": "pewter kettle under oak", "again": "pewter kettle under oak"},
            "check-enter": {"seen_on": "2026-05-28", "expires_on": later},
            "coach-marks": {"time": "12.64", "wind": "", "run_on": "2026-05-28"},
            "head-coach-marks": {"time": "12.64", "wind": "", "run_on": "2026-05-28"},
            "group-hand-over": {"from_coach": self.scene.coach.pk, "to_coach": self.scene.other_coach.pk},
            "other-sport": dict.fromkeys(("starts", "ends", "other_day", "until"), ""),
            "person-join": {"first_day": self.monday.isoformat()},
            "period-set": {"days": "300"},
            "season-group": {"hard": "2", "style": "gentler"},
            "season-item": {"duration_min": "70"},
            "wording-new": {"question": "May a calendar address be made?", "change": "material"},
            "meet-result": {"time": "12.64"},
        }.get(name, {})
        return (
            {"home_country": "IE", "country": "IE", "relation": "mother"}
            | said
            | ({"file": SimpleUploadedFile("list.csv", files[name])} if name in files else {})
        )


def _kind(place):
    """Pages that differ by an id alone are one kind of page."""
    parts = urlsplit(place)
    try:
        found = resolve(parts.path)
    except Resolver404:
        return parts.path, frozenset(), ()
    words = {(key, said) for key, said in found.kwargs.items() if isinstance(said, str) and not re.search(r"\d", said)}
    return found.url_name, frozenset(words), tuple(sorted(parse_qs(parts.query)))


def rows() -> dict[str, int]:
    """How many rows each table has; one statement."""
    models = [
        one
        for one in apps.get_models(include_auto_created=True)
        if one.__module__.split(".")[0] in ("athletes", "sessions", "teamtrack") and one.__name__ not in TRACES
    ]
    counts = ", ".join(f'(SELECT count(*) FROM "{one._meta.db_table}")' for one in models)
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {counts}")
        return {one.__name__: count for one, count in zip(models, cursor.fetchone(), strict=True)}


def more(before, after):
    return {name: after[name] - before[name] for name in after if after[name] > before[name]}


class Sender:
    """Sends each kind of form once in earnest and once again; what it found by the name of the address."""

    def __init__(self, club):
        self.club, self.seen, self.again, self.to_do = club, set(), {}, []
        self.taken, self.refused = set(), set()

    def go_through(self, who):
        browser = self.club.browser(who)
        for page in self.club.pages(who):
            self._send_forms(browser, who, page)

    def _send_forms(self, browser, who, page):
        for form in page.forms:
            for button in (form.buttons or [{}]) if form.is_post else []:
                place = button.get("formaction") or form.action
                name = _kind(place)[0]
                kind = (name, frozenset(one.get("name") for one in form.fields), button.get("name"))
                if kind not in self.seen and name != "sign-out":
                    self.seen.add(kind)
                    self._send(browser, who, place, name, form, button)

    def _send(self, browser, who, place, name, form, button):
        """The first of the tries that is taken is sent twice; all of it is undone again."""
        for data in self.club.tries(name, form, button):
            with transaction.atomic():
                answer, after = _post(browser, place, data), rows()
                if is_taken := answer.status_code < 400:
                    second = _post(browser, place, data)
                    added = more(after, rows())
                transaction.set_rollback(True)
            assert answer.status_code < 500, (name, answer.status_code)
            if is_taken:
                assert second.status_code < 500, (name, second.status_code)
                self.again |= {name: added} if added else {}
                self.taken.add(name)
                self.to_do.append((who, place, name, data))
                return
        self.refused.add(name)

    def do_all(self):
        """What was tried is done, so that there is more to be seen; undo is offered on the page that it leads to."""
        to_do, self.to_do = self.to_do, []
        for who, place, name, data in to_do:
            if name not in ENDS:
                browser = self.club.browser(who)
                answer = _post(browser, place, data)
                if answer.status_code == 302:
                    shown = browser.get(answer["Location"])
                    self._send_forms(browser, who, Page(shown.content.decode(), answer["Location"]))


def _post(browser, place, data):
    for value in (one for said in data.values() for one in said if isinstance(one, SimpleUploadedFile)):
        value.seek(0)
    return browser.post(place, data)


def test_no_form_sent_twice_adds_anything_and_no_link_leads_nowhere(signed_in):
    sender = Sender(Club(signed_in))
    for _round in range(2):
        for who in WHO:
            sender.go_through(who)
        sender.do_all()
    assert len(sender.taken) > 120
    assert sender.again.keys() == MEANT_TO_ADD.keys(), sender.again
    assert sender.refused - sender.taken == REFUSED.keys()
    assert sender.club.dead == {}
