"""One's own calendar address: who is told what there, what changes, and that it dies with the yes."""

from datetime import timedelta
from uuid import UUID

import pytest
from django.test import Client
from icalendar import Calendar

from athletes.models import AccessLogEntry, Account, StaffRole, Withholding
from athletes.models.people import Guardianship
from sessions.models import CalendarAddress, CalendarLine, SessionAthlete, SessionCoach, TrainingSession
from sessions.services import calendar_addresses
from sessions.services.calendar_addresses import hash_of, make_calendar_address
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Refused
from teamtrack.common.logs import JsonLine
from tests.core.calendar_files.readers import read_by_all
from tests.people import answer, make_guardian, make_session

pytestmark = pytest.mark.django_db
UNKNOWN = "/calendar/AAAAAAAAAAAAAAAAAAAAAAAAAAA.ics"


def say_yes(scene) -> None:
    """Noela for herself, her guardian for the child under the digital age."""
    answer(scene.athlete, scene.athlete, "feed", names=(scene.athlete, scene.guardian))
    answer(scene.child, scene.guardian, "feed", names=(scene.child, scene.guardian, scene.care_guardian))


def address_of(person, role, as_role) -> str:
    return f"/calendar/{make_calendar_address(viewer=as_role(person, role))}.ics"


def events_at(place, **headers) -> dict[str, object]:
    found = Client().get(place, headers=headers)
    assert found.status_code == 200, found.content
    assert found["Content-Type"] == "text/calendar; charset=utf-8"
    return {str(one["UID"]): one for one in Calendar.from_ical(found.content).walk("VEVENT")}


def only(events):
    [event] = events.values()
    return event


def forget_fetches() -> None:
    CalendarAddress.objects.update(hour_began_at=None, answers=0, told_state="")


def test_an_athletes_calendar_tells_kind_time_and_place(scene, as_role) -> None:
    say_yes(scene)
    event = only(events_at(address_of(scene.athlete, "athlete", as_role)))
    assert (event["SUMMARY"], event["LOCATION"], event["STATUS"]) == ("Technique", scene.venue.name, "CONFIRMED")
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (
        scene.training_session.starts_at,
        scene.training_session.ends_at,
    )
    assert event["SEQUENCE"] == 0
    assert set(event) == {
        "UID", "DTSTAMP", "LAST-MODIFIED", "SEQUENCE", "DTSTART", "DTEND", "STATUS", "SUMMARY", "LOCATION"
    }  # fmt: skip


def test_a_guardians_calendar_adds_the_own_childs_first_name_and_nobody_elses(scene, as_role) -> None:
    say_yes(scene)
    place = address_of(scene.guardian, "guardian", as_role)
    assert sorted(str(one["SUMMARY"]) for one in events_at(place).values()) == ["Ivo: technique", "Noela: technique"]
    text = Client().get(place).content.decode()
    for name in ("Tester", "Tam", "Rona", "Sprint", scene.club.name):
        assert name not in text, name


def test_who_coaches_has_what_they_lead(scene, as_role) -> None:
    for who in (scene.coach, scene.helper):
        assert only(events_at(address_of(who, "coach", as_role)))["SUMMARY"] == "Technique"
    SessionCoach.objects.filter(coach=scene.coach).update(taken_off_at=utc_now())
    forget_fetches()
    assert events_at(address_of(scene.coach, "coach", as_role)) != {}, "told before: now as cancelled"
    assert only(events_at(address_of(scene.coach, "coach", as_role)))["STATUS"] == "CANCELLED"


def test_nothing_before_a_yes_and_the_page_says_so(scene, signed_in, as_role) -> None:
    with pytest.raises(Refused):
        make_calendar_address(viewer=as_role(scene.athlete, "athlete"))
    browser = signed_in(scene.athlete)
    assert "as if it did not exist" in browser.get("/calendar").content.decode()
    assert browser.post("/calendar/make").status_code == 400
    assert not CalendarAddress.objects.exists()


