"""The Family page: where is my child, what changed, "not coming" with undo."""

from collections.abc import Callable
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from athletes.models import AccessLogEntry, Person
from sessions.models import Availability, Notice, TrainingSession
from teamtrack.common.clock import now_in, today_in
from tests.people import Scene, link_guardian, make_athlete, make_guardian, make_person, make_session

SignIn = Callable[[Person], Client]
FAMILY = "/guardian/family"


@pytest.fixture
def coming(scene: Scene) -> TrainingSession:
    """A technique session of tomorrow with both children of the guardian."""
    return make_session(
        scene.group,
        day=today_in(scene.club.timezone) + timedelta(days=1),
        coaches=(scene.coach,),
        helpers=(scene.helper,),
        athletes=(scene.athlete, scene.child),
        venue=scene.venue,
    )


def say(client: Client, training_session: TrainingSession, athlete: Person, state: str, **more: str) -> int:
    address = f"/guardian/sessions/{training_session.pk}/availability"
    return client.post(address, {"athlete": str(athlete.pk), "state": state, **more}).status_code


def state_of(athlete: Person) -> str | None:
    latest = Availability.objects.filter(athlete=athlete).order_by("said_at").last()
    return latest and latest.state


def test_each_childs_next_session_stands_with_time_and_place(
    scene: Scene, coming: TrainingSession, signed_in: SignIn
) -> None:
    text = signed_in(scene.guardian).get(FAMILY).content.decode()
    start = coming.starts_at.astimezone(now_in(scene.club.timezone).tzinfo)
    assert text.count(f"{start:%H:%M}–") >= 2
    assert text.count("Straight A") >= 2
    assert "Noela" in text
    assert "Ivo" in text
    assert "Tam" not in text


def test_a_withheld_or_unverified_guardian_sees_nothing(
    scene: Scene, coming: TrainingSession, signed_in: SignIn
) -> None:
    unverified = make_guardian(scene.child, "Uwe", authority="unverified")
    text = signed_in(unverified).get(FAMILY).content.decode()
    assert "Ivo" not in text
    assert "Straight A" not in text


def test_not_coming_is_kept_told_to_the_coaches_and_logged(
    scene: Scene, coming: TrainingSession, signed_in: SignIn
) -> None:
    client = signed_in(scene.guardian)
    assert say(client, coming, scene.child, "not_today") == 302
    assert state_of(scene.child) == "not_today"
    told = Notice.objects.filter(kind="not_coming", about=scene.child).values_list("to_id", flat=True)
    assert set(told) == {scene.coach.pk, scene.helper.pk}
    line = AccessLogEntry.objects.get(club=scene.club)
    assert (line.verb, line.kind, line.actor_role, line.fields) == (
        "record",
        "availability",
        "guardian",
        ["state", "option"],
    )
    assert "not coming" in client.get(FAMILY).content.decode()


def test_undo_is_offered_once_and_takes_the_notice_back(
    scene: Scene, coming: TrainingSession, signed_in: SignIn
) -> None:
    client = signed_in(scene.guardian)
    say(client, coming, scene.child, "not_today")
    shown = client.get(FAMILY).content.decode()
    assert shown.count("data-undo=") == 1
    assert "data-undo=" not in client.get(FAMILY).content.decode()
    assert say(client, coming, scene.child, "run", option="") == 302
    assert state_of(scene.child) == "run"
    assert not Notice.objects.filter(kind="not_coming").exists()


def test_undo_says_again_what_was_said_before(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    say(client, coming, scene.child, "modified", option="drills")
    client.get(FAMILY)
    say(client, coming, scene.child, "not_today")
    shown = client.get(FAMILY).content.decode()
    bar = shown[shown.index("data-undo=") :]
    assert 'name="state" value="modified"' in bar
    assert 'name="option" value="drills"' in bar


def test_a_coach_is_told_once_of_the_same_child(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    say(client, coming, scene.child, "not_today")
    say(client, coming, scene.child, "not_today")
    assert Notice.objects.filter(kind="not_coming", to=scene.coach).count() == 1


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"state": "not_today"},
        {"athlete": "nobody", "state": "run"},
        {"athlete": "CHILD"},
        {"athlete": "CHILD", "state": "ill"},
        {"athlete": "CHILD", "state": "modified"},
        {"athlete": "CHILD", "state": "run", "option": "drills"},
        {"athlete": "CHILD", "state": "modified", "option": "rest"},
    ],
)
def test_a_bad_word_changes_nothing_and_says_so(
    scene: Scene, coming: TrainingSession, signed_in: SignIn, fields: dict[str, str]
) -> None:
    if fields.get("athlete") == "CHILD":
        fields = fields | {"athlete": str(scene.child.pk)}
    response = signed_in(scene.guardian).post(f"/guardian/sessions/{coming.pk}/availability", fields)
    assert response.status_code == 400
    assert "Nothing was changed" in response.content.decode()
    assert not Availability.objects.exists()
    assert not Notice.objects.exists()


