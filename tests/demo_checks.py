"""What the driving contract says that the invented club holds, told from its file of facts and from the decision."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from athletes.access import answers_for
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Account, Club, Person
from athletes.viewer import viewer_for
from sessions.core.iso_week import monday_of
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import broken_rules
from sessions.demo.club import filling_of
from sessions.models import WeekPlan
from sessions.selectors.planning_problem import build_problem
from sessions.selectors.week_draft import demands_of, draft_places
from teamtrack.common.clock import today_in

OPTIONAL = ("health", "share", "feed")


def day_of(session: Mapping[str, Any]) -> object:
    return datetime.fromisoformat(session["start"]).date()


def full_sessions_of_today(club: Club, facts: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Technique sessions of today with twelve athletes, two adult coaches with accounts and a helper under 18."""
    ages = {account["username"]: account["age"] for account in facts["accounts"]}
    today = today_in(club.timezone)
    return [
        session
        for session in facts["sessions"]
        if session["kind"] == "technique"
        and day_of(session) == today
        and len(session["athletes"]) >= 12
        and sum(ages[username] >= 18 for username in session["coaches"]) >= 2
        and any(ages[username] < 18 for username in session["coaches"])
    ]


def permissions_on(club: Club, session: Mapping[str, Any]) -> dict[str, set[str]]:
    """By athlete of a session the optional purposes that are in force and name both adult coaches.

    Health as the coaches ask it on the session; share as if they asked it as coaches of another group; feed as the
    athlete asks it.
    """
    coaches = Person.objects.filter(account__username__in=session["coaches"])
    adults = [coach for coach in coaches if coach.birth_date.year < today_in(club.timezone).year - 18]
    assert len(adults) >= 2
    people = list(Person.objects.filter(pk__in=session["athletes"]))
    allowed = {str(person.pk): set(OPTIONAL) for person in people}
    for coach in adults:
        viewer = viewer_for(coach, "coach")
        for purpose, acting_as in (("health", ActingRole.COACH), ("share", ActingRole.COACH_OTHER)):
            found = answers_for(viewer=viewer, athletes=people, purposes=[purpose], acting_as=acting_as)
            _keep(allowed, purpose, found.allowed_ids(purpose))
    own = answers_for(
        viewer=viewer_for(adults[0], "coach"),
        athletes=people,
        purposes=["feed"],
        acting_as=ActingRole.ATHLETE,
        readers=[person.pk for person in people],
    )
    _keep(allowed, "feed", own.allowed_ids("feed"))
    return allowed


def _keep(allowed: dict[str, set[str]], purpose: str, ids: set[UUID]) -> None:
    for key, purposes in allowed.items():
        if UUID(key) not in ids:
            purposes.discard(purpose)


def assert_good_for_today(club: Club, facts: Mapping[str, Any]) -> None:
    """One technique session of today with all that the contract asks of it."""
    sessions = full_sessions_of_today(club, facts)
    assert sessions
    on_it = permissions_on(club, sessions[0])
    with_all = {key for key, purposes in on_it.items() if purposes == set(OPTIONAL)}
    assert len(with_all) >= 8
    assert Account.objects.filter(person__in=with_all).count() >= 2
    assert any("health" not in purposes for purposes in on_it.values())


def assert_sound_week(club: Club, *, weeks_ago: int) -> None:
    """Every demand of a published week has its place, and no place breaks a rule of the planner."""
    monday = monday_of(today_in(club.timezone)) - timedelta(weeks=weeks_ago)
    filling = filling_of(club, seed=1)
    week = WeekPlan.objects.get(club=club, monday=monday)
    document = build_problem(viewer=filling.at(filling.week(monday).starts_at), week=week).document
    places = draft_places(demands_of(week))
    problem = read_problem(document)
    assert len(places) == len(problem.demands) == week.demands.count()
    assert broken_rules(problem, [place.as_placement(key) for key, place in places.items()]) == []
