"""Who looked: a guardian's page, questions about a line, the newest head, and reading worth asking about."""

from datetime import UTC, datetime

import pytest
from django.db import transaction

from athletes.models import AccessLogEntry, CoachAssignment, LogQuestion
from athletes.selectors import unusual_reading as rules
from athletes.selectors.signed_heads import newest_head
from athletes.services import access_log as log
from athletes.services.access_log import Act, log_acts
from athletes.services.signed_heads import sign_heads
from athletes.viewer import viewer_for
from teamtrack.common.clock import today_in
from tests.people import answer, make_athlete

pytestmark = pytest.mark.django_db


def read_by(person, *athletes, kind="pain"):
    with transaction.atomic():
        log_acts(
            viewer=viewer_for(person), acts=[Act("read", kind, one.pk, ("words",), "CONSENT_OK") for one in athletes]
        )


def text(found) -> str:
    return " ".join(found.content.decode().split())


def test_a_guardian_sees_who_looked_at_a_childs_and_at_a_teenagers_only_with_the_yes(scene, signed_in) -> None:
    read_by(scene.coach, scene.child, scene.athlete)
    guardian = signed_in(scene.guardian)
    of_child = guardian.get(f"/guardian/who-looked/{scene.child.pk}")
    assert of_child.status_code == 200 and "Rona Tester" in text(of_child)
    link = f"/guardian/who-looked/{scene.child.pk}"
    assert link in text(guardian.get(f"/guardian/permissions/{scene.child.pk}"))
    assert guardian.get(f"/guardian/who-looked/{scene.athlete.pk}").status_code == 404
    answer(scene.athlete, scene.athlete, "audit", "yes", about_guardian=scene.guardian)
    assert "Rona Tester" in text(guardian.get(f"/guardian/who-looked/{scene.athlete.pk}"))
    assert signed_in(scene.care_guardian).get(f"/guardian/who-looked/{scene.child.pk}").status_code == 404


def test_a_question_about_a_line_is_answered_beside_it(scene, signed_in) -> None:
    read_by(scene.coach, scene.athlete)
    seq = AccessLogEntry.objects.get(club=scene.club, verb="read").seq
    athlete, admin = signed_in(scene.athlete), signed_in(scene.admin)
    ask = f"/athlete/who-looked/{scene.athlete.pk}/ask"
    assert athlete.post(ask, {"seq": seq, "words": "Why did you look?"}).status_code == 302
    assert "Why did you look?" in text(athlete.get("/athlete/who-looked"))
    assert athlete.post(ask, {"seq": seq, "words": "Again"}).status_code == 409
    page = text(admin.get("/admin/access-log"))
    assert "Why did you look?" in page and "Noela Tester" in page
    assert "Why did you look?" not in text(signed_in(scene.welfare).get("/welfare/access-log"))
    question = LogQuestion.objects.get()
    reply = f"/admin/access-log/questions/{question.pk}"
    admin.post(reply, {"answer": " "})
    assert LogQuestion.objects.get().answered_at is None
    admin.post(reply, {"answer": "Planning Tuesday."})
    admin.post(reply, {"answer": "Something else."})
    assert "Planning Tuesday." in text(athlete.get("/athlete/who-looked"))
    assert LogQuestion.objects.get().answer == "Planning Tuesday."
    verbs = list(AccessLogEntry.objects.filter(club=scene.club, kind="log_line").values_list("verb", flat=True))
    assert sorted(verbs) == ["answered", "ask"]


@pytest.mark.parametrize("who", ["athlete", "child", "guardian", "coach", "stranger_athlete"])
def test_a_line_that_is_not_about_you_is_not_there(scene, signed_in, who) -> None:
    read_by(scene.coach, scene.adult_athlete)
    seq = AccessLogEntry.objects.get(club=scene.club, verb="read").seq
    person = getattr(scene, who)
    role = "guardian" if who == "guardian" else "athlete"
    for about in (person, scene.adult_athlete):
        found = signed_in(person).post(f"/{role}/who-looked/{about.pk}/ask", {"seq": seq, "words": "Who?"})
        assert found.status_code == 404
    assert not LogQuestion.objects.exists()


@pytest.mark.parametrize(
    "said", [{}, {"seq": "x", "words": "a"}, {"seq": 1, "words": "a" * 501}, {"seq": 1, "words": ""}]
)
def test_a_question_that_cannot_be_read_changes_nothing(scene, signed_in, said) -> None:
    found = signed_in(scene.athlete).post(f"/athlete/who-looked/{scene.athlete.pk}/ask", said)
    assert found.status_code == 400 and "Nothing was sent" in text(found)


def test_the_page_shows_the_newest_head_and_the_public_key(scene, signed_in) -> None:
    admin = signed_in(scene.admin)
    assert "Nothing is signed yet" in text(admin.get("/admin/access-log"))
    read_by(scene.coach, scene.athlete)
    sign_heads()
    page = text(admin.get("/admin/access-log"))
    assert newest_head(scene.club.pk).hash in page


def test_reading_worth_asking_about(scene, signed_in, monkeypatch) -> None:
    """Noon and night of the club's own clock; ten athletes make many; Odo coaches others."""
    monkeypatch.setattr(log, "utc_now", lambda: noon)
    today = today_in(scene.club.timezone)
    noon = datetime(today.year, today.month, today.day, 12, tzinfo=UTC)
    few = [make_athlete(scene.club, f"Few{number}", scene.group) for number in range(rules.MANY_ATHLETES)]
    admin = viewer_for(scene.admin)
    read_by(scene.coach, *few[:-1])
    assert rules.unusual_reading(admin) == []
    read_by(scene.coach, few[-1])
    read_by(scene.coach, few[-1])
    assert [(one.rule, one.actor_name, one.athletes) for one in rules.unusual_reading(admin)] == [
        ("many", "Rona Tester", rules.MANY_ATHLETES)
    ]
    read_by(scene.other_coach, scene.child)
    read_by(scene.other_coach, scene.child, kind="focus")
    noon = noon.replace(hour=3) if noon else noon
    read_by(scene.second_coach, scene.athlete)
    found = {(one.rule, one.actor_name, one.athletes) for one in rules.unusual_reading(admin)}
    assert found == {
        ("many", "Rona Tester", 10), ("outside", "Odo Tester", 1), ("night", "Bran Tester", 1),
    }  # fmt: skip
    page = text(signed_in(scene.admin).get("/admin/access-log"))
    assert "health notes of 1 athlete at night" in page and "health notes of 10 athletes in one day" in page
    CoachAssignment.objects.create(club=scene.club, coach=scene.other_coach, group=scene.group, first_day=today)
    assert "outside" not in {one.rule for one in rules.unusual_reading(admin)}
