"""Calling a session off and on again, who is told and how, the call list, giving a session to another coach."""

import random
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core import mail

from athletes.models import Clearance, ContactNumber, Person
from athletes.viewer import viewer_for
from sessions.models import CalendarAddress, Notice, SessionCoach, TrainingSession
from sessions.selectors.call_list import Why, call_list
from sessions.selectors.cover import cover_of
from sessions.selectors.own_plan import coming_sessions
from sessions.services.call_off import call_off_session, call_on_session
from sessions.services.give_session import give_session
from sessions.services.mail_changes import mail_changes
from sessions.services.make_week import make_week
from sessions.services.move_demand import take_out_demand
from sessions.services.publish_week import publish_week
from sessions.services.reach_people import take_back_tick, tick_reached
from sessions.services.record_availability import record_availability
from sessions.services.see_notices import see_notice
from sessions.services.undo_publishing import undo_publishing
from sessions.tasks import mail_changes_of_job
from teamtrack.common.errors import NotFound, Refused
from teamtrack.common.models import Job
from teamtrack.common.row_security import rows_open
from tests.people import make_coach, make_session
from tests.planning import PlanScene, give_evenings, make_plan_scene, place
from tests.sizes import examples

pytestmark = pytest.mark.django_db


@pytest.fixture
def plan(db) -> PlanScene:
    """The week of tests.planning, published: hard Tue, technique Thu, easy Sat, each at 18:00."""
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    for kind, day in (("hard", 1), ("technique", 3), ("easy", 5)):
        place(made.demand(kind), made.at(day, 18), made.scene.coach)
    publish_week(viewer=made.viewer, monday=made.monday, revision=1)
    everybody = list(Person.objects.filter(club=made.scene.club).values_list("pk", flat=True))
    with rows_open(people=everybody):
        Notice.objects.update(seen_at=made.viewer.now)
    Job.objects.all().delete()
    return made


def session_of(plan: PlanScene, kind: str) -> TrainingSession:
    return TrainingSession.objects.get(demand=plan.demand(kind))


def notices(plan: PlanScene, **which: object) -> list[Notice]:
    with rows_open(people=list(Person.objects.filter(club=plan.scene.club).values_list("pk", flat=True))):
        return list(Notice.objects.filter(**which).order_by("to__given_name", "about__given_name"))


def give_address(person: Person) -> None:
    Person.objects.filter(pk=person.pk).update(email=f"{person.given_name.lower()}@post.example")


def test_everybody_concerned_is_told_at_once_and_nobody_twice(plan):
    hard = session_of(plan, "hard")
    assert call_off_session(viewer=plan.viewer, session_id=hard.pk, words="Weather") == 6
    told = [(one.to.given_name, one.about and one.about.given_name) for one in notices(plan, kind="called_off")]
    assert told == [
        ("Carla", "Ivo"), ("Greta", "Ivo"), ("Greta", "Noela"), ("Ivo", None), ("Noela", None), ("Rona", None),
        ("Tam", None),
    ]  # fmt: skip
    hard.refresh_from_db()
    assert (hard.is_called_off, hard.change_words) == (True, "Weather")
    assert Job.objects.get().due_at is None
    with pytest.raises(Refused):
        call_off_session(viewer=plan.viewer, session_id=hard.pk)
    assert len(notices(plan, kind="called_off")) == 7


def test_its_place_in_the_draft_goes_and_publishing_does_not_bring_it_back(plan):
    call_off_session(viewer=plan.viewer, session_id=session_of(plan, "hard").pk)
    assert (plan.week.revision, plan.week.published_revision) == (2, 2)
    assert publish_week(viewer=plan.viewer, monday=plan.monday, revision=2).sessions == 0


@pytest.mark.parametrize("who", ["helper", "other_coach", "athlete", "guardian", "admin", "stranger"])
def test_nobody_else_calls_it_off(plan, who):
    person = getattr(plan.scene, who)
    with pytest.raises(NotFound):
        call_off_session(viewer=viewer_for(person), session_id=session_of(plan, "hard").pk)
    assert notices(plan, kind="called_off") == []


