"""Later starts of the invented club add what is missing and change nothing that was entered."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import transaction

from sessions.core.iso_week import monday_of
from sessions.demo.accounts import facts_of
from sessions.demo.club import extend_demo_club, make_demo_club
from sessions.models import (
    Availability,
    Entry,
    Placement,
    SessionAthlete,
    SessionCoach,
    TrainingSession,
    WeekPlan,
)
from teamtrack.common.clock import today_in
from tests.demo_checks import assert_good_for_today
from tests.demo_dump import dump, undone
from tests.sizes import LONG

KEPT = (Entry, TrainingSession, SessionAthlete, SessionCoach, Placement, Availability)


pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def made(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_demo_club(seed=1)
        transaction.set_rollback(True)


def rows_of(model):
    return {row["id"]: row for row in model.objects.values()}


@pytest.mark.parametrize("days", [0, 1, 2, 4, 7, 9, 24] if LONG else [0, 9])
def test_a_later_start_adds_to_the_end_of_next_week_and_changes_nothing(made, settings, days):
    club, passwords = made
    with undone():
        before = {model: rows_of(model) for model in KEPT}
        settings.CLUB_DAY_SHIFT = days
        extend_demo_club(club, seed=1)
        for model, rows in before.items():
            after = rows_of(model)
            assert {key: after[key] for key in rows} == rows
        assert_good_for_today(club, facts_of(club, base_url="", passwords=passwords))
        next_monday = monday_of(today_in(club.timezone)) + timedelta(weeks=1)
        assert WeekPlan.objects.get(monday=next_monday).demands.exists()
        call_command("verify_access_log")


def test_a_second_start_on_the_same_day_adds_nothing(made):
    club, _passwords = made
    with undone():
        before = dump()
        assert extend_demo_club(club, seed=1) == []
        assert dump() == before


def test_what_the_head_coach_has_begun_is_left_alone(made, settings):
    club, passwords = made
    with undone():
        week = WeekPlan.objects.get(monday=monday_of(today_in(club.timezone)) + timedelta(weeks=1))
        demand = week.demands.filter(kind="easy").first()
        begins = TrainingSession.objects.order_by("starts_at").last().starts_at
        Placement.objects.create(
            club=club, demand=demand, starts_at=begins, ends_at=begins + timedelta(hours=1), venue=demand.venues.first()
        )
        settings.CLUB_DAY_SHIFT = 7
        extend_demo_club(club, seed=1)
        assert Placement.objects.filter(demand__week=week).count() == 1
        assert_good_for_today(club, facts_of(club, base_url="", passwords=passwords))
