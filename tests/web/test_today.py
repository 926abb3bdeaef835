"""Today for coaches: what is next, with whom, enough adults or not, who is out, who wants a person."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from pytest_django.fixtures import DjangoAssertNumQueries

from athletes.models import Clearance, Person, Restriction, StaffRole
from sessions.models import Availability, Notice, SessionAthlete, SessionCoach, TrainingSession
from teamtrack.common.clock import now_in, today_in
from tests.people import Scene, answer, make_athlete, make_session

SignedIn = Callable[..., Client]


def page(client: Client) -> str:
    response = client.get("/today")
    assert response.status_code == 200
    return response.content.decode().partition("<main")[2]


def notify(scene: Scene, to: Person, kind: str, about: Person | None = None) -> Notice:
    return Notice.objects.create(
        club=scene.club,
        to=to,
        kind=kind,
        about=about,
        training_session=scene.training_session,
        made_at=now_in(scene.club.timezone),
    )


def say(scene: Scene, athlete: Person, state: str, option: str = "") -> None:
    session = scene.training_session
    Availability.objects.create(
        club=scene.club, athlete=athlete, training_session=session, starts_at=session.starts_at,
        ends_at=session.ends_at, state=state, option=option, said_by=athlete, said_as="athlete",
        said_at=now_in(scene.club.timezone),
    )  # fmt: skip


def test_a_coach_starts_in_one_tap(scene: Scene, signed_in: SignedIn) -> None:
    text = page(signed_in(scene.coach))
    assert f'href="/coach/sessions/{scene.training_session.pk}"' in text
    assert "Sprint technique" in text
    assert "18:00–19:00" in text
    assert "Straight A" in text


def test_adults_count_by_age_and_check(scene: Scene, signed_in: SignedIn) -> None:
    """A helper under 18 or an adult without a check in date never counts."""
    client = signed_in(scene.coach)
    assert "2, wanted 2" in page(client)
    Clearance.objects.filter(coach=scene.second_coach).update(expires_on=today_in(scene.club.timezone) - timedelta(1))
    assert "Adults: 1 of 2" in page(client)


def test_who_is_out_and_never_why(scene: Scene, signed_in: SignedIn) -> None:
    say(scene, scene.child, "not_today")
    say(scene, scene.athlete, "modified", "drills")
    SessionAthlete.objects.filter(athlete=scene.adult_athlete).update(comes="easier")
    text = page(signed_in(scene.coach))
    assert 'Ivo <span class="quiet">not coming</span>' in text
    assert 'Noela <span class="quiet">drills only</span>' in text
    assert 'Tam <span class="quiet">easier version</span>' in text
    assert "<dt>Come</dt><dd>2</dd>" in text


def test_the_last_word_counts(scene: Scene, signed_in: SignedIn) -> None:
    say(scene, scene.child, "not_today")
    say(scene, scene.child, "run")
    text = page(signed_in(scene.coach))
    assert "<dt>Out</dt>" not in text
    assert "<dt>Come</dt><dd>3</dd>" in text


def test_availability_that_may_not_be_used_names_nobody(scene: Scene, signed_in: SignedIn) -> None:
    say(scene, scene.child, "not_today")
    Restriction.objects.create(
        club=scene.club, athlete=scene.child, purpose="availability", first_day=today_in(scene.club.timezone)
    )
    assert "Ivo" not in page(signed_in(scene.coach))


def test_nothing_today_says_what_is_next(scene: Scene, signed_in: SignedIn) -> None:
    scene.training_session.delete()
    day = today_in(scene.club.timezone) + timedelta(days=2)
    make_session(scene.group, day=day, coaches=(scene.coach,))
    assert f"Nothing today. Next: {day:%a} 18:00" in page(signed_in(scene.coach))


def test_called_off_is_said_and_not_started(scene: Scene, signed_in: SignedIn) -> None:
    TrainingSession.objects.update(state="called_off", change_words="Water on the straight")
    text = page(signed_in(scene.coach))
    assert "called off" in text
    assert "Water on the straight" in text
    assert 'href="/coach/sessions/' not in text


def test_what_is_over_stands_last_and_is_neither_called_off_nor_given_away(scene: Scene, signed_in: SignedIn) -> None:
    now = now_in(scene.club.timezone)
    TrainingSession.objects.update(starts_at=now - timedelta(minutes=2), ends_at=now - timedelta(minutes=1))
    later = TrainingSession.objects.create(
        club=scene.club, kind="easy", starts_at=now + timedelta(seconds=1), ends_at=now + timedelta(hours=1)
    )
    later.groups.add(scene.group)
    SessionCoach.objects.create(club=scene.club, training_session=later, coach=scene.coach)
    text, over = page(signed_in(scene.coach)), scene.training_session.pk
    assert text.index(f"/coach/sessions/{later.pk}") < text.index(f"/coach/sessions/{over}")
    assert f"/coach/sessions/{later.pk}/call-off" in text and f"/coach/sessions/{later.pk}/cover" in text
    assert f"/coach/sessions/{over}/call-off" not in text and f"/coach/sessions/{over}/cover" not in text


def test_a_guardian_with_nothing_today_is_told_what_comes_next(scene: Scene, signed_in: SignedIn) -> None:
    scene.training_session.delete()
    assert "Nothing today, nothing in the next eight days" in page(signed_in(scene.guardian))
    day = today_in(scene.club.timezone) + timedelta(days=2)
    make_session(scene.group, day=day, athletes=(scene.child,))
    assert f"Nothing today. Next: {day:%a} {day.day} {day:%b} 18:00" in page(signed_in(scene.guardian))


def test_a_stop_is_told_and_a_pain_note_only_where_health_allows(scene: Scene, signed_in: SignedIn) -> None:
    notify(scene, scene.coach, "stopped", scene.athlete)
    notify(scene, scene.coach, "pain", scene.athlete)
    client = signed_in(scene.coach)
    text = page(client)
    assert "Noela: stopped for today" in text
    assert "pain note" not in text
    answer(scene.athlete, scene.athlete, names=(scene.coach,))
    answer(scene.athlete, scene.guardian, names=(scene.coach,))
    assert "Noela: a pain note wants a person" in page(client)


def test_a_notice_is_gone_once_seen_and_nobody_sees_anothers(scene: Scene, signed_in: SignedIn) -> None:
    notice = notify(scene, scene.coach, "moved")
    address = f"/coach/notices/{notice.pk}/seen"
    assert signed_in(scene.second_coach).post(address).status_code == 404
    client = signed_in(scene.coach)
    assert "moved" in page(client)
    assert client.post(address).status_code == 302
    assert "moved" not in page(client)


def test_the_head_coach_sees_the_clubs_sessions(scene: Scene, signed_in: SignedIn) -> None:
    make_session(scene.other_group, coaches=(scene.other_coach,))
    text = page(signed_in(scene.head_coach))
    assert "Sprint technique" in text
    assert "Longer distance technique" in text
    assert "Adults: 1 of 2" in text
    assert "Start" not in text


def test_several_roles_stand_one_under_the_other(scene: Scene, signed_in: SignedIn) -> None:
    StaffRole.objects.create(
        club=scene.club, person=scene.coach, role="head_coach", first_day=today_in(scene.club.timezone)
    )
    notify(scene, scene.coach, "moved")
    text = page(signed_in(scene.coach))
    assert text.index("The club") < text.index("I lead")
    assert text.count("moved") == 2  # the line, and the name of its button


def test_another_club_does_not_show(scene: Scene, signed_in: SignedIn) -> None:
    text = page(signed_in(scene.stranger))
    assert "Sprint technique" not in text
    assert "Nothing today" in text


@pytest.mark.parametrize("role", ["coach", "head_coach"])
@pytest.mark.parametrize("rows", [0, 3, 30])
def test_query_count_does_not_grow(
    scene: Scene, signed_in: SignedIn, role: str, rows: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    say(scene, scene.child, "not_today")
    notify(scene, scene.coach, "stopped", scene.child)
    for number in range(rows):
        athlete = make_athlete(scene.club, f"Runner{number}", scene.group, account=False)
        SessionAthlete.objects.create(club=scene.club, training_session=scene.training_session, athlete=athlete)
        make_session(scene.group, coaches=(scene.coach,), athletes=(athlete,))
        say(scene, athlete, "not_today")
        notify(scene, scene.coach, "stopped", athlete)
    client = signed_in(getattr(scene, role))
    page(client)
    with django_assert_num_queries({"coach": 17, "head_coach": 14}[role]):
        page(client)
