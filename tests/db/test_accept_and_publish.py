"""Taking a proposal over, moving by hand, undoing, publishing: checked by the planner's rules, never over somebody."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from athletes.models import AccessLogEntry, GroupMembership, Withholding
from athletes.viewer import viewer_for
from sessions.core.planner.solve import solve_document
from sessions.models import (
    Availability,
    DraftStep,
    Notice,
    Placement,
    Proposal,
    RosterLeaver,
    SessionAthlete,
    SessionCoach,
    TrainingSession,
    WeekModifier,
)
from sessions.selectors.publication import publication_of
from sessions.selectors.week_draft import demands_of, draft_places
from sessions.services.accept_proposal import accept_proposal
from sessions.services.make_week import make_week
from sessions.services.move_demand import move_demand, pin_demand, take_out_demand
from sessions.services.propose_week import propose_week
from sessions.services.publish_week import publish_week
from sessions.services.set_easier import set_easier
from sessions.services.solve_proposal import solve_proposal
from sessions.services.undo_step import undo_step
from teamtrack.common.errors import Conflict, NotFound, Refused
from teamtrack.common.models import Job
from tests.people import link_guardian, make_athlete, make_guardian, make_staff
from tests.planning import PlanScene, make_plan_scene, place
from tests.workers import in_threads

pytestmark = pytest.mark.django_db
at_once = pytest.mark.django_db(transaction=True)


@pytest.fixture
def plan(db) -> PlanScene:
    """The week is made and lies as usual: hard on Tuesday, technique on Thursday, easy on Saturday."""
    made = make_plan_scene()
    make_week(viewer=made.viewer, monday=made.monday)
    for kind, day in (("hard", 1), ("technique", 3), ("easy", 5)):
        place(made.demand(kind), made.at(day, 18), made.scene.coach)
    return made


def propose(plan: PlanScene, changed=None) -> Proposal:
    """A ready proposal; `changed` turns the planner's answer into another one that keeps the rules."""

    def solve(document, **options):
        found = solve_document(document, **options | {"seconds": 20.0, "workers": 1})
        if changed:
            changed({row["demand"]: row for row in found["placed"]}, found)
        return found

    proposal = propose_week(viewer=plan.viewer, monday=plan.monday)
    solve_proposal(job_id=Job.objects.get(target_id=proposal.pk).pk, solve=solve)
    proposal.refresh_from_db()
    assert proposal.state == "ready", proposal.failure
    return proposal


def shifted(plan: PlanScene, **days: int):
    """Change an answer so that kinds lie on other days at 18:00."""

    def change(rows, found):
        for kind, day in days.items():
            rows[str(plan.demand(kind).pk)] |= {
                "start": plan.at(day, 18).isoformat(timespec="minutes"),
                "end": plan.at(day, 19).isoformat(timespec="minutes"),
            }

    return change


def starts(plan: PlanScene) -> dict[str, object]:
    return {row.demand.kind: row.starts_at for row in Placement.objects.filter(demand__week=plan.week)}


def snapshot(plan: PlanScene):
    return draft_places(demands_of(plan.week)), plan.week.revision, DraftStep.objects.count()


def move(plan: PlanScene, kind: str, day: int, hour: int = 18, **other):
    values = {
        "viewer": plan.viewer,
        "monday": plan.monday,
        "demand_id": plan.demand(kind).pk,
        "revision": plan.week.revision,
        "starts_at": plan.at(day, hour),
        "venue_id": plan.scene.venue.pk,
        "coach_ids": [plan.scene.coach.pk],
    }
    return move_demand(**values | other)


# Accept


def test_all_moves_are_taken_over_and_the_proposal_is_closed(plan):
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    step = accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1)
    assert starts(plan) == {"hard": plan.at(2, 18), "technique": plan.at(4, 18), "easy": plan.at(5, 18)}
    proposal.refresh_from_db()
    assert (proposal.state, plan.week.revision, step.revision) == ("accepted", 2, 2)
    assert plan.week.changed_by == plan.scene.head_coach
    # The easy session stays where it was; its reasons are new ones.
    assert set(step.before) == {str(plan.demand(kind).pk) for kind in ("hard", "technique", "easy")}