@pytest.mark.parametrize(
    "end",
    [
        lambda scene: answer(scene.child, scene.guardian, "feed", "withdrawn"),
        lambda scene: answer(scene.child, scene.child, "feed", "no"),
        lambda scene: Guardianship.objects.update(authority="limited"),
        lambda scene: Withholding.objects.create(
            club=scene.club, athlete=scene.child, guardian=scene.guardian, set_by=scene.welfare,
            first_day=scene.training_session.starts_at.date(),
        ),
        lambda scene: Account.objects.update(is_active=False),
        lambda scene: CalendarAddress.objects.update(stopped_at=utc_now()),
    ],
    ids=["withdrawn", "the child's no", "authority limited", "withheld", "account ended", "stopped"],
)  # fmt: skip
def test_it_dies_at_once_and_looks_like_one_that_never_was(scene, as_role, end) -> None:
    say_yes(scene)
    answer(scene.athlete, scene.athlete, "feed", "no")
    place = address_of(scene.guardian, "guardian", as_role)
    known = Client().get(place)
    end(scene)
    dead, unknown = Client().get(place), Client().get(UNKNOWN)
    again = Client().get(place, headers={"If-None-Match": known["ETag"]})
    assert dead.status_code == again.status_code == unknown.status_code == 404
    assert dead.content == again.content == unknown.content
    assert dict(dead.headers) == dict(again.headers) == dict(unknown.headers)


def test_the_page_is_there_after_a_withdrawal_to_stop_the_address(scene, signed_in, as_role) -> None:
    say_yes(scene)
    place = address_of(scene.athlete, "athlete", as_role)
    answer(scene.athlete, scene.athlete, "feed", "withdrawn")
    browser = signed_in(scene.athlete)
    page = browser.get("/calendar")
    assert page.status_code == 200
    assert "Stop it" in page.content.decode()
    assert Client().get(place).status_code == 404
    assert browser.post("/calendar/stop").status_code == 302
    assert not CalendarAddress.objects.filter(stopped_at=None).exists()
    assert [line.verb for line in AccessLogEntry.objects.filter(kind="calendar_address").order_by("seq")] == [
        "made", "stop"
    ]  # fmt: skip


def test_the_address_is_shown_once_kept_hashed_and_a_new_one_ends_it(scene, signed_in) -> None:
    say_yes(scene)
    browser = signed_in(scene.athlete)
    shown = [browser.post("/calendar/make").context["secret_address"] for _ in range(2)]
    secrets = [one.rsplit("/", 1)[1].removesuffix(".ics") for one in shown]
    assert all(len(secret) * 6 >= 160 for secret in secrets)
    assert secrets[1] not in browser.get("/calendar").content.decode()
    assert [Client().get(one).status_code for one in shown] == [404, 200]
    kept = CalendarAddress.objects.get(stopped_at=None)
    assert kept.secret_hash == hash_of(secrets[1])
    assert secrets[1] not in str(kept.__dict__)


def test_what_changes_counts_up_and_what_is_called_off_stays_thirty_days(scene, as_role, monkeypatch) -> None:
    say_yes(scene)
    place = address_of(scene.athlete, "athlete", as_role)
    first = only(events_at(place))
    session = TrainingSession.objects.get(pk=scene.training_session.pk)
    session.starts_at, session.ends_at = session.starts_at + timedelta(days=1), session.ends_at + timedelta(days=1)
    session.save()
    moved = only(events_at(place))
    assert (moved["UID"], moved["SEQUENCE"]) == (first["UID"], 1)
    assert moved["LAST-MODIFIED"].dt >= first["LAST-MODIFIED"].dt
    assert only(events_at(place))["SEQUENCE"] == 1
    session.state = "called_off"
    session.save(update_fields=["state"])
    off = only(events_at(place))
    assert (off["UID"], off["SEQUENCE"], off["STATUS"]) == (first["UID"], 2, "CANCELLED")
    forget_fetches()
    session.state = "published"
    session.save(update_fields=["state"])
    assert (only(events_at(place))["STATUS"], only(events_at(place))["SEQUENCE"]) == ("CONFIRMED", 3)
    forget_fetches()
    SessionAthlete.objects.filter(athlete=scene.athlete).delete()
    assert only(events_at(place))["STATUS"] == "CANCELLED"
    for days, left in ((29, 1), (30, 0)):
        CalendarLine.objects.update(cancelled_at=utc_now() - timedelta(days=days, minutes=1 if days == 30 else 0))
        forget_fetches()
        assert len(events_at(place)) == left, days


def test_numbers_go_on_when_the_address_is_made_anew(scene, as_role) -> None:
    say_yes(scene)
    before = only(events_at(address_of(scene.athlete, "athlete", as_role)))
    SessionAthlete.objects.filter(athlete=scene.athlete).update(comes="away")
    after = only(events_at(address_of(scene.athlete, "athlete", as_role)))
    assert (before["UID"], before["SEQUENCE"], after["SEQUENCE"]) == (after["UID"], 0, 1)


