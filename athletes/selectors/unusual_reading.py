"""Unusual reading of health notes, pointed out by plain rules that stand on the page: no score, no verdict.

The rules are the house's own (common practice, no source): a day with health notes of many athletes, reading at night,
reading of athletes outside the own groups, and what was opened in an emergency.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from athletes.models import AccessLogEntry, CoachAssignment, GroupMembership, Person, PseudonymKey
from athletes.models.accounts import Role
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound

MANY_ATHLETES = 10
NIGHT_FROM, NIGHT_TO = 22, 5
"""By the club's clock: from 22:00 to 4:59."""

LOOKS_BACK = timedelta(days=30)
HEALTH_KINDS = ("pain", "health")
EMERGENCY = "emergency_access"

NOBODY = UUID(int=0)
"""Nobody's id: asked for beside the others, so that the number of queries does not tell whether there are any."""


@dataclass(frozen=True)
class Unusual:
    """One thing to ask about: who read, on which day, by which rule, and of how many athletes."""

    day: date
    actor_name: str
    rule: str
    athletes: int


def unusual_reading(viewer: Viewer) -> list[Unusual]:
    """What the rules point out in the last 30 days, newest first; for admin and welfare lead alone."""
    if viewer.role not in (Role.ADMIN, Role.WELFARE):
        raise NotFound()
    asked = Q(verb="read", kind__in=HEALTH_KINDS) | Q(verb="open", kind=EMERGENCY)
    rows = AccessLogEntry.objects.filter(asked, club=viewer.club_id, at__gte=viewer.now - LOOKS_BACK)
    zone = ZoneInfo(viewer.club.timezone)
    of_day: dict[tuple[str, date], set[str]] = defaultdict(set)
    at_night: dict[tuple[str, date], set[str]] = defaultdict(set)
    by_coach: dict[tuple[str, date], set[str]] = defaultdict(set)
    in_need: dict[tuple[str, date], set[str]] = defaultdict(set)
    said = rows.values_list("kind", "actor", "actor_role", "subject", "at")
    for kind, actor, role, subject, at in said.iterator(chunk_size=2000):
        local = at.astimezone(zone)
        if kind == EMERGENCY:
            in_need[actor, local.date()].add(subject)
            continue
        of_day[actor, local.date()].add(subject)
        if role == Role.COACH:
            by_coach[actor, local.date()].add(subject)
        if local.hour >= NIGHT_FROM or local.hour < NIGHT_TO:
            at_night[actor, local.date()].add(subject)
    people = _people({one for (actor, _), read in [*of_day.items(), *in_need.items()] for one in (actor, *read)})
    many = {place: read for place, read in of_day.items() if len(read) >= MANY_ATHLETES}
    found = [("many", many), ("night", at_night), ("outside", _outside(by_coach, people)), ("emergency", in_need)]
    named = [
        Unusual(day, people[actor].full_name if actor in people else "", rule, len(read))
        for rule, places in found
        for (actor, day), read in places.items()
        if read
    ]
    return sorted(named, key=lambda one: (one.day, one.actor_name, one.rule), reverse=True)


def _people(pseudonyms: Iterable[str]) -> dict[str, Person]:
    keys = PseudonymKey.objects.filter(pseudonym__in={"", *pseudonyms}).select_related("person")
    return {key.pseudonym: key.person for key in keys}


def _outside(by_coach: dict[tuple[str, date], set[str]], people: dict[str, Person]) -> dict[tuple[str, date], set[str]]:
    """Those read by a coach who on that day was assigned to none of their groups; two queries however much was read."""
    coaches = {people[actor].pk for actor, _ in by_coach if actor in people}
    athletes = {people[one].pk for read in by_coach.values() for one in read if one in people}
    coached = _spells(CoachAssignment.objects.filter(coach__in={NOBODY, *coaches}), "coach_id")
    trained = _spells(GroupMembership.objects.filter(athlete__in={NOBODY, *athletes}), "athlete_id")
    return {
        (actor, day): {
            one
            for one in read
            if one in people and not _on(coached[people[actor].pk], day) & _on(trained[people[one].pk], day)
        }
        for (actor, day), read in by_coach.items()
        if actor in people
    }


def _spells(rows: QuerySet[Any], of: str) -> dict[UUID, list[tuple[UUID, date, date | None]]]:
    """By person: each group with its first and last day."""
    found = defaultdict(list)
    for person_id, *spell in rows.values_list(of, "group_id", "first_day", "last_day"):
        found[person_id].append(tuple(spell))
    return found


def _on(spells: Iterable[tuple[UUID, date, date | None]], day: date) -> set[UUID]:
    return {group for group, first, last in spells if first <= day and (last is None or day <= last)}
