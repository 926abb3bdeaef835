"""Calendar files read into the training calendar: a look, then done, then undone; newer files change what moved."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils.html import strip_tags

from athletes.models import AccessLogEntry, Squad, SquadMembership
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.models import BusyTime, CalendarItem, CalendarReading, SessionAthlete, TrainingSession, VenueClosing
from sessions.selectors.planned_people import planned_people
from sessions.selectors.planned_places import planned_venues
from teamtrack.common.clock import today_in

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("Europe/Dublin")


@pytest.fixture
def head(scene, signed_in):
    return signed_in(scene.head_coach)


def day(scene, ahead: int) -> date:
    return today_in(scene.club.timezone) + timedelta(days=ahead)


def event(uid: str, starts: datetime | date, *lines: str, hours: int = 6, title: str = "Frostfield open") -> str:
    if isinstance(starts, datetime):
        when = [f"DTSTART;TZID=Europe/Dublin:{starts:%Y%m%dT%H%M%S}", f"DURATION:PT{hours}H"]
    else:
        when = [f"DTSTART;VALUE=DATE:{starts:%Y%m%d}"]
    return "\r\n".join(["BEGIN:VEVENT", f"UID:{uid}", f"SUMMARY:{title}", *when, *lines, "END:VEVENT", ""])


def at(day: date, hour: int) -> datetime:
    return datetime(day.year, day.month, day.day, hour)


def look(browser, *events: str, role="head-coach", name="fixtures.ics", **said):
    data = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{''.join(events)}END:VCALENDAR\r\n".encode()
    file = SimpleUploadedFile(name, data, content_type="text/calendar")
    return browser.post(f"/{role}/calendar-files/read", {"file": file, "becomes": "meets"} | said)


def read(browser, *events: str, **said) -> CalendarReading:
    """Look at a file and do what it asks for."""
    place = look(browser, *events, **said)["Location"]
    assert browser.post(f"{place}/do").status_code == 302
    return CalendarReading.objects.get(pk=place.rsplit("/", 1)[1])


def meets() -> list[tuple[str, str, str]]:
    rows = TrainingSession.objects.filter(kind="meet").order_by("starts_at")
    return [(row.title, f"{row.starts_at.astimezone(ZONE):%H:%M}", row.state) for row in rows]


def test_a_look_changes_nothing_then_it_is_done_and_undone(scene, head) -> None:
    group = str(scene.group.pk)
    answered = look(
        head,
        event("a", at(day(scene, 9), 10), "LOCATION:Frostfield Hall"),
        event("b", at(day(scene, -9), 10)),
        event("c", at(day(scene, 9), 9), "RRULE:FREQ=HOURLY", title="Bad"),
        groups=[group],
    )
    place = answered["Location"]
    page = head.get(place).content.decode()
    for words in (
        "Read 2 events",
        "refused 1",
        "Bad",
        "more often than once a day",
        "Do this change",
        "Frostfield Hall",
    ):
        assert words in page, words
    assert meets() == []
    assert head.post(f"{place}/do").status_code == 302
    assert "1 change is done" in head.get(place).content.decode()
    assert head.post(f"{place}/do").status_code == 302, "twice does no more"
    assert meets() == [("Frostfield open", "10:00", "published")]
    made = TrainingSession.objects.get(kind="meet")
    assert (made.place, made.importance, [one.pk for one in made.groups.all()]) == (
        "Frostfield Hall", "ordinary", [scene.group.pk]
    )  # fmt: skip
    for _ in range(2):
        assert head.post(f"{place}/take-back").status_code == 302
    assert meets() == []
    assert not CalendarItem.objects.exists()
    verbs = AccessLogEntry.objects.filter(kind__startswith="calendar").order_by("seq").values_list("verb", flat=True)
    assert list(verbs) == ["read", "change", "take_back"]


def test_a_newer_file_moves_and_calls_off_and_an_older_one_changes_nothing(scene, head) -> None:
    group = str(scene.group.pk)
    first, second = at(day(scene, 9), 10), at(day(scene, 16), 11)
    read(head, event("a", first), event("b", second, title="League"), groups=[group])
    SessionAthlete.objects.create(
        club=scene.club, training_session=TrainingSession.objects.get(title="League"), athlete=scene.athlete
    )
    newer = read(
        head,
        event("a", first + timedelta(hours=2), "SEQUENCE:1"),
        event("b", second, "SEQUENCE:1", "STATUS:CANCELLED", title="League"),
        groups=[group],
    )
    assert meets() == [("Frostfield open", "12:00", "published"), ("League", "11:00", "called_off")]
    older = look(head, event("a", first), groups=[group])
    assert "all of it stands in the calendar already" in head.get(older["Location"]).content.decode()
    head.post(f"/head-coach/calendar-files/{newer.pk}/take-back")
    assert meets() == [("Frostfield open", "10:00", "published"), ("League", "11:00", "published")]


def test_undo_leaves_what_somebody_changed_or_is_entered_in(scene, head) -> None:
    reading = read(
        head, event("a", at(day(scene, 9), 10)), event("b", at(day(scene, 16), 10)), groups=[str(scene.group.pk)]
    )
    first, second = TrainingSession.objects.filter(kind="meet").order_by("starts_at")
    SessionAthlete.objects.create(club=scene.club, training_session=first, athlete=scene.athlete)
    second.title = "Renamed"
    second.save()
    head.post(f"/head-coach/calendar-files/{reading.pk}/take-back")
    assert [title for title, _, _ in meets()] == ["Frostfield open", "Renamed"]
    assert "2 stay" in head.get(f"/head-coach/calendar-files/{reading.pk}").content.decode()


def test_a_calendar_that_changed_since_the_look_is_looked_at_again(scene, head) -> None:
    group = str(scene.group.pk)
    read(head, event("a", at(day(scene, 9), 10)), groups=[group])
    waiting = look(head, event("a", at(day(scene, 9), 15)), groups=[group])["Location"]
    TrainingSession.objects.filter(kind="meet").update(title="By hand")
    answered = head.post(f"{waiting}/do")
    assert answered.status_code == 409
    assert "read the file again" in answered.content.decode()
    assert meets() == [("By hand", "10:00", "published")]
    assert CalendarReading.objects.get(pk=waiting.rsplit("/", 1)[1]).state == "looked_at"


def test_a_meet_of_whole_days_is_one_a_day_in_the_hours_of_a_meet(scene, head) -> None:
    first = day(scene, 9)
    read(head, event("a", first, f"DTEND;VALUE=DATE:{first + timedelta(days=2):%Y%m%d}"), groups=[str(scene.group.pk)])
    assert meets() == [("Frostfield open", "09:00", "published")] * 2


def test_closed_hours_close_the_venue_for_the_planner(scene, head, as_role) -> None:
    shut = day(scene, 8)
    reading = read(head, event("a", shut, title="Show"), becomes="closed", venue=str(scene.venue.pk))
    closing = VenueClosing.objects.get()
    assert (closing.venue, closing.reason) == (scene.venue, "Show")
    week = IsoWeek(monday_of(shut), ZONE)
    assert closing.starts_at == week.at(shut, datetime.min.time())
    viewer = as_role(scene.head_coach, "head_coach")
    hours = planned_venues(viewer=viewer, week=week)[scene.venue.pk].hours
    assert all(end <= closing.starts_at or start >= closing.ends_at for start, end in hours)
    head.post(f"/head-coach/calendar-files/{reading.pk}/take-back")
    assert not VenueClosing.objects.exists()


def test_busy_hours_keep_a_squad_from_training(scene, head, as_role) -> None:
    squad = Squad.objects.create(club=scene.club, name="School team")
    SquadMembership.objects.create(club=scene.club, squad=squad, athlete=scene.athlete, first_day=date(2020, 1, 1))
    school = day(scene, 8)
    lesson = event("s", at(school, 8), "RRULE:FREQ=WEEKLY;COUNT=2", hours=7, title="School")
    read(head, lesson, becomes="busy", squad=str(squad.pk))
    assert BusyTime.objects.count() == 2
    week = IsoWeek(monday_of(school), ZONE)
    found = planned_people(viewer=as_role(scene.head_coach, "head_coach"), week=week)
    span = (at(school, 8).replace(tzinfo=ZONE), at(school, 15).replace(tzinfo=ZONE))
    assert found.unavailable == {scene.athlete.pk: [span]}
    read(head, lesson.replace("UID:s", "UID:all"), becomes="busy", squad="")
    found = planned_people(viewer=as_role(scene.head_coach, "head_coach"), week=week)
    assert set(found.unavailable) == {scene.athlete.pk, scene.child.pk, scene.adult_athlete.pk}
    assert set(map(tuple, found.unavailable.values())) == {(span,)}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"groups": []}, "Choose the groups"),
        ({"becomes": "closed"}, "Choose the venue"),
        ({"becomes": "x"}, "valid choice"),
    ],
)
def test_what_is_missing_is_told(scene, head, said, words) -> None:
    answered = look(head, event("a", at(day(scene, 9), 10)), **{"groups": [str(scene.group.pk)], **said})
    assert answered.status_code == 400
    assert words in answered.content.decode()
    assert not CalendarReading.objects.exists()


def test_no_calendar_is_refused_in_words(scene, head) -> None:
    file = SimpleUploadedFile("roster.csv", b"Name;Born\r\n")
    said = {"file": file, "becomes": "meets", "groups": [str(scene.group.pk)]}
    answered = head.post("/head-coach/calendar-files/read", said)
    assert answered.status_code == 400
    assert "This is no calendar file" in answered.content.decode()


def test_a_coach_reads_meets_of_the_own_groups_alone(scene, signed_in) -> None:
    coach, other = signed_in(scene.coach), signed_in(scene.other_coach)
    lines = event("a", at(day(scene, 9), 10))
    assert look(coach, lines, role="coach", groups=[str(scene.other_group.pk)]).status_code == 400
    assert look(coach, lines, role="coach", becomes="closed", venue=str(scene.venue.pk)).status_code == 400
    reading = read(coach, lines, role="coach", groups=[str(scene.group.pk)])
    assert len(meets()) == 1
    assert other.get(f"/coach/calendar-files/{reading.pk}").status_code == 404
    assert signed_in(scene.head_coach).get(f"/head-coach/calendar-files/{reading.pk}").status_code == 200
    for who in (scene.helper, scene.athlete, scene.admin):
        assert signed_in(who).get("/coach/calendar-files").status_code == 404


def test_events_without_an_id_stay_apart_and_odd_values_do_no_harm(scene, head) -> None:
    odd = ("SEQUENCE:-5", "LOCATION:Hall\\nA" + "x" * 300)
    lines = event("", at(day(scene, 9), 10), *odd) + event("", at(day(scene, 10), 10), "SEQUENCE:2147483647")
    nul = event("u" * 400, at(day(scene, 11), 10), title="Le\x00ague")
    read(head, lines.replace("UID:\r\n", ""), nul, groups=[str(scene.group.pk)])
    assert len(meets()) == 3
    again = look(head, lines.replace("UID:\r\n", ""), nul, groups=[str(scene.group.pk)])
    assert "all of it stands in the calendar already" in head.get(again["Location"]).content.decode()


def test_what_was_read_and_what_was_refused_is_said_with_the_reason(scene, head) -> None:
    """A bad event in the middle, one without an id, added periods (RFC 5545, 3.8.5.2), one of them of no known zone."""
    start = at(day(scene, 9), 10)
    period = f"{at(day(scene, 12), 10):%Y%m%dT%H%M%S}/PT3H"
    answered = look(
        head,
        event("first", start),
        event("bad", at(day(scene, 10), 10), title="Broken").replace("DTSTART", "DTSTART:nonsense\r\nX-OLD"),
        event("", at(day(scene, 11), 10)).replace("UID:\r\n", ""),
        event("added", at(day(scene, 11), 15), f"RDATE;VALUE=PERIOD:{period}", title="Evening run"),
        event("nowhere", at(day(scene, 11), 17), f"RDATE;VALUE=PERIOD;TZID=Moon/Base:{period}", title="Far away"),
        groups=[str(scene.group.pk)],
    )
    page = " ".join(strip_tags(head.get(answered["Location"]).content.decode()).split())
    for words in (
        "Read 3 events, refused 2.", "1 of them has no id", "Event 2 “Broken”: a time or a repeat in it cannot be read",
        "Event 5 “Far away”: its time zone is not known", "Do these 4 changes",
    ):  # fmt: skip
        assert words in page, words
    assert f"{day(scene, 12):%a} {day(scene, 12).day}" in page
    row = CalendarReading.objects.get()
    row.refused = [{"number": n, "title": f"Run {n}", "because": "too_many_events"} for n in range(2001, 2101)]
    row.save()
    page = " ".join(strip_tags(head.get(answered["Location"]).content.decode()).split())
    assert "refused 100." in page and "Run 2050" in page and "Run 2051" not in page
    assert "50 more: the file holds more than 2,000 events" in page