def test_on_again_tells_those_alone_who_know_otherwise(plan):
    hard = session_of(plan, "hard")
    coach = viewer_for(plan.scene.coach, "coach")
    call_off_session(viewer=coach, session_id=hard.pk)
    seen = notices(plan, kind="called_off", to=plan.scene.athlete)[0]
    see_notice(viewer=viewer_for(plan.scene.athlete, "athlete"), notice_id=seen.pk)
    assert call_on_session(viewer=coach, session_id=hard.pk) == 1
    assert [one.to for one in notices(plan, kind="on_again")] == [plan.scene.athlete]
    assert notices(plan, kind="called_off") == [seen]
    hard.refresh_from_db()
    assert not hard.is_called_off
    assert plan.demand("hard").placement.starts_at == plan.at(1, 18)


def test_mail_goes_to_who_has_an_address_once_and_confirms_nothing(plan):
    scene, hard = plan.scene, session_of(plan, "hard")
    for person in (scene.guardian, scene.adult_athlete, scene.coach):
        give_address(person)
    call_off_session(viewer=plan.viewer, session_id=hard.pk)
    job = Job.objects.get()
    mail_changes_of_job(str(job.pk))
    job.refresh_from_db()
    assert (job.state, mail_changes(target_id=hard.pk)) == ("done", 0)
    sent = {one.to[0]: one.body for one in mail.outbox}
    assert sorted(sent) == ["greta@post.example", "rona@post.example", "tam@post.example"]
    assert "Noela: " in sent["greta@post.example"] and "Ivo: " in sent["greta@post.example"]
    assert "Noela" not in sent["tam@post.example"] + sent["rona@post.example"]
    on_list = {one.person.given_name: one.why for one in call_list(plan.viewer).waiting}
    assert (on_list["Greta"], on_list["Carla"]) == (Why.SENT, Why.NOT_OPENED)
    fetched = plan.viewer.now + timedelta(minutes=1)
    CalendarAddress.objects.create(
        club=scene.club, person=scene.care_guardian, secret_hash="-", made_at=fetched, fetched_at=fetched
    )
    assert {one.person.given_name: one.why for one in call_list(plan.viewer).waiting}["Carla"] == Why.SENT


def test_no_mail_to_a_minor_alone_nor_to_a_guardian_who_may_not_see(plan):
    scene, hard = plan.scene, session_of(plan, "hard")
    give_address(scene.child)
    give_address(scene.guardian)
    call_off_session(viewer=plan.viewer, session_id=hard.pk)
    with rows_open(people=[scene.guardian.pk, scene.care_guardian.pk, scene.child.pk]):
        Notice.objects.filter(about=scene.child).delete()
    scene.athlete.guarded_by.all().delete()
    assert mail_changes(target_id=hard.pk) == 0
    assert mail.outbox == []


def test_a_move_far_ahead_waits_for_its_hour_and_can_be_undone_until_then(plan):
    place_now = plan.demand("easy").placement
    place_now.starts_at, place_now.ends_at = plan.at(5, 19), plan.at(5, 20)
    place_now.save()
    done = publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    assert Job.objects.get().due_at > plan.viewer.now + timedelta(minutes=9)
    easy = session_of(plan, "easy")
    assert easy.starts_at == plan.at(5, 19)
    undo_publishing(viewer=plan.viewer, publishing_id=done.publishing.pk)
    easy.refresh_from_db()
    assert (easy.starts_at, notices(plan, kind="moved")) == (plan.at(5, 18), [])
    assert publish_week(viewer=plan.viewer, monday=plan.monday, revision=1).sessions == 1


def test_a_publishing_that_somebody_saw_cannot_be_undone(plan):
    extra = plan.scene.second_coach
    plan.demand("easy").placement.coaches.set([extra])
    done = publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    assert {row.coach for row in session_of(plan, "easy").session_coaches.filter(taken_off_at=None)} == {extra}
    see_notice(viewer=viewer_for(extra, "coach"), notice_id=notices(plan, to=extra, kind="added")[-1].pk)
    with pytest.raises(Refused):
        undo_publishing(viewer=plan.viewer, publishing_id=done.publishing.pk)