def test_some_moves_are_taken_over_and_the_rest_can_follow(plan):
    proposal = propose(plan, shifted(plan, technique=4, easy=6))
    easy, technique = plan.demand("easy"), plan.demand("technique")
    accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1, chosen=[easy.pk])
    assert starts(plan) == {"hard": plan.at(1, 18), "technique": plan.at(3, 18), "easy": plan.at(6, 18)}
    proposal.refresh_from_db()
    assert (proposal.state, proposal.based_on_revision) == ("ready", 2)
    accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=2, chosen=[technique.pk])
    proposal.refresh_from_db()
    assert (proposal.state, starts(plan)["technique"]) == ("accepted", plan.at(4, 18))


def test_a_mix_that_breaks_a_rule_is_refused_naming_rule_and_athletes(plan):
    """Hard moves to Wednesday alone: Thursday's technique would come 23 h after it and needs 34."""
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    before = snapshot(plan)
    with pytest.raises(Refused) as refused:
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1, chosen=[plan.demand("hard").pk])
    (sentence,) = refused.value.fields["rules"]
    assert refused.value.code == "RULES_BROKEN"
    assert "too few hours" in sentence
    assert "Sprint hard" in sentence
    assert "Sprint technique" in sentence
    for athlete in (plan.scene.athlete, plan.scene.child, plan.scene.adult_athlete):
        assert athlete.full_name in sentence
    assert snapshot(plan) == before


def test_an_athlete_whom_the_viewer_may_not_know_is_only_counted(plan):
    """The child has left by the day of the refusal: `record` ends, the plan of the proposal still names the id."""
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    plan.scene.child.memberships.update(last_day=plan.viewer.today - timedelta(days=1))
    with pytest.raises(Refused) as refused:
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1, chosen=[plan.demand("hard").pk])
    assert plan.scene.child.full_name not in str(refused.value.fields)


def test_the_second_head_coach_is_shown_what_changed_and_overwrites_nothing(plan):
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    other = make_staff(plan.scene.club, "Second", "head_coach")
    accept_proposal(viewer=viewer_for(other, "head_coach"), proposal_id=proposal.pk, revision=1)
    before = snapshot(plan)
    with pytest.raises(Conflict) as conflict:
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1, chosen=[plan.demand("easy").pk])
    assert conflict.value.status == 409
    with pytest.raises(Conflict) as conflict:
        move(plan, "easy", 6, revision=1)
    assert other.full_name in conflict.value.detail
    changed = conflict.value.fields["changed"]
    assert [line.split(": ")[:2] for line in changed] == [
        [other.full_name, "Sprint hard"],
        [other.full_name, "Sprint technique"],
    ]
    assert snapshot(plan) == before


@at_once
def test_of_two_at_once_one_wins_and_the_other_gets_a_conflict(plan):
    other = make_staff(plan.scene.club, "Second", "head_coach")
    mine, theirs = plan.viewer, viewer_for(other, "head_coach")
    first = lambda: move(plan, "easy", 6, viewer=mine, revision=1)  # noqa: E731
    second = lambda: move(plan, "easy", 5, 19, viewer=theirs, revision=1)  # noqa: E731
    results = in_threads(first, second)
    assert sorted(type(result).__name__ for result in results) == ["Conflict", "DraftStep"]
    assert (plan.week.revision, DraftStep.objects.filter(what="moved").count()) == (2, 1)


@pytest.mark.parametrize(
    ("chosen", "words"), [([], "Tick"), ([uuid4()], "not in this proposal")], ids=["nothing", "a strange one"]
)
def test_what_is_no_choice_is_refused(plan, chosen, words):
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    before = snapshot(plan)
    with pytest.raises(Refused) as refused:
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1, chosen=chosen)
    assert words in refused.value.fields["demands"][0]
    assert snapshot(plan) == before


