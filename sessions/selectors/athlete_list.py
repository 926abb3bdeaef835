"""The athletes of whom a coach or the head coach may see something, by event group, with what is in hand."""

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from athletes.access import athletes_and_answers
from athletes.models import EventGroup, GroupMembership, Person
from athletes.viewer import Viewer, in_force
from sessions.models import Feature
from sessions.selectors.form_history import may_read_history, points_in_hand


@dataclass(frozen=True)
class ListedAthlete:
    """One athlete; `points` is None where this reader may not see what is in hand."""

    athlete: Person
    points: tuple[Feature, ...] | None


@dataclass(frozen=True)
class ListedGroup:
    """An event group with its athletes, by name; those in no group stand under None."""

    group: EventGroup | None
    athletes: tuple[ListedAthlete, ...]


def athlete_list(*, viewer: Viewer) -> list[ListedGroup]:
    """Groups in the club's order; an athlete of two groups stands in both; a fixed number of queries."""
    _people, answers = athletes_and_answers(viewer, ("record", "share", "feedback"))
    people = [
        person
        for person in answers.found.athletes.values()
        if answers.may(person.pk, "record") or answers.may(person.pk, "share")
    ]
    with_history = {person.pk for person in people if may_read_history(answers, person.pk)}
    points = points_in_hand(viewer=viewer, athlete_ids=with_history)
    groups_of = _groups_of(viewer, [person.pk for person in people])
    listed: dict[EventGroup | None, list[ListedAthlete]] = defaultdict(list)
    for person in people:
        shown = points[person.pk] if person.pk in with_history else None
        for group in groups_of.get(person.pk) or [None]:
            listed[group].append(ListedAthlete(person, shown))
    return [ListedGroup(group, tuple(listed[group])) for group in sorted(listed, key=_place)]


def _groups_of(viewer: Viewer, athlete_ids: list[UUID]) -> dict[UUID, list[EventGroup | None]]:
    rows = GroupMembership.objects.filter(in_force(viewer.today), athlete__in=athlete_ids).select_related("group")
    found: dict[UUID, list[EventGroup | None]] = defaultdict(list)
    for row in rows:
        if row.group not in found[row.athlete_id]:
            found[row.athlete_id].append(row.group)
    return found


def _place(group: EventGroup | None) -> tuple[bool, int, str]:
    return (True, 0, "") if group is None else (False, group.order, group.name)
