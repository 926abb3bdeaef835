"""The permissions page: one question a purpose, yes and no alike, a stop that acts on the next request."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape

from athletes.access import answers_for
from athletes.core.permissions import Code
from athletes.models import AccessLogEntry, PermissionEvent, Person, Wording
from athletes.permission_words import sentence_for
from athletes.viewer import viewer_for
from tests.people import Scene, answer, link_guardian, make_athlete, make_group, make_guardian, make_person

SignIn = Callable[[Person], Client]


def page_of(child: Person) -> str:
    return f"/guardian/permissions/{child.pk}"


def post(client: Client, role: str, athlete: Person, what: str, **fields: object) -> int:
    return client.post(f"/{role}/permissions/{athlete.pk}/{what}", fields).status_code


def may_coach_read_health(scene: Scene, athlete: Person) -> bool:
    viewer = viewer_for(scene.coach, "coach")
    return answers_for(viewer=viewer, athletes=[athlete], purposes=["health"]).may(athlete.pk, "health")


def test_each_optional_purpose_is_one_question_with_yes_and_no_alike(scene: Scene, signed_in: SignIn) -> None:
    text = signed_in(scene.guardian).get(page_of(scene.child)).content.decode()
    for purpose in ("health", "share", "feed"):
        wording = Wording.objects.get(club=scene.club, purpose=purpose, child_level=False)
        assert text.count(wording.question) == 1
    yes = text.count('<button class="press press-plain" name="answer" value="yes"')
    no = text.count('<button class="press press-plain" name="answer" value="no"')
    assert (yes, no) == (3, 3)
    assert "checked" not in text


def test_a_guardians_yes_opens_health_to_the_coaches_of_the_groups(scene: Scene, signed_in: SignIn) -> None:
    assert not may_coach_read_health(scene, scene.child)
    assert post(signed_in(scene.guardian), "guardian", scene.child, "answer", purpose="health", answer="yes") == 302
    assert may_coach_read_health(scene, scene.child)
    event = PermissionEvent.objects.get()
    assert {row.person_id for row in event.recipients.all()} == {scene.coach.pk, scene.second_coach.pk}
    assert (event.capacity, event.evidence, event.entered_by_id) == ("guardian", 2, scene.guardian.pk)


def test_a_stop_acts_on_the_next_request_and_can_be_undone(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    post(client, "guardian", scene.child, "answer", purpose="health", answer="yes")
    assert post(client, "guardian", scene.child, "stop", purpose="health") == 302
    assert not may_coach_read_health(scene, scene.child)
    shown = client.get(page_of(scene.child)).content.decode()
    assert "data-undo" in shown
    stopped = PermissionEvent.objects.get(answer="withdrawn")
    assert post(client, "guardian", scene.child, "take-back", event=stopped.pk) == 302
    assert may_coach_read_health(scene, scene.child)


def test_undoing_a_first_yes_ends_in_a_stop(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    post(client, "guardian", scene.child, "answer", purpose="health", answer="yes")
    post(client, "guardian", scene.child, "take-back", event=PermissionEvent.objects.get().pk)
    assert [event.answer for event in PermissionEvent.objects.order_by("at")] == ["yes", "withdrawn"]
    assert not may_coach_read_health(scene, scene.child)


def test_only_ones_own_latest_answer_is_undone(scene: Scene, signed_in: SignIn) -> None:
    older = answer(scene.child, scene.guardian, "health", "no")
    client = signed_in(scene.guardian)
    post(client, "guardian", scene.child, "answer", purpose="health", answer="yes")
    assert post(client, "guardian", scene.child, "take-back", event=older.pk) == 404
    other = make_guardian(scene.child, "Gus")
    theirs = answer(scene.child, other, "share", "no")
    assert post(client, "guardian", scene.child, "take-back", event=theirs.pk) == 404
    assert PermissionEvent.objects.count() == 3


def test_the_first_no_is_undone_to_no_yes(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    post(client, "guardian", scene.child, "answer", purpose="feed", answer="no")
    post(client, "guardian", scene.child, "take-back", event=PermissionEvent.objects.get().pk)
    assert not PermissionEvent.objects.filter(answer="yes").exists()


def test_every_answer_leaves_its_line_in_the_access_log(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    post(client, "guardian", scene.child, "answer", purpose="health", answer="yes")
    post(client, "guardian", scene.child, "stop", purpose="health")
    lines = AccessLogEntry.objects.filter(club=scene.club).values_list("verb", "kind", "code", "actor_role")
    assert list(lines.order_by("seq")) == [
        ("yes", "health", "GUARDIAN_PART", "guardian"),
        ("withdrawn", "health", "STOP_NOW", "guardian"),
    ]


def test_an_athlete_sees_what_all_answers_make_of_it(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.athlete)
    post(client, "athlete", scene.athlete, "answer", purpose="health", answer="yes")
    text = client.get("/athlete/permissions").content.decode()
    assert escape(sentence_for(Code.NO_GUARDIAN_CONSENT, to_child=True)) in text
    assert Wording.objects.get(club=scene.club, purpose="health", child_level=True).question in text


def test_a_guardian_never_sees_the_other_guardians_answer(scene: Scene, signed_in: SignIn) -> None:
    other = make_guardian(scene.child, "Gus")
    before = signed_in(scene.guardian).get(page_of(scene.child)).content.decode()
    answer(scene.child, other, "health", "no")
    after = signed_in(scene.guardian).get(page_of(scene.child)).content.decode()
    token = '<input type="hidden" name="csrfmiddlewaretoken" value="'

    def without_tokens(text: str) -> list[str]:
        return [line for line in text.splitlines() if token not in line and "X-CSRFToken" not in line]

    assert without_tokens(after) == without_tokens(before)


def test_a_carer_reads_the_questions_and_may_not_answer(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.care_guardian)
    text = client.get(page_of(scene.child)).content.decode()
    assert 'name="answer"' not in text
    assert post(client, "guardian", scene.child, "answer", purpose="health", answer="yes") == 400
    assert not PermissionEvent.objects.exists()


def test_a_carers_wish_to_stop_is_noted_and_decides_nothing(scene: Scene, signed_in: SignIn) -> None:
    post(signed_in(scene.guardian), "guardian", scene.child, "answer", purpose="health", answer="yes")
    client = signed_in(scene.care_guardian)
    assert post(client, "guardian", scene.child, "stop", purpose="health") == 302
    assert "Your wish is noted" in client.get(page_of(scene.child)).content.decode()
    wish = PermissionEvent.objects.get(giver=scene.care_guardian)
    assert (wish.answer, wish.capacity) == ("withdrawn", "guardian")
    assert AccessLogEntry.objects.filter(code="GUARDIAN_NO_AUTHORITY", verb="withdrawn", kind="health").count() == 1
    assert may_coach_read_health(scene, scene.child)


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"purpose": "health"},
        {"purpose": "health", "answer": "withdrawn"},
        {"purpose": "health", "answer": "maybe"},
        {"purpose": "ranking", "answer": "yes"},
        {"purpose": "feedback", "answer": "yes"},
        {"purpose": "record", "answer": "yes"},
        {"purpose": "share", "answer": "yes"},
        {"purpose": "share", "answer": "yes", "recipients": "nobody"},
        {"purpose": "health\x00", "answer": "yes"},
    ],
)
def test_a_bad_answer_changes_nothing_and_says_so(scene: Scene, signed_in: SignIn, fields: dict[str, object]) -> None:
    response = signed_in(scene.guardian).post(f"/guardian/permissions/{scene.child.pk}/answer", fields)
    assert response.status_code == 400
    assert "notice-person" in response.content.decode()
    assert not PermissionEvent.objects.exists()
    assert not AccessLogEntry.objects.filter(club=scene.club).exists()


def test_a_yes_to_share_names_coaches_and_keeps_what_was_chosen(scene: Scene, signed_in: SignIn) -> None:
    client = signed_in(scene.guardian)
    address = f"/guardian/permissions/{scene.child.pk}/answer"
    own = {"purpose": "share", "answer": "yes", "recipients": [str(scene.other_coach.pk), str(scene.coach.pk)]}
    refused = client.post(address, own)
    assert refused.status_code == 400
    assert f'value="{scene.other_coach.pk}" checked' in refused.content.decode()
    good = client.post(address, own | {"recipients": [str(scene.other_coach.pk)]})
    assert good.status_code == 302
    named = PermissionEvent.objects.get(purpose="share").recipients.values_list("person_id", flat=True)
    assert list(named) == [scene.other_coach.pk]


@pytest.mark.parametrize("what", ["stop", "take-back"])
def test_a_bad_stop_or_undo_changes_nothing(scene: Scene, signed_in: SignIn, what: str) -> None:
    response = signed_in(scene.guardian).post(f"/guardian/permissions/{scene.child.pk}/{what}", {"purpose": "x"})
    assert response.status_code == 400
    assert not PermissionEvent.objects.exists()


def test_absent_and_not_yours_look_alike(scene: Scene, signed_in: SignIn) -> None:
    unverified = make_guardian(scene.child, "Uwe", authority="unverified")
    absent = signed_in(scene.guardian).get(f"/guardian/permissions/{uuid4()}")
    seen = {
        (absent.status_code, absent.content),
        *(
            (found.status_code, found.content)
            for found in (
                signed_in(scene.guardian).get(page_of(scene.adult_athlete)),
                signed_in(scene.guardian).get(page_of(scene.stranger_athlete)),
                signed_in(unverified).get(page_of(scene.child)),
                signed_in(scene.coach).get(page_of(scene.child)),
                signed_in(scene.coach).get("/athlete/permissions"),
            )
        ),
    }
    assert len(seen) == 1
    assert absent.status_code == 404
    assert post(signed_in(scene.coach), "guardian", scene.child, "stop", purpose="health") == 404
    assert post(signed_in(scene.athlete), "athlete", scene.child, "answer", purpose="health", answer="no") == 404


def test_one_child_is_shown_at_once_and_several_are_listed(scene: Scene, signed_in: SignIn) -> None:
    assert signed_in(scene.care_guardian).get("/guardian/permissions").headers["Location"] == page_of(scene.child)
    text = signed_in(scene.guardian).get("/guardian/permissions").content.decode()
    assert text.count("questions want your answer") == 2


@pytest.mark.parametrize("age", [None, 11, 16])
def test_asked_by_age(scene: Scene, signed_in: SignIn, age: int | None) -> None:
    """An athlete of any age answers in person; under the digital age it is kept as the child's own view."""
    athlete = make_athlete(scene.club, "Pia", scene.group, age=age)
    assert post(signed_in(athlete), "athlete", athlete, "answer", purpose="feed", answer="yes") == 302
    line = AccessLogEntry.objects.get(club=scene.club)
    assert line.code == ("ATHLETE_PART" if age == 16 else "ASSENT_ONLY")


def test_number_of_queries_does_not_grow_with_children(scene: Scene, signed_in: SignIn) -> None:
    group = make_group(scene.club, "Youth", "youth")
    counts = []
    for size in (0, 3, 30):
        guardian = make_guardian(scene.child, f"Guardian{size}")
        for number in range(size):
            link_guardian(guardian, make_athlete(scene.club, f"Kid{number}", group, age=10, account=False))
        scene_only = make_person(scene.club, "Other", age=9)
        link_guardian(guardian, scene_only)
        client = signed_in(guardian)
        client.get("/guardian/permissions")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get("/guardian/permissions")
        counts.append(len(queries))
    assert len(set(counts)) == 1