def test_a_proposal_that_changes_nothing_is_refused(plan):
    proposal = propose(plan)
    with pytest.raises(Refused) as refused:
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1)
    assert refused.value.code == "NOTHING_NEW"
    assert plan.week.revision == 1


def test_what_the_plan_leaves_out_loses_its_place(plan):
    def dropped(rows, found):
        easy = str(plan.demand("easy").pk)
        found["placed"] = [row for row in found["placed"] if row["demand"] != easy]
        found["unplaced"] = [{"demand": easy, "because": [], "would_fit_if": []}]

    proposal = propose(plan, dropped)
    accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1)
    assert "easy" not in starts(plan)


@pytest.mark.parametrize("who", ["coach", "athlete", "guardian", "admin", "stranger"])
def test_the_draft_is_the_head_coachs_alone(plan, who):
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    person = getattr(plan.scene, who)
    viewer = viewer_for(person)
    before = snapshot(plan)
    for attempt in (
        lambda: accept_proposal(viewer=viewer, proposal_id=proposal.pk, revision=1),
        lambda: move(plan, "easy", 6, viewer=viewer),
        lambda: publish_week(viewer=viewer, monday=plan.monday, revision=1),
        lambda: make_week(viewer=viewer, monday=plan.monday),
        lambda: pin_demand(
            viewer=viewer, monday=plan.monday, demand_id=plan.demand("easy").pk, revision=1, is_pinned=True
        ),
    ):
        with pytest.raises(NotFound):
            attempt()
    assert snapshot(plan) == before


# By hand


def test_a_move_by_hand_is_checked_by_the_same_rules(plan):
    before = snapshot(plan)
    with pytest.raises(Refused) as refused:
        move(plan, "technique", 2)
    assert "too few hours" in refused.value.fields["rules"][0]
    assert snapshot(plan) == before
    move(plan, "technique", 4)
    assert starts(plan)["technique"] == plan.at(4, 18)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"hour": 22}, "outside the hours"),
        ({"hour": 16}, "coach cannot come"),
        ({"coach_ids": []}, "number of coaches"),
        ({"helper": True}, "may lead it alone"),
    ],
    ids=["closed", "coach not there", "no coach", "helper alone"],
)
def test_each_rule_is_said_in_words(plan, values, words):
    if values.pop("helper", False):
        values["coach_ids"] = [plan.scene.helper.pk]
    with pytest.raises(Refused) as refused:
        move(plan, "easy", 6, **values)
    assert any(words in sentence for sentence in refused.value.fields["rules"])


def test_only_venues_and_coaches_of_the_demand_are_taken(plan):
    for values in ({"venue_id": uuid4()}, {"coach_ids": [plan.scene.other_coach.pk]}):
        with pytest.raises(Refused) as refused:
            move(plan, "easy", 6, **values)
        assert refused.value.code == "CHECK_FIELDS"
    with pytest.raises(NotFound):
        move(plan, "easy", 6, demand_id=uuid4())


def test_who_cannot_come_is_excused_when_asked_and_within_the_groups_share(plan):
    """Of three one may stay away: floor(0.34 x 3) = 1 (the planning contract)."""
    child = plan.scene.child
    Availability.objects.create(
        club=plan.scene.club, athlete=child, starts_at=plan.at(6, 0), ends_at=plan.at(7, 0), state="not_today",
        said_by=child, said_as="athlete", said_at=plan.viewer.now,
    )  # fmt: skip
    with pytest.raises(Refused) as refused:
        move(plan, "easy", 6)
    assert child.full_name in refused.value.fields["rules"][0]
    move(plan, "easy", 6, excuse=True)
    assert list(Placement.objects.get(demand=plan.demand("easy")).excused.all()) == [child]
    move(plan, "easy", 6, 19)
    assert list(Placement.objects.get(demand=plan.demand("easy")).excused.all()) == [child]
    move(plan, "easy", 5)
    assert not Placement.objects.get(demand=plan.demand("easy")).excused.exists()


