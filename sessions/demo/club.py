"""Makes the invented club, or brings one made before up to the end of next week."""

from collections.abc import Mapping
from datetime import date, timedelta

from django.db import transaction

from athletes.core import ages
from athletes.models import Club, Person, StaffRole
from athletes.services.access_log import Act, log_acts
from athletes.viewer import viewer_for
from sessions.core.iso_week import monday_of
from sessions.demo import layout
from sessions.demo.accounts import make_accounts
from sessions.demo.club_rows import write_club
from sessions.demo.elsewhere import write_other_sports
from sessions.demo.entries_of_meets import write_meet_entries
from sessions.demo.extra_sessions import ensure_session_today, write_agreed_session, write_meets
from sessions.demo.history_rows import write_history, write_points, write_words_to_come
from sessions.demo.people import draw_roster
from sessions.demo.people_rows import Family, write_people
from sessions.demo.weeks import Filling, fill_week
from sessions.demo.what_does_not_suit import write_unsuited
from sessions.models import TrainingSession, WeekPlan
from sessions.services.make_week import make_week
from teamtrack.common.clock import today_in
from teamtrack.common.errors import Refused

WEEKS_BACK = 8


class OtherClubs(Exception):
    """The database holds clubs that are not the demo's."""


@transaction.atomic
def make_demo_club(*, seed: int) -> tuple[Club, dict[str, str]]:
    """Make the club as it is today, whole or not at all; returns it with the passwords of its accounts.

    Raises OtherClubs where the database holds a club already.
    """
    if Club.objects.exists():
        raise OtherClubs
    today = today_in(layout.ZONE)
    rows = write_club(today=today)
    families = write_people(rows, draw_roster(seed=seed, today=today), seed=seed)
    passwords = make_accounts(_who_sign_in(rows.staff, families))
    filling = filling_of(rows.club, seed=seed)
    write_meets(filling, dict(rows.groups))
    write_meet_entries(filling)
    write_agreed_session(filling, rows.groups["young"])
    this_monday = monday_of(today)
    written = [
        session
        for number in range(-WEEKS_BACK, 1)
        for session in fill_week(filling, this_monday + timedelta(weeks=number))
    ]
    make_week(viewer=filling.viewer, monday=this_monday + timedelta(weeks=1))
    ensure_session_today(filling)
    write_points(filling)
    write_history(filling, written)
    write_unsuited(filling)
    write_words_to_come(filling)
    write_other_sports(filling)
    log_acts(viewer=filling.viewer, acts=[Act("make", "demo_club", None, ("people", "weeks", "entries"))])
    return rows.club, passwords


@transaction.atomic
def extend_demo_club(club: Club, *, seed: int) -> list[TrainingSession]:
    """Add what is missing to the end of next week, a technique session of today included; change nothing entered."""
    filling = filling_of(club, seed=seed)
    this_monday = monday_of(filling.viewer.today)
    written: list[TrainingSession] = []
    monday = _first_missing(club, this_monday)
    while monday <= this_monday:
        written += _fill_if_in_season(filling, monday)
        monday += timedelta(weeks=1)
    _make_if_in_season(filling, monday)
    write_history(filling, written)
    added = ensure_session_today(filling)
    written += [added] if added else []
    if written:
        log_acts(viewer=filling.viewer, acts=[Act("extend", "demo_club", None, ("weeks",))])
    return written


def filling_of(club: Club, *, seed: int) -> Filling:
    """The head coach fills the weeks."""
    heads = StaffRole.objects.filter(club=club, role="head_coach").select_related("person")
    head = heads.order_by("person__family_name", "person__given_name")[0].person
    viewer = viewer_for(head, "head_coach")
    coaches = Person.objects.filter(club=club, staff_roles__role="coach")
    born = coaches.values_list("pk", "birth_date")
    helpers = frozenset(pk for pk, day in born if day and ages.is_minor(ages.age_on(day, viewer.today)))
    return Filling(viewer=viewer, seed=seed, helpers=helpers)


def demo_club() -> Club | None:
    """The demo's club, if it was made."""
    return Club.objects.filter(name=layout.CLUB_NAME).first()


def _first_missing(club: Club, this_monday: date) -> date:
    """The first week, up to this one, that is not published: none before the last published one is looked at."""
    published = WeekPlan.objects.filter(club=club, published_at__isnull=False, monday__lte=this_monday)
    last = published.order_by("-monday").values_list("monday", flat=True).first()
    return this_monday if last is None else min(last + timedelta(weeks=1), this_monday)


def _fill_if_in_season(filling: Filling, monday: date) -> list[TrainingSession]:
    try:
        return fill_week(filling, monday)
    except Refused:
        return []


def _make_if_in_season(filling: Filling, monday: date) -> None:
    if WeekPlan.objects.filter(club=filling.viewer.club_id, monday=monday).exists():
        return
    try:
        make_week(viewer=filling.viewer, monday=monday)
    except Refused:
        return


def _who_sign_in(staff: Mapping[str, Person], families: list[Family]) -> dict[str, Person]:
    """By user name: all staff, some athletes, some guardians."""
    found = dict(staff)
    for family in families:
        if family.plan.username:
            found[family.plan.username] = family.athlete
        for plan, person in zip(family.plan.guardians, family.guardians, strict=True):
            if plan.username:
                found[plan.username] = person
    return found