def test_the_first_publishing_undone_leaves_nothing(db):
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    place(made.demand("hard"), made.at(1, 18), made.scene.coach)
    done = publish_week(viewer=made.viewer, monday=made.monday, revision=1)
    undo_publishing(viewer=made.viewer, publishing_id=done.publishing.pk)
    assert not TrainingSession.objects.filter(demand__week=made.week).exists()
    assert (made.week.published_revision, notices(made)) == (None, [])
    with pytest.raises(NotFound):
        undo_publishing(viewer=viewer_for(made.scene.coach, "coach"), publishing_id=done.publishing.pk)


def test_reached_and_list_are_exactly_those_concerned(plan):
    """Whatever is seen, mailed, ticked and changed again, in random order."""
    scene, draws = plan.scene, random.Random(7)
    for person in (scene.guardian, scene.adult_athlete):
        give_address(person)
    people = {one.given_name: one for one in Person.objects.filter(club=scene.club)}
    hard, easy = session_of(plan, "hard"), session_of(plan, "easy")
    not_coming(plan, scene.adult_athlete, hard)
    known: dict[tuple[str, str | None, object], bool] = {
        (one.to.given_name, one.about and one.about.given_name, one.training_session_id): True
        for one in notices(plan, kind="added")
    }
    for number in range(examples(400)):
        viewer = replace(plan.viewer, now=plan.viewer.now + timedelta(seconds=number))
        act, session = draws.choice(["off_on", "see", "mail", "tick", "untick"]), draws.choice([hard, easy])
        waiting = call_list(viewer).waiting
        one = draws.choice(waiting) if waiting else None
        if act == "off_on":
            session.refresh_from_db()
            change = call_on_session if session.is_called_off else call_off_session
            change(viewer=viewer, session_id=session.pk)
            rows = [row for row in notices(plan, training_session=session) if row.kind != "not_coming"]
            newest = {(row.to.given_name, row.about and row.about.given_name): row for row in sorted(rows, key=made)}
            if session == hard and newest["Tam", None].kind != "added":
                del newest["Tam", None]  # he had said not to come
            known = {key: value for key, value in known.items() if key[2] != session.pk} | {
                (*key, session.pk): row.seen_at is not None or row.reached_at is not None for key, row in newest.items()
            }
        elif act == "mail":
            mail_changes(target_id=session.pk)
        elif one is not None and act == "see":
            row = draws.choice(one.notices)
            see_notice(viewer=viewer_for(one.person), notice_id=row.pk)
            known[one.person.given_name, row.about_id and names(people, row.about_id), row.training_session_id] = True
        elif one is not None and act in ("tick", "untick"):
            at = tick_reached(viewer=viewer, person_id=one.id, until=one.known_at)
            if act == "untick":
                take_back_tick(viewer=viewer, person_id=one.id, at=at)
            else:
                known |= {key: True for key in known if key[0] == one.person.given_name}
        found = call_list(viewer)
        concerned = {people[key[0]].pk for key in known}
        expected = {people[key[0]].pk for key, is_known in known.items() if not is_known}
        assert {row.id for row in found.waiting} == expected
        assert found.reached == concerned - expected
        assert found.concerned == concerned


def not_coming(plan: PlanScene, athlete: Person, session: TrainingSession) -> None:
    record_availability(
        viewer=viewer_for(athlete, "athlete"), athlete_id=athlete.pk, training_session_id=session.pk, state="not_today"
    )


def test_who_said_not_to_come_sees_the_call_off_in_the_app_and_is_neither_rung_nor_mailed(plan):
    scene, hard = plan.scene, session_of(plan, "hard")
    for athlete in (scene.child, scene.adult_athlete):
        not_coming(plan, athlete, hard)
        give_address(athlete)
    give_address(scene.guardian)
    assert call_off_session(viewer=plan.viewer, session_id=hard.pk) == 6
    quiet = {(one.to.given_name, one.about and one.about.given_name) for one in notices(plan, in_app_only=True)}
    assert quiet == {("Ivo", None), ("Greta", "Ivo"), ("Carla", "Ivo"), ("Tam", None)}
    waiting = {one.person.given_name: one for one in call_list(plan.viewer).waiting}
    assert (set(waiting), waiting["Greta"].abouts) == ({"Noela", "Greta", "Rona"}, (scene.athlete,))
    coming = coming_sessions(viewer=viewer_for(scene.adult_athlete, "athlete"), athletes=[scene.adult_athlete])
    told = {one.training_session: one.change and one.change.kind for one in coming[scene.adult_athlete.pk]}
    assert told[hard] == "called_off"
    mail_changes(target_id=hard.pk)
    assert [(one.to, "Ivo" in one.body) for one in mail.outbox] == [(["greta@post.example"], False)]
    with rows_open(people=[scene.adult_athlete.pk]):
        Notice.objects.filter(to=scene.adult_athlete, in_app_only=True).update(seen_at=plan.viewer.now)
    call_on_session(viewer=plan.viewer, session_id=hard.pk)
    assert [(one.to.given_name, one.in_app_only) for one in notices(plan, kind="on_again")] == [
        ("Greta", False), ("Tam", True)
    ]  # fmt: skip
    week = {"viewer": plan.viewer, "monday": plan.monday}
    take_out_demand(**week, demand_id=hard.demand_id, revision=plan.week.revision)
    publish_week(viewer=plan.viewer, monday=plan.monday, revision=plan.week.revision)
    assert {one.to.given_name for one in notices(plan, kind="called_off", in_app_only=True)} == {
        "Ivo",
        "Greta",
        "Carla",
        "Tam",
    }