def test_a_pinned_session_stays_until_it_is_let_go(plan):
    demand = plan.demand("easy")
    pin_demand(viewer=plan.viewer, monday=plan.monday, demand_id=demand.pk, revision=1, is_pinned=True)
    with pytest.raises(Refused) as refused:
        move(plan, "easy", 6)
    assert refused.value.code == "PINNED"
    pin_demand(viewer=plan.viewer, monday=plan.monday, demand_id=demand.pk, revision=2, is_pinned=False)
    assert move(plan, "easy", 6).revision == 4


# Undo


def test_changes_are_undone_backwards_one_by_one(plan):
    first = snapshot(plan)[0]
    move(plan, "easy", 6)
    second = snapshot(plan)[0]
    one = DraftStep.objects.get(what="moved")
    two = take_out_demand(viewer=plan.viewer, monday=plan.monday, demand_id=plan.demand("hard").pk, revision=2)
    with pytest.raises(Refused) as refused:
        undo_step(viewer=plan.viewer, step_id=one.pk, revision=3)
    assert refused.value.code == "NOT_THE_LAST"
    undo_step(viewer=plan.viewer, step_id=two.pk, revision=3)
    assert snapshot(plan)[0] == second
    undo_step(viewer=plan.viewer, step_id=one.pk, revision=4)
    assert snapshot(plan)[0] == first
    with pytest.raises(Refused):
        undo_step(viewer=plan.viewer, step_id=one.pk, revision=5)


def test_an_undo_over_somebody_elses_change_is_a_conflict(plan):
    step = move(plan, "easy", 6)
    move(plan, "easy", 5, 19)
    with pytest.raises(Conflict):
        undo_step(viewer=plan.viewer, step_id=step.pk, revision=step.revision)
    with pytest.raises(NotFound):
        undo_step(viewer=viewer_for(plan.scene.coach, "coach"), step_id=step.pk, revision=3)


def test_an_accepted_proposal_is_undone_whole(plan):
    before = snapshot(plan)[0]
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    step = accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1)
    undo_step(viewer=plan.viewer, step_id=step.pk, revision=2)
    assert snapshot(plan)[0] == before


# Make from the season


def test_making_a_week_twice_adds_only_what_is_missing(plan):
    assert plan.week.demands.count() == 3
    make_week(viewer=plan.viewer, monday=plan.monday)
    assert (plan.week.demands.count(), plan.week.revision) == (3, 1)
    plan.demand("easy").delete()
    make_week(viewer=plan.viewer, monday=plan.monday)
    assert (plan.week.demands.count(), plan.week.revision) == (3, 2)
    assert starts(plan) == {"hard": plan.at(1, 18), "technique": plan.at(3, 18)}


@at_once
def test_two_who_make_a_week_at_once_make_it_once():
    plan = make_plan_scene()
    viewer = plan.viewer
    in_threads(*[lambda: make_week(viewer=viewer, monday=plan.monday)] * 4)
    assert (plan.week.demands.count(), plan.week.revision) == (3, 1)


def test_a_weeks_modifier_shortens_it():
    plan = make_plan_scene()
    WeekModifier.objects.create(club=plan.scene.club, season=plan.season, week=3, reason="exam", most_sessions=1)
    make_week(viewer=plan.viewer, monday=plan.monday)
    assert [demand.kind for demand in plan.week.demands.all()] == ["hard"]


def test_a_week_outside_the_season_is_refused():
    plan = make_plan_scene()
    with pytest.raises(Refused) as refused:
        make_week(viewer=plan.viewer, monday=plan.monday + timedelta(days=7 * 30))
    assert refused.value.code == "NO_SEASON"


# Publish


def publish(plan: PlanScene):
    return publish_week(viewer=plan.viewer, monday=plan.monday, revision=plan.week.revision)


