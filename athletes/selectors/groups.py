"""Reads of squads and event groups: who is in them now and soon, who coaches them, who moves with the age groups."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from uuid import UUID

from django.db.models import Q

from athletes.access import athletes_visible_to
from athletes.core.age_groups import AgeSquad, Placed, roll_over
from athletes.models import (
    CoachAssignment,
    EventGroup,
    GroupMembership,
    PeopleStep,
    Person,
    Squad,
    SquadMembership,
    StaffRole,
)
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound

SHOWN_STEPS = 10
GROUP_STAFF = (Role.ADMIN, Role.HEAD_COACH)


@dataclass(frozen=True)
class GroupLine:
    """An event group with how many are in it today, and its coaches of today."""

    group: EventGroup
    count: int
    coaches: tuple[Person, ...]


@dataclass(frozen=True)
class Groups:
    """The page of squads and groups: squads with how many are in each today."""

    squads: tuple[tuple[Squad, int], ...]
    groups: tuple[GroupLine, ...]


@dataclass(frozen=True)
class Stay:
    """Somebody in a group, from when, and until when if that is settled."""

    person: Person
    first_day: date
    last_day: date | None
    is_coming: bool


@dataclass(frozen=True)
class GroupPage:
    """One event group: its athletes and coaches now and soon, who else could come, who could take it over."""

    group: EventGroup
    members: tuple[Stay, ...]
    others: tuple[Person, ...]
    coaches: tuple[Stay, ...]
    could_take_over: tuple[Person, ...]


@dataclass(frozen=True)
class RollOverRule:
    """On which day age groups move, and on which day age is counted."""

    day: date
    counted_on: date


@dataclass(frozen=True)
class ShownMove:
    """One athlete who moves; `before` is nothing for who was in no squad."""

    athlete: Person
    before: Squad | None
    after: Squad

    @property
    def key(self) -> str:
        """What the move is, as a page carries it."""
        return f"{self.athlete.pk}:{self.after.pk}"


@dataclass(frozen=True)
class RollOverPreview:
    """What a rule does, by name; and of whom nothing can be said."""

    rule: RollOverRule
    moves: tuple[ShownMove, ...]
    without_birth_date: tuple[Person, ...]
    without_squad: tuple[Person, ...]
    has_squads: bool

    @cached_property
    def keys(self) -> tuple[str, ...]:
        return tuple(move.key for move in self.moves)


def groups_overview(viewer: Viewer) -> Groups:
    """All squads and event groups with how many are in each; a fixed number of queries."""
    viewer.must_be(*GROUP_STAFF)
    known = {person.pk for person in athletes_visible_to(viewer)}
    held = in_force(viewer.today)
    in_squads = Counter(SquadMembership.objects.filter(held, athlete__in=known).values_list("squad_id", flat=True))
    in_groups = Counter(GroupMembership.objects.filter(held, athlete__in=known).values_list("group_id", flat=True))
    coaches: dict[UUID, list[Person]] = defaultdict(list)
    for row in CoachAssignment.objects.filter(held, club=viewer.club_id).select_related("coach"):
        coaches[row.group_id].append(row.coach)
    return Groups(
        squads=tuple((one, in_squads[one.pk]) for one in Squad.objects.filter(club=viewer.club_id)),
        groups=tuple(
            GroupLine(one, in_groups[one.pk], tuple(coaches[one.pk]))
            for one in EventGroup.objects.filter(club=viewer.club_id)
        ),
    )


def group_page(viewer: Viewer, group_id: UUID) -> GroupPage:
    """One event group; absent and not yours are the same. A fixed number of queries."""
    viewer.must_be(*GROUP_STAFF)
    group = EventGroup.objects.filter(pk=group_id, club=viewer.club_id).first()
    if group is None:
        raise NotFound()
    known = {person.pk: person for person in athletes_visible_to(viewer)}
    rows = GroupMembership.objects.filter(_now_or_coming(viewer), group=group, athlete__in=known)
    members = _stays(rows.select_related("athlete"), "athlete", viewer)
    leading = CoachAssignment.objects.filter(_now_or_coming(viewer), group=group).select_related("coach")
    coaches = _stays(leading, "coach", viewer)
    inside = {one.person.pk for one in members if one.last_day is None}
    able = StaffRole.objects.filter(in_force(viewer.today), club=viewer.club_id, role=Role.COACH)
    return GroupPage(
        group=group,
        members=members,
        others=tuple(person for pk, person in known.items() if pk not in inside),
        coaches=coaches,
        could_take_over=_by_name(row.person for row in able.select_related("person")),
    )


def roll_over_preview(*, viewer: Viewer, rule: RollOverRule) -> RollOverPreview:
    """Who would move on the rule's day, by name; a fixed number of queries."""
    people = {str(person.pk): person for person in athletes_visible_to(viewer)}
    squads = {str(squad.pk): squad for squad in Squad.objects.filter(club=viewer.club_id)}
    then = dict(
        SquadMembership.objects.filter(in_force(rule.day), athlete__in=list(people)).values_list(
            "athlete_id", "squad_id"
        )
    )
    found = roll_over(
        (Placed(pk, one.birth_date, str(then[one.pk]) if one.pk in then else None) for pk, one in people.items()),
        squads=[AgeSquad(pk, squad.under) for pk, squad in squads.items() if squad.under is not None],
        counted_on=rule.counted_on,
    )
    return RollOverPreview(
        rule=rule,
        moves=tuple(
            ShownMove(people[move.athlete], squads[move.before] if move.before else None, squads[move.after])
            for move in found.moves
        ),
        without_birth_date=tuple(people[one] for one in found.without_birth_date),
        without_squad=tuple(people[one] for one in found.without_squad),
        has_squads=any(squad.under is not None for squad in squads.values()),
    )


def latest_steps(viewer: Viewer, *kinds: PeopleStep.What) -> list[PeopleStep]:
    """What was done last, newest first."""
    viewer.must_be(*GROUP_STAFF)
    rows = PeopleStep.objects.filter(club=viewer.club_id, what__in=kinds).select_related("by")
    return list(rows[:SHOWN_STEPS])


def _now_or_coming(viewer: Viewer) -> Q:
    return Q(last_day__isnull=True) | Q(last_day__gte=viewer.today)


def _stays(rows: Iterable[GroupMembership | CoachAssignment], who: str, viewer: Viewer) -> tuple[Stay, ...]:
    stays = [
        Stay(getattr(row, who), row.first_day, row.last_day, is_coming=row.first_day > viewer.today) for row in rows
    ]
    return tuple(sorted(stays, key=lambda one: (one.person.family_name, one.person.given_name, one.first_day)))


def _by_name(people: Iterable[Person]) -> tuple[Person, ...]:
    found = {person.pk: person for person in people}
    return tuple(sorted(found.values(), key=lambda one: (one.family_name, one.given_name, str(one.pk))))