def made(row: Notice) -> tuple[object, object]:
    return row.made_at, row.pk


def names(people: dict[str, Person], one: object) -> str:
    return next(name for name, person in people.items() if person.pk == one)


def test_the_list_rings_the_family_and_names_only_whom_the_caller_may_know(plan, django_assert_num_queries):
    scene = plan.scene
    ContactNumber.objects.create(club=scene.club, athlete=scene.child, name="Gran", relation="gran", phone="111")
    call_off_session(viewer=plan.viewer, session_id=session_of(plan, "hard").pk)
    ivo = next(one for one in call_list(plan.viewer).waiting if one.id == scene.child.pk)
    assert [(one.name, one.phone) for one in ivo.numbers] == [("Gran", "111")]
    scene.child.memberships.update(notice_shown_on=None)
    by_id = {one.id: one for one in call_list(viewer_for(scene.admin, "admin")).waiting}
    hidden = by_id[scene.child.pk]
    assert (hidden.person, hidden.numbers) == (None, ())
    assert by_id[scene.care_guardian.pk].person is None
    with pytest.raises(NotFound):
        call_list(viewer_for(scene.coach, "coach"))


def test_a_session_is_given_to_who_is_free_with_a_check(plan):
    scene, hard = plan.scene, session_of(plan, "hard")
    unchecked = make_coach(scene.club, "Ulla", checked=False)
    spare = make_coach(scene.club, "Sven")
    give_evenings(spare)
    stands = {
        one.coach.given_name: (one.can, one.is_free, one.adults_then)
        for one in cover_of(viewer=plan.viewer, training_session=hard).others
    }
    assert stands == {
        "Sven": (True, True, 1), "Bran": (True, True, 1), "Odo": (True, False, 1), "Piet": (False, True, 0),
        "Ulla": (False, False, 0),
    }  # fmt: skip
    given = {"viewer": plan.viewer, "session_id": hard.pk, "from_id": scene.coach.pk}
    for wrong in (unchecked, scene.helper):
        with pytest.raises(Refused):
            give_session(**given, to_id=wrong.pk)
    with pytest.raises(NotFound):
        give_session(**given, to_id=scene.stranger.pk)
    give_session(**given, to_id=spare.pk)
    give_session(**given, to_id=spare.pk)
    listed = SessionCoach.objects.filter(training_session=hard, taken_off_at=None)
    assert [row.coach for row in listed] == [spare]
    assert [one.kind for one in notices(plan, to=spare)] == ["added"]
    assert [one.pk for one in plan.demand("hard").placement.coaches.all()] == [spare.pk]
    assert plan.week.published_revision == plan.week.revision


def test_who_leads_something_else_then_cannot_take_it(plan):
    scene, hard = plan.scene, session_of(plan, "hard")
    make_session(scene.group, kind="easy", day=plan.at(1, 18).date(), coaches=(scene.second_coach,))
    Clearance.objects.filter(coach=scene.other_coach).update(expires_on=plan.monday)
    stands = {one.coach: one.can for one in cover_of(viewer=plan.viewer, training_session=hard).others}
    assert (stands[scene.second_coach], stands[scene.other_coach]) == (False, False)