def told(kind: str | None = None) -> Counter:
    rows = Notice.objects.filter(kind=kind) if kind else Notice.objects.all()
    return Counter((row.to.given_name, row.about.given_name if row.about else "") for row in rows)


def session(plan: PlanScene, kind: str) -> TrainingSession:
    return TrainingSession.objects.get(demand=plan.demand(kind))


def test_a_first_publishing_makes_sessions_rosters_and_notices(plan):
    done = publish(plan)
    assert (done.sessions, done.people) == (3, 6)
    technique = session(plan, "technique")
    assert (technique.starts_at, technique.ends_at) == (plan.at(3, 18), plan.at(3, 19))
    assert (technique.venue, list(technique.groups.all())) == (plan.scene.venue, [plan.scene.group])
    assert (technique.state, technique.changed_at, technique.change_words) == ("published", None, "")
    assert [row.coach for row in technique.session_coaches.all()] == [plan.scene.coach]
    assert {row.athlete.given_name for row in technique.session_athletes.all()} == {"Noela", "Ivo", "Tam"}
    assert plan.week.published_revision == plan.week.revision
    assert told("added") == Counter(
        {
            ("Noela", ""): 3,
            ("Ivo", ""): 3,
            ("Tam", ""): 3,
            ("Rona", ""): 3,
            ("Greta", "Noela"): 3,
            ("Greta", "Ivo"): 3,
            ("Carla", "Ivo"): 3,
        }
    )


def test_publishing_the_same_again_tells_nobody(plan):
    publish(plan)
    Notice.objects.all().delete()
    done = publish(plan)
    assert (done.sessions, done.people, Notice.objects.count()) == (0, 0, 0)


def test_a_moved_session_keeps_its_id_and_tells_whom_it_concerns(plan):
    publish(plan)
    kept = {kind: session(plan, kind).pk for kind in ("hard", "technique", "easy")}
    Notice.objects.all().delete()
    SessionAthlete.objects.update(seen_at=plan.viewer.now)
    move(plan, "easy", 6, 19)
    expected = publication_of(viewer=plan.viewer, week=plan.week).people
    done = publish(plan)
    easy = session(plan, "easy")
    assert {kind: session(plan, kind).pk for kind in kept} == kept
    assert (easy.starts_at, easy.changed_at is not None) == (plan.at(6, 19), True)
    assert "Sat 18:00" in easy.change_words
    assert "Sun 19:00" in easy.change_words
    assert set(Notice.objects.values_list("kind", "training_session")) == {("moved", easy.pk)}
    assert set(Notice.objects.values_list("to", flat=True)) == expected
    assert (done.sessions, done.people) == (1, 6)
    assert set(easy.session_athletes.values_list("seen_at", flat=True)) == {None}
    assert None not in set(session(plan, "hard").session_athletes.values_list("seen_at", flat=True))


def test_another_coach_concerns_the_coaches_alone(plan):
    publish(plan)
    Notice.objects.all().delete()
    move(plan, "easy", 5, coach_ids=[plan.scene.second_coach.pk])
    publish(plan)
    assert told("added") == Counter({("Bran", ""): 1})
    assert told("called_off") == Counter({("Rona", ""): 1})
    off = SessionCoach.objects.get(training_session=session(plan, "easy"), coach=plan.scene.coach)
    assert off.taken_off_at is not None


def test_who_stays_away_is_told_with_the_family_and_nobody_else(plan):
    publish(plan)
    Notice.objects.all().delete()
    Placement.objects.get(demand=plan.demand("easy")).excused.add(plan.scene.child)
    publish(plan)
    assert told() == Counter({("Ivo", ""): 1, ("Greta", "Ivo"): 1, ("Carla", "Ivo"): 1})
    row = SessionAthlete.objects.get(training_session=session(plan, "easy"), athlete=plan.scene.child)
    assert row.comes == "away"
    assert plan.scene.child.given_name not in session(plan, "easy").change_words