CHANGES = {
    "a session saved": lambda scene: TrainingSession.objects.get(pk=scene.training_session.pk).save(),
    "many written at once": lambda scene: TrainingSession.objects.update(place="Elsewhere"),
    "a roster": lambda scene: SessionAthlete.objects.filter(athlete=scene.athlete).delete(),
    "a new session": lambda scene: make_session(scene.group, athletes=(scene.athlete,)),
    "a venue's name": lambda scene: (setattr(scene.venue, "name", "Straight Z"), scene.venue.save()),
    "a coach taken off": lambda scene: SessionCoach.objects.update(taken_off_at=utc_now()),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_unchanged_is_answered_without_reading_a_session(scene, as_role, django_assert_max_num_queries, change) -> None:
    say_yes(scene)
    place = address_of(scene.guardian, "guardian", as_role)
    state = Client().get(place)["ETag"]
    SessionAthlete.objects.filter(athlete=scene.athlete).update(seen_at=utc_now())
    with django_assert_max_num_queries(10) as made:
        same = Client().get(place, headers={"If-None-Match": state})
    assert (same.status_code, same.content, same["ETag"]) == (304, b"", state)
    asked = " ".join(query["sql"] for query in made.captured_queries)
    assert not [table for table in ("training_trainingsession", "training_sessionathlete") if table in asked]
    change(scene)
    assert Client().get(place, headers={"If-None-Match": state}).status_code == 200


def test_the_club_may_leave_out_the_place(scene, signed_in, as_role) -> None:
    say_yes(scene)
    place = address_of(scene.athlete, "athlete", as_role)
    state = Client().get(place)["ETag"]
    assert signed_in(scene.athlete).post("/calendar/venue", {"hides_venue": "yes"}).status_code == 404
    head = signed_in(scene.head_coach)
    assert head.post("/calendar/venue", {}).status_code == 400
    assert head.post("/calendar/venue", {"hides_venue": "yes"}).status_code == 302
    assert "Undo" in head.get("/calendar").content.decode()
    told = Client().get(place, headers={"If-None-Match": state})
    assert told.status_code == 200
    assert b"LOCATION" not in told.content
    assert scene.venue.name.encode() not in told.content


def test_too_often_is_refused_and_not_changed_is_free(scene, as_role) -> None:
    say_yes(scene)
    place = address_of(scene.athlete, "athlete", as_role)
    statuses = [Client().get(place).status_code for _ in range(calendar_addresses.MOST_ANSWERS + 1)]
    assert statuses == [200] * calendar_addresses.MOST_ANSWERS + [429]
    refused = Client().get(place)
    assert 0 < int(refused["Retry-After"]) <= 3600
    CalendarAddress.objects.update(hour_began_at=utc_now() - timedelta(hours=1))
    state = Client().get(place)["ETag"]
    assert {Client().get(place, headers={"If-None-Match": state}).status_code for _ in range(12)} == {304}


def test_a_coach_who_left_finds_nothing(scene, as_role) -> None:
    place = address_of(scene.coach, "coach", as_role)
    StaffRole.objects.filter(person=scene.coach).delete()
    assert Client().get(place).status_code == 404


def test_answers_are_nobodys_to_keep_and_secrets_stay_out_of_the_log(scene, as_role, caplog) -> None:
    say_yes(scene)
    place = address_of(scene.athlete, "athlete", as_role)
    found = Client().get(place)
    assert found["Cache-Control"] == "private, no-cache"
    assert (found["X-Robots-Tag"], found["Referrer-Policy"]) == ("noindex", "no-referrer")
    CalendarAddress.objects.update(stopped_at=utc_now())
    Client().get(place)
    secret = place.removeprefix("/calendar/").removesuffix(".ics")
    assert caplog.records
    assert secret not in "".join(JsonLine().format(record) for record in caplog.records)


def test_another_guardians_calendar_has_the_same_ids(scene, as_role) -> None:
    say_yes(scene)
    other = make_guardian(scene.child, "Gero")
    answer(scene.child, scene.guardian, "feed", names=(scene.child, scene.guardian, other))
    mine = events_at(address_of(scene.guardian, "guardian", as_role))
    theirs = events_at(address_of(other, "guardian", as_role))
    assert theirs.keys() < mine.keys()
    assert all(UUID(uid).version == 5 for uid in mine)


def test_four_readers_read_the_answer_alike(scene, as_role) -> None:
    say_yes(scene)
    for number in range(30):
        day = scene.training_session.starts_at.date() + timedelta(days=7 * number)
        make_session(scene.group, day=day, athletes=(scene.athlete,))
    text = Client().get(address_of(scene.athlete, "athlete", as_role)).content.decode()
    first, *others = read_by_all(text)
    assert len(first) == 31
    assert all(read == first for read in others)