def test_what_is_over_or_called_off_takes_no_word(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    TrainingSession.objects.filter(pk=coming.pk).update(state="called_off")
    assert say(client, coming, scene.child, "not_today") == 400
    yesterday = today_in(scene.club.timezone) - timedelta(days=1)
    over = make_session(scene.group, day=yesterday, athletes=(scene.child,))
    assert say(client, over, scene.child, "not_today") == 400
    assert not Availability.objects.exists()


def test_only_about_ones_own_child_at_its_own_session(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    elsewhere = make_session(scene.other_group, day=coming.starts_at.date(), athletes=(scene.adult_athlete,))
    assert say(client, coming, scene.adult_athlete, "not_today") == 404
    assert say(client, coming, scene.stranger_athlete, "not_today") == 404
    assert say(client, elsewhere, scene.child, "not_today") == 404
    unverified = make_guardian(scene.child, "Uwe", authority="unverified")
    assert say(signed_in(unverified), coming, scene.child, "not_today") == 404
    assert say(signed_in(scene.care_guardian), coming, scene.child, "not_today") == 302
    assert Availability.objects.count() == 1


def test_a_change_is_shown_until_it_was_seen(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    TrainingSession.objects.filter(pk=coming.pk).update(change_words="18:00, was 17:00")
    notice = Notice.objects.create(
        club=scene.club,
        to=scene.guardian,
        kind="moved",
        training_session=coming,
        made_at=now_in(scene.club.timezone),
    )
    client = signed_in(scene.guardian)
    assert "18:00, was 17:00" in client.get(FAMILY).content.decode()
    assert signed_in(scene.care_guardian).post(f"/guardian/notices/{notice.pk}/seen").status_code == 404
    assert client.post(f"/guardian/notices/{uuid4()}/seen").status_code == 404
    assert client.post(f"/guardian/notices/{notice.pk}/seen").status_code == 302
    assert "18:00, was 17:00" not in client.get(FAMILY).content.decode()
    assert client.post(f"/guardian/notices/{notice.pk}/seen").status_code == 302
    assert AccessLogEntry.objects.filter(club=scene.club, verb="seen").count() == 1


def test_a_helper_under_18_is_no_number_to_call(scene: Scene, coming: TrainingSession, signed_in: SignIn) -> None:
    Person.objects.filter(pk=scene.helper.pk).update(phone="+353 1 555 0101")
    Person.objects.filter(pk=scene.coach.pk).update(phone="+353 1 555 0102")
    text = signed_in(scene.guardian).get(FAMILY).content.decode()
    assert "555 0102" in text
    assert "555 0101" not in text


def test_number_of_queries_does_not_grow_with_children_or_sessions(scene: Scene, signed_in: SignIn) -> None:
    counts = []
    for size in (0, 3, 30):
        guardian = make_guardian(make_person(scene.club, "Adult", age=20), f"Guardian{size}")
        children = [make_athlete(scene.club, f"Kid{n}", scene.group, age=10, account=False) for n in range(size)]
        for child in children:
            link_guardian(guardian, child)
        if children:
            day = today_in(scene.club.timezone) + timedelta(days=2)
            make_session(scene.group, day=day, athletes=tuple(children), coaches=(scene.coach,), venue=scene.venue)
        client = signed_in(guardian)
        client.get(FAMILY)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(FAMILY).status_code == 200
        counts.append(len(queries))
    assert len(set(counts[1:])) == 1
    assert counts[0] <= counts[1]


def test_the_week_on_paper_says_who_printed_it_and_when_it_goes(scene: Scene, signed_in: SignIn) -> None:
    text = signed_in(scene.guardian).get(FAMILY).content.decode()
    goes = today_in(scene.club.timezone) + timedelta(days=8)
    assert f"by Greta Tester. Destroy after {goes.day} {goes:%b %Y}." in text