def test_an_easier_version_is_kept_over_a_new_plan_until_it_is_taken_back(plan):
    child, family = plan.scene.child, Counter({("Ivo", ""): 1, ("Greta", "Ivo"): 1, ("Carla", "Ivo"): 1})
    rows = SessionAthlete.objects.filter(training_session__demand=plan.demand("easy"), athlete=child)
    publish(plan)

    def easier(is_easier: bool, kind: str):
        Notice.objects.all().delete()
        set_easier(
            viewer=plan.viewer, monday=plan.monday, demand_id=plan.demand("easy").pk, athlete_id=child.pk,
            revision=plan.week.revision, is_easier=is_easier,
        )  # fmt: skip
        assert publish(plan).sessions == 1
        assert told() == told(kind) == family
        assert publish(plan).sessions == 0
        return rows.get().comes

    Placement.objects.get(demand=plan.demand("easy")).excused.add(child)
    assert easier(True, "easier") == "easier"

    def stays_excused(answers, found):
        shifted(plan, hard=1, technique=3, easy=6)(answers, found)
        answers[str(plan.demand("easy").pk)]["excused"] = [str(child.pk)]

    proposal = propose(plan, stays_excused)
    step = accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=plan.week.revision)
    proposal.refresh_from_db()
    assert (step.revision, proposal.state) == (plan.week.revision, "accepted")
    publish(plan)
    assert (rows.get().comes, session(plan, "easy").starts_at) == ("easier", plan.at(6, 18))
    assert easier(False, "called_off") == "away"
    assert easier(True, "easier") == "easier"
    Notice.objects.all().delete()
    Placement.objects.get(demand=plan.demand("easy")).excused.clear()
    Placement.objects.get(demand=plan.demand("easy")).easier.clear()
    publish(plan)
    assert (rows.get().comes, told()) == ("whole", told("added"))
    assert told() == family


def test_a_session_taken_out_is_called_off_and_can_come_back(plan):
    publish(plan)
    kept = session(plan, "easy").pk
    Notice.objects.all().delete()
    take_out_demand(
        viewer=plan.viewer, monday=plan.monday, demand_id=plan.demand("easy").pk, revision=plan.week.revision
    )
    publish(plan)
    assert session(plan, "easy").state == "called_off"
    assert sum(told("called_off").values()) == 7
    Notice.objects.all().delete()
    move(plan, "easy", 6)
    publish(plan)
    assert (session(plan, "easy").pk, session(plan, "easy").state) == (kept, "published")
    assert sum(told("added").values()) == 7


def test_guardians_are_told_only_where_they_may_see_the_plan(plan):
    """Unverified, limited, withheld, of an adult: each asked of the decision (the permissions contract)."""
    scene = plan.scene
    for name, authority in (("Una", "unverified"), ("Lim", "limited")):
        make_guardian(scene.child, name, authority=authority)
    withheld = make_guardian(scene.child, "Wim")
    Withholding.objects.create(
        club=scene.club, athlete=scene.child, guardian=withheld, set_by=scene.welfare, first_day=plan.viewer.today
    )
    link_guardian(scene.guardian, scene.adult_athlete)
    publish(plan)
    assert {pair for pair in told() if pair[1]} == {("Greta", "Noela"), ("Greta", "Ivo"), ("Carla", "Ivo")}


def test_a_new_member_joins_the_roster_and_one_who_left_goes(plan):
    publish(plan)
    Notice.objects.all().delete()
    scene = plan.scene
    joined = make_athlete(scene.club, "Jo", scene.group, age=20)
    GroupMembership.objects.filter(athlete=scene.adult_athlete).update(last_day=plan.monday - timedelta(days=1))
    publish(plan)
    roster = set(session(plan, "easy").session_athletes.values_list("athlete__given_name", flat=True))
    assert roster == {"Noela", "Ivo", "Jo"}
    assert told("added") == Counter({("Jo", ""): 3})
    assert told("called_off") == Counter({("Tam", ""): 3})
    assert joined.pk in set(Notice.objects.values_list("to", flat=True))


