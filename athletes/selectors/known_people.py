"""What the club has, as a roster file is compared with it and written from it; for the admin alone."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q

from athletes.access import athletes_visible_to
from athletes.core.roster_file.here import Here, Known, KnownGuardian, KnownRing
from athletes.models import (
    ContactNumber,
    EventGroup,
    GroupMembership,
    Guardianship,
    Membership,
    Person,
    Squad,
    SquadMembership,
)
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound

PERSON_COLUMNS = ("pk", "given_name", "family_name", "birth_date", "email", "phone", "home_country")


def here_of(viewer: Viewer) -> Here:
    """Athletes, members and those who were, with what a roster says of them; adults who may be guardians. A fixed
    number of queries; raises NotFound for anybody but an admin."""
    people = {row[0]: row for row in _rows_of_people(viewer)}
    guardians = _guardians(viewer)
    athletes = _athletes(viewer, people, guardians)
    ids = {athlete.id for athlete in athletes}
    linked = {one.id for found in guardians.values() for one in found}
    adults = (_guardian(row) for pk, row in people.items() if pk in linked or pk not in ids)
    squads = Squad.objects.filter(club=viewer.club_id).values_list("name", flat=True)
    groups = EventGroup.objects.filter(club=viewer.club_id).values_list("name", flat=True)
    return Here(tuple(athletes), tuple(adults), tuple(squads), tuple(groups))


def members_of(viewer: Viewer) -> list[Known]:
    """The members of today of whom the decision lets the viewer know, by name, as a roster writes them. Raises NotFound
    for anybody but an admin."""
    known = {person.pk for person in athletes_visible_to(viewer)}
    found = [one for one in here_of(viewer).athletes if one.is_member and one.id in known]
    return sorted(found, key=lambda one: (one.family, one.given, str(one.id)))


def _rows_of_people(viewer: Viewer) -> Iterable[tuple]:  # type: ignore[type-arg]
    if viewer.role != Role.ADMIN:
        raise NotFound()
    return Person.objects.filter(club=viewer.club_id, left_on=None).values_list(*PERSON_COLUMNS)


def _athletes(
    viewer: Viewer,
    people: dict[UUID, tuple],
    guardians: dict[UUID, list[KnownGuardian]],  # type: ignore[type-arg]
) -> list[Known]:
    members = _memberships(viewer)
    held = Q(club=viewer.club_id) & in_force(viewer.today)
    squads = dict(SquadMembership.objects.filter(held).values_list("athlete_id", "squad__name"))
    groups, rings = _groups(held), _rings(viewer)
    return [
        Known(
            id=pk, given=row[1], family=row[2], born=row[3], email=row[4], phone=row[5], country=row[6],
            squad=squads.get(pk, ""), groups=tuple(groups.get(pk, ())), guardians=tuple(guardians.get(pk, ())),
            rings=tuple(rings.get(pk, ())), since=members[pk].first_day, until=members[pk].last_day,
            is_member=members[pk].goes_on, is_trial=members[pk].is_trial,
            may_join=members[pk].is_trial and members[pk].first_day < viewer.today,
        )
        for pk, row in people.items()
        if pk in members
    ]  # fmt: skip


class _Newest(NamedTuple):
    """The newest membership of somebody, and whether it goes on; `is_trial` only where it does."""

    first_day: date
    last_day: date | None
    is_trial: bool
    goes_on: bool


def _memberships(viewer: Viewer) -> dict[UUID, _Newest]:
    """Of everybody who was ever a member: the newest membership."""
    found: dict[UUID, _Newest] = {}
    rows = Membership.objects.filter(club=viewer.club_id).order_by("first_day")
    columns = ("athlete_id", "first_day", "last_day", "is_trial")
    for athlete_id, first_day, last_day, is_trial in rows.values_list(*columns):
        goes_on = last_day is None or last_day >= viewer.today
        if athlete_id not in found or goes_on or not found[athlete_id].goes_on:
            found[athlete_id] = _Newest(first_day, last_day, is_trial and goes_on, goes_on)
    return found


def _groups(held: Q) -> dict[UUID, list[str]]:
    found: dict[UUID, list[str]] = defaultdict(list)
    rows = GroupMembership.objects.filter(held).order_by("group__order", "group__name")
    for athlete_id, name in rows.values_list("athlete_id", "group__name"):
        found[athlete_id].append(name)
    return found


def _rings(viewer: Viewer) -> dict[UUID, list[KnownRing]]:
    found: dict[UUID, list[KnownRing]] = defaultdict(list)
    rows = ContactNumber.objects.filter(club=viewer.club_id).order_by("order", "id")
    for athlete_id, *said in rows.values_list("athlete_id", "pk", "name", "relation", "phone", "may_collect"):
        found[athlete_id].append(KnownRing(*said))
    return found


def _guardians(viewer: Viewer) -> dict[UUID, list[KnownGuardian]]:
    found: dict[UUID, list[KnownGuardian]] = defaultdict(list)
    rows = Guardianship.objects.filter(in_force(viewer.today), club=viewer.club_id).order_by("first_day", "id")
    names = ("guardian_id", "guardian__given_name", "guardian__family_name", "guardian__phone", "guardian__email")
    for athlete_id, *said in rows.values_list("athlete_id", *names):
        found[athlete_id].append(KnownGuardian(*said))
    return found


def _guardian(row: Collection) -> KnownGuardian:  # type: ignore[type-arg]
    pk, given, family, _born, email, phone, _country = row
    return KnownGuardian(pk, given, family, phone, email)


def place_names(viewer: Viewer) -> tuple[list[str], list[str]]:
    """The names of the club's squads and event groups."""
    squads = Squad.objects.filter(club=viewer.club_id).values_list("name", flat=True)
    groups = EventGroup.objects.filter(club=viewer.club_id).values_list("name", flat=True)
    return list(squads), list(groups)
