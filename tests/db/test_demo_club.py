"""The invented club: what it holds, by which rules its weeks are made, and its file of facts."""

import stat
from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command
from django.db import transaction

from athletes.core import ages
from athletes.models import (
    Clearance,
    ContactNumber,
    EventGroup,
    GroupMembership,
    Guardianship,
    Membership,
    PermissionEvent,
    Person,
    StaffRole,
)
from sessions.core.entries.kinds import Role
from sessions.core.entries.shape import Entry as CoreEntry
from sessions.core.entries.shape import Poster, check_entry
from sessions.core.iso_week import monday_of
from sessions.demo.accounts import facts_of, known_passwords, renew_passwords, write_facts
from sessions.demo.club import OtherClubs, filling_of, make_demo_club
from sessions.demo.greeting import accounts_to_try
from sessions.models import (
    CoachEvening,
    Entry,
    Focus,
    GroupSettings,
    MeetEntry,
    OtherSport,
    Phase,
    Placement,
    SeasonPlan,
    TrainingSession,
    Unsuited,
    Venue,
    WeekModifier,
    WeekPlan,
)
from sessions.services.meet_results import time_run
from teamtrack.common.clock import now_in, today_in
from tests.demo_checks import assert_good_for_today, assert_sound_week, day_of, full_sessions_of_today
from tests.entries import pains_kept
from tests.people import make_club

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made(django_db_setup, django_db_blocker):
    """The club and its passwords, made once for this file."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_demo_club(seed=1)
        transaction.set_rollback(True)


@pytest.fixture
def club(made):
    return made[0]


@pytest.fixture
def facts(made):
    club, passwords = made
    return facts_of(club, base_url="http://127.0.0.1:8000", passwords=passwords)


def athletes():
    return Person.objects.filter(memberships__isnull=False)


def ages_of(people, day):
    return [ages.age_on(person.birth_date, day) for person in people if person.birth_date]


def test_about_ninety_athletes_from_ten_to_twenty_four(club):
    years = ages_of(athletes(), today_in(club.timezone))
    assert Membership.objects.count() == 90
    assert (min(years), max(years)) == (10, 24)


def test_six_event_groups_and_some_athletes_in_two(club):
    in_groups = Counter(GroupMembership.objects.values_list("athlete_id", flat=True))
    assert (
        sorted(EventGroup.objects.values_list("discipline", flat=True))
        == ["distance"] * 2 + ["sprint"] * 2 + ["youth"] * 2
    )
    assert Counter(in_groups.values()) == {1: 82, 2: 8}


def test_eight_coaches_one_of_sixteen_and_one_on_two_evenings(club):
    coaches = Person.objects.filter(staff_roles__role="coach")
    assert coaches.count() == 8
    assert sorted(ages_of(coaches, today_in(club.timezone)))[:2] == [16, 31]
    evenings = Counter(CoachEvening.objects.values_list("coach_id", flat=True))
    assert sorted(evenings.values())[0] == 2


def test_a_check_runs_out_soon(club):
    today = today_in(club.timezone)
    soon = Clearance.objects.filter(expires_on__gte=today, expires_on__lte=today + timedelta(days=30))
    assert soon.count() == 1


def test_two_head_coaches_an_admin_and_a_welfare_lead_with_a_deputy(club):
    roles = Counter(StaffRole.objects.values_list("role", flat=True))
    assert roles == {"coach": 8, "head_coach": 2, "admin": 1, "welfare": 2}


def test_guardians_with_every_authority_and_some_with_several_children(club):
    authorities = set(Guardianship.objects.values_list("authority", flat=True))
    children = Counter(Guardianship.objects.values_list("guardian_id", flat=True))
    assert authorities == {"full", "care", "limited", "unverified"}
    assert max(children.values()) >= 2


def test_every_athlete_but_one_has_somebody_to_ring(club):
    assert athletes().exclude(pk__in=ContactNumber.objects.values("athlete")).count() == 1
    assert athletes().filter(birth_date=None).count() == 1


def test_three_venues_one_dark_one_shared(club):
    flags = sorted(Venue.objects.values_list("has_lights", "is_shared"))
    assert flags == [(False, False), (True, False), (True, True)]


def test_a_season_of_forty_weeks(club):
    season = SeasonPlan.objects.get()
    weeks = [week for phase in Phase.objects.all() for week in range(phase.first_week, phase.last_week + 1)]
    assert season.weeks == 40
    assert weeks == list(range(1, 41))
    assert all(phase.pattern_items.values("group").distinct().count() == 6 for phase in Phase.objects.all())
    assert WeekModifier.objects.filter(season=season).count() >= 4


def test_effort_bands_by_group_and_none_for_the_youngest(club):
    bands = {row.group.name: (row.effort_low_pct, row.effort_high_pct, row.effort_words) for row in _settings()}
    assert bands["Sprint"] == (80, 90, "")
    assert bands["800 and 1500"] == (None, None, "finishing pace, then race pace")
    assert bands["Youth 10 to 12"] == (None, None, "")
    assert sum(bool(row.policy) for row in _settings()) >= 3


def _settings():
    return GroupSettings.objects.select_related("group")


def test_ten_weeks_of_which_the_next_is_not_placed(club):
    this_monday = monday_of(today_in(club.timezone))
    weeks = {week.monday: week for week in WeekPlan.objects.all()}
    assert sorted(weeks) == [this_monday + timedelta(weeks=number) for number in range(-8, 2)]
    next_week = weeks.pop(this_monday + timedelta(weeks=1))
    assert next_week.published_at is None
    assert next_week.demands.count() >= 18
    assert not Placement.objects.filter(demand__week=next_week).exists()
    assert all(week.published_at is not None for week in weeks.values())


@pytest.mark.parametrize("weeks_ago", [1, 0])
def test_published_weeks_place_all_and_break_no_rule(club, weeks_ago):
    assert_sound_week(club, weeks_ago=weeks_ago)


def test_what_is_published_is_what_was_placed(club):
    for session in TrainingSession.objects.filter(demand__isnull=False).select_related("demand__placement"):
        placement = session.demand.placement
        assert (session.starts_at, session.ends_at, session.venue_id) == (
            placement.starts_at,
            placement.ends_at,
            placement.venue_id,
        )


def test_past_sessions_hold_entries_of_every_kind_but_runs_and_none_is_of_today_or_later(club):
    kinds = set(Entry.objects.values_list("kind", flat=True))
    assert kinds == {"observation", "cue", "own_view", "stop", "pain", "presence", "felt", "day"}
    midnight = datetime.combine(today_in(club.timezone), datetime.min.time(), UTC) - timedelta(hours=12)
    coming = TrainingSession.objects.filter(starts_at__gte=midnight + timedelta(hours=12))
    assert not Entry.objects.filter(training_session__in=coming).exists()
    assert Entry.objects.filter(training_session__kind="technique").count() > 4000


def test_every_entry_is_one_that_the_exchange_would_take(club):
    pains = {row.pk: said for row, said in pains_kept()}
    helpers = filling_of(club, seed=1).helpers
    for row in Entry.objects.order_by("training_session", "seq").iterator():
        raw = _as_posted(row, pains)
        role = Role.ATHLETE if row.by_athlete else Role.COACH
        assert row.by_id not in helpers
        checked = check_entry(raw, session=str(row.training_session_id), poster=Poster(str(row.by_id), role))
        assert isinstance(checked, CoreEntry), (raw, checked)


def _as_posted(row, pains):
    own = dict(row.content)
    if row.kind == "pain":
        own = pains[row.pk]
    return {
        "id": str(row.pk),
        "session": str(row.training_session_id),
        "kind": row.kind,
        "athlete": str(row.athlete_id),
        "stride": row.stride,
        "at": row.at,
        "device": row.device,
        **own,
    }


def test_every_athlete_has_one_or_two_points_in_hand(club):
    points = Counter(Focus.objects.filter(until=None).values_list("athlete_id", flat=True))
    assert len(points) == 90
    assert set(points.values()) == {1, 2}


def test_answers_of_every_kind(club):
    assert set(PermissionEvent.objects.values_list("answer", flat=True)) == {"yes", "no", "withdrawn"}
    assert set(PermissionEvent.objects.values_list("evidence", flat=True)) == {1, 2}
    assert athletes().filter(permission_events=None).count() >= 2


def test_a_technique_session_of_today_with_all_that_is_asked_of_it(club, facts):
    assert_good_for_today(club, facts)


def test_facts_have_the_shape_of_the_contract(facts):
    assert set(facts) == {"base_url", "accounts", "sessions", "features"}
    account_keys = {"username", "password", "roles", "person", "groups", "children", "age"}
    session_keys = {"id", "kind", "start", "end", "venue", "groups", "coaches", "athletes"}
    assert all(set(account) == account_keys for account in facts["accounts"])
    assert all(set(session) == session_keys for session in facts["sessions"])
    assert len(facts["features"]) >= 5
    assert len({account["username"] for account in facts["accounts"]}) == len(facts["accounts"])


def test_facts_hold_each_role_alone(club, facts):
    assert set(accounts_to_try(facts)) == {"head_coach", "coach", "athlete", "guardian", "admin", "welfare"}
    on_today = {key for session in full_sessions_of_today(club, facts) for key in session["athletes"]}
    groups_today = {key for session in full_sessions_of_today(club, facts) for key in session["groups"]}
    alone = {role: [row for row in facts["accounts"] if row["roles"] == [role]] for role in ("athlete", "coach")}
    assert any(row["person"] not in on_today for row in alone["athlete"])
    assert any(row["age"] >= 18 and not groups_today & set(row["groups"]) for row in alone["coach"])
    assert sum(row["age"] >= 18 for row in alone["coach"]) >= 4
    authorities = Guardianship.objects.filter(
        guardian__in=[row["person"] for row in facts["accounts"] if row["roles"] == ["guardian"]]
    ).values_list("authority", flat=True)
    assert {"full", "care", "limited"} <= set(authorities)


def test_facts_hold_athletes_on_both_sides_of_every_age(facts):
    years = [row["age"] for row in facts["accounts"] if row["roles"] == ["athlete"] and row["age"] is not None]
    assert min(years) < 13
    assert max(years) >= 18
    assert any(13 <= age < 16 for age in years)
    assert any(16 <= age < 18 for age in years)


def test_technique_sessions_past_today_and_coming(club, facts):
    today = today_in(club.timezone)
    days = {day_of(session) for session in facts["sessions"] if session["kind"] == "technique"}
    assert min(days) < today < max(days)
    assert today in days


def test_other_sports_meet_entries_and_what_does_not_suit_are_there(club):
    """A result that is a time of a running event is a mark; words that do not suit were really said."""
    assert sorted(OtherSport.objects.values_list("effort", flat=True)) == ["easy", "hard", "moderate"]
    now = now_in(club.timezone)
    past, to_come = (
        MeetEntry.objects.filter(training_session__starts_at__lt=now),
        MeetEntry.objects.exclude(training_session__starts_at__lt=now),
    )
    assert past.exists() and not past.filter(result="").exists()
    assert to_come.exists() and not to_come.exclude(result="").exists()
    run = [time_run(entry.event, entry.result) for entry in past]
    assert [entry.mark and entry.mark.time_ms for entry in past] == [one and one.time_ms for one in run]
    assert any(run)
    *with_words, point = sorted(Unsuited.objects.all(), key=lambda row: not row.words)
    assert (len(with_words), point.words) == (3, "")
    said = {(row.athlete_id, row.content["words"]) for row in Entry.objects.filter(kind="cue")}
    assert {(row.athlete_id, row.words) for row in with_words} <= said


def test_the_access_log_is_whole_and_says_that_the_club_was_made(club, capsys):
    call_command("verify_access_log")
    assert "whole" in capsys.readouterr().out


def test_facts_are_written_for_their_owner_alone_and_read_back(facts, tmp_path):
    path = tmp_path / "facts.json"
    write_facts(path, facts)
    write_facts(path, facts)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert known_passwords(path) == {row["username"]: row["password"] for row in facts["accounts"]}
    assert known_passwords(tmp_path / "none.json") is None


def test_passwords_can_be_renewed(club, facts):
    with transaction.atomic():
        renewed = renew_passwords(club)
        transaction.set_rollback(True)
    assert set(renewed) == {row["username"] for row in facts["accounts"]}
    assert all(renewed[row["username"]] != row["password"] for row in facts["accounts"])


def test_no_demo_club_beside_another(made):
    with transaction.atomic():
        make_club(name="Far Meadow Harriers")
        with pytest.raises(OtherClubs):
            make_demo_club(seed=1)
        transaction.set_rollback(True)