def test_who_left_the_roster_is_remembered_until_back_on_it(plan):
    publish(plan)
    tam = plan.scene.adult_athlete
    rows = GroupMembership.objects.filter(athlete=tam)
    rows.update(last_day=plan.monday - timedelta(days=1))
    publish(plan)
    left = RosterLeaver.objects.filter(training_session=session(plan, "easy"))
    assert list(left.values_list("athlete", flat=True)) == [tam.pk]
    rows.update(last_day=None)
    publish(plan)
    assert not left.exists()
    assert session(plan, "easy").session_athletes.filter(athlete=tam).exists()
    rows.update(last_day=plan.monday - timedelta(days=1))
    publish(plan)
    assert left.count() == 1


def test_a_session_moved_keeps_its_counter_of_entries(plan):
    """What is written of a session that is there already is what the plan says of it, never the counter."""
    publish(plan)
    move(plan, "easy", 6)
    with CaptureQueriesContext(connection) as found:
        publish(plan)
    table = TrainingSession._meta.db_table
    written = [one["sql"] for one in found if one["sql"].startswith(f'UPDATE "{table}"')]
    assert len(written) == 1
    assert '"starts_at"' in written[0]
    assert '"last_seq"' not in written[0]


def test_what_has_begun_stays_as_it_is(plan):
    publish(plan)
    Notice.objects.all().delete()
    take_out_demand(
        viewer=plan.viewer, monday=plan.monday, demand_id=plan.demand("hard").pk, revision=plan.week.revision
    )
    later = replace(plan.viewer, now=plan.at(1, 18, 5))
    publish_week(viewer=later, monday=plan.monday, revision=plan.week.revision)
    assert session(plan, "hard").state == "published"
    assert not Notice.objects.exists()


def test_a_helper_is_listed_as_one(plan):
    demand = plan.demand("easy")
    demand.observers = 2
    demand.save()
    demand.placement.coaches.add(plan.scene.helper)
    publish(plan)
    parts = dict(
        SessionCoach.objects.filter(training_session=session(plan, "easy")).values_list("coach__given_name", "part")
    )
    assert parts == {"Rona": "coach", "Piet": "helper"}


def test_publishing_an_old_revision_is_a_conflict_and_writes_nothing(plan):
    move(plan, "easy", 6)
    with pytest.raises(Conflict) as conflict:
        publish_week(viewer=plan.viewer, monday=plan.monday, revision=1)
    assert "Sprint easy" in conflict.value.fields["changed"][0]
    assert (TrainingSession.objects.filter(demand__week=plan.week).count(), Notice.objects.count()) == (0, 0)
    assert plan.week.published_revision is None


@at_once
def test_two_who_publish_at_once_tell_everybody_once(plan):
    viewer, revision = plan.viewer, plan.week.revision
    in_threads(*[lambda: publish_week(viewer=viewer, monday=plan.monday, revision=revision)] * 3)
    assert TrainingSession.objects.filter(demand__week=plan.week).count() == 3
    assert sum(told().values()) == 21


def test_writes_are_logged_and_a_refused_one_is_not(plan):
    proposal = propose(plan, shifted(plan, hard=2, technique=4))
    with pytest.raises(Refused):
        accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1, chosen=[plan.demand("hard").pk])
    step = accept_proposal(viewer=plan.viewer, proposal_id=proposal.pk, revision=1)
    undo_step(viewer=plan.viewer, step_id=step.pk, revision=2)
    move(plan, "easy", 6)
    publish(plan)
    lines = AccessLogEntry.objects.filter(club=plan.scene.club).order_by("seq").values_list("verb", "kind")
    assert list(lines) == [
        ("made", "week"),
        ("ask", "proposal"),
        ("solve", "proposal"),
        ("accepted", "week"),
        ("undone", "week"),
        ("moved", "week"),
        ("publish", "week"),
    ]
