"""Who is planned with in a week: each event group's athletes, their limits, and when they cannot come.

Every athlete and every word about coming passes the permission decision first.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time, timedelta
from uuid import UUID

from django.db.models import Q

from athletes.access import answers_for
from athletes.core import ages
from athletes.models import GroupMembership, Membership, Person, SquadMembership
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.stretches import Stretch, merged, within, without
from sessions.models import Availability, BusyTime, WeekModifier


@dataclass
class PlannedPeople:
    """`members` by group; caps in minutes a week; `unavailable` and `squads` by athlete; `heard`: whose word about
    their time may be used."""

    athletes: dict[UUID, Person] = field(default_factory=dict)
    members: dict[UUID, list[UUID]] = field(default_factory=lambda: defaultdict(list))
    caps: dict[UUID, int] = field(default_factory=dict)
    squads: dict[UUID, set[UUID]] = field(default_factory=lambda: defaultdict(set))
    unavailable: dict[UUID, list[Stretch]] = field(default_factory=dict)
    heard: set[UUID] = field(default_factory=set)

    def groups_of(self, athlete_id: UUID) -> list[UUID]:
        return [group for group, members in self.members.items() if athlete_id in members]

    def has_minors(self, group: UUID, week: IsoWeek) -> bool:
        """Whether somebody of the group is under 18, or of unknown age, when the week begins."""
        born = [self.athletes[athlete].birth_date for athlete in self.members.get(group, ())]
        return any(day is None or ages.is_minor(ages.age_on(day, week.monday)) for day in born)

    def squad_shares(self) -> Mapping[UUID, Mapping[UUID, float]]:
        """By group and squad the share of the group's athletes who are in the squad."""
        return {group: self._shares(members) for group, members in self.members.items()}

    def _shares(self, members: list[UUID]) -> dict[UUID, float]:
        found: dict[UUID, float] = defaultdict(float)
        for athlete in members:
            for squad in self.squads.get(athlete, ()):
                found[squad] += 1 / len(members)
        return found


def in_force_in(week: IsoWeek, prefix: str = "") -> Q:
    """Rows with first and last day that hold on some day of the week."""
    return Q(**{f"{prefix}first_day__lte": week.sunday}) & (
        Q(**{f"{prefix}last_day__isnull": True}) | Q(**{f"{prefix}last_day__gte": week.monday})
    )


def planned_people(*, viewer: Viewer, week: IsoWeek) -> PlannedPeople:
    """The athletes whose record the viewer may use; a fixed number of queries."""
    found = PlannedPeople()
    rows = GroupMembership.objects.filter(in_force_in(week), club=viewer.club_id).select_related("athlete")
    pairs = list(rows.order_by("group__order", "group_id", "athlete__family_name", "athlete__given_name", "athlete_id"))
    people = {row.athlete_id: row.athlete for row in pairs}
    answers = answers_for(viewer=viewer, athletes=list(people.values()), purposes=["record", "availability"])
    known = answers.allowed_ids("record")
    for row in pairs:
        if row.athlete_id in known and row.athlete_id not in found.members[row.group_id]:
            found.members[row.group_id].append(row.athlete_id)
    found.athletes = {athlete_id: person for athlete_id, person in people.items() if athlete_id in known}
    _read_limits(found, viewer, week)
    found.heard = answers.allowed_ids("availability") & known
    found.unavailable = _unavailable(found.heard, week)
    _add_busy_times(found, viewer, week)
    return found


def _read_limits(found: PlannedPeople, viewer: Viewer, week: IsoWeek) -> None:
    """Caps of the membership and squads."""
    caps = Membership.objects.filter(in_force_in(week), club=viewer.club_id, weekly_minutes_cap__isnull=False)
    for athlete_id, cap in caps.values_list("athlete_id", "weekly_minutes_cap"):
        if athlete_id in found.athletes and cap is not None:
            found.caps[athlete_id] = min(cap, found.caps.get(athlete_id, cap))
    squads = SquadMembership.objects.filter(in_force_in(week), club=viewer.club_id)
    for athlete_id, squad_id in squads.values_list("athlete_id", "squad_id"):
        found.squads[athlete_id].add(squad_id)
    _read_school_years(found, viewer)


def _read_school_years(found: PlannedPeople, viewer: Viewer) -> None:
    """Who was born between the days of a special week counts as a squad of its own."""
    rows = WeekModifier.objects.filter(club=viewer.club_id, born_from__isnull=False)
    for year, first, last in rows.values_list("pk", "born_from", "born_until"):
        for athlete_id, person in found.athletes.items():
            if person.birth_date is not None and first <= person.birth_date <= last:
                found.squads[athlete_id].add(year)


def _add_busy_times(found: PlannedPeople, viewer: Viewer, week: IsoWeek) -> None:
    """Hours in which a squad, or everybody, cannot train."""
    rows = BusyTime.objects.filter(club=viewer.club_id, ends_at__gt=week.starts_at, starts_at__lt=week.ends_at)
    busy = list(rows.values_list("squad_id", "starts_at", "ends_at"))
    for athlete in found.athletes if busy else ():
        squads = {None, *found.squads.get(athlete, ())}
        own = [(starts_at, ends_at) for squad, starts_at, ends_at in busy if squad in squads]
        if own:
            taken = [*found.unavailable.get(athlete, []), *own]
            found.unavailable[athlete] = within(taken, (week.starts_at, week.ends_at))


def _unavailable(athlete_ids: set[UUID], week: IsoWeek) -> dict[UUID, list[Stretch]]:
    """By athlete the stretches of the week in which the latest word is "not coming"."""
    words = Availability.objects.filter(
        athlete__in=athlete_ids, ends_at__gt=week.starts_at, starts_at__lt=week.ends_at
    ).order_by("said_at", "id")
    last = {(word.athlete_id, word.training_session_id or word.pk): word for word in words}
    found: dict[UUID, list[Stretch]] = defaultdict(list)
    for word in sorted(last.values(), key=lambda word: (word.said_at, word.pk)):
        stretch = _stretch(word, week)
        others = without(found[word.athlete_id], [stretch])
        is_away = word.state == Availability.State.NOT_TODAY
        found[word.athlete_id] = merged([*others, stretch]) if is_away else others
    bounds = (week.starts_at, week.ends_at)
    return {athlete: within(stretches, bounds) for athlete, stretches in found.items() if stretches}


def _stretch(word: Availability, week: IsoWeek) -> Stretch:
    """The time that a word speaks of; about a training session it is that whole date ("not today")."""
    if word.training_session_id is None:
        return word.starts_at, word.ends_at
    day = word.starts_at.astimezone(week.zone).date()
    return week.at(day, time()), week.at(day + timedelta(days=1), time())
