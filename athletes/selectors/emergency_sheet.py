"""The emergency sheet: by group, whom to ring about each member and who may collect, for the admin to print."""

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from athletes.access import athletes_visible_to
from athletes.models import ContactNumber, EventGroup, GroupMembership, Person
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound


@dataclass(frozen=True)
class SheetLine:
    """One athlete with the numbers to ring, in their order."""

    athlete: Person
    numbers: tuple[ContactNumber, ...]

    @property
    def collectors(self) -> list[ContactNumber]:
        return [number for number in self.numbers if number.may_collect]


@dataclass(frozen=True)
class SheetGroup:
    """The athletes of one event group; without a group the last."""

    name: str
    lines: tuple[SheetLine, ...]


def emergency_sheet(viewer: Viewer) -> list[SheetGroup]:
    """Every athlete whom the admin may know of, under each group; four queries beside those of the door.

    Raises NotFound for anybody but an admin.
    """
    if viewer.role != Role.ADMIN:
        raise NotFound()
    people = athletes_visible_to(viewer, "record")
    ids = [person.pk for person in people]
    numbers: dict[UUID, list[ContactNumber]] = defaultdict(list)
    for number in ContactNumber.objects.filter(athlete__in=ids):
        numbers[number.athlete_id].append(number)
    members: dict[UUID, set[UUID]] = defaultdict(set)
    held = GroupMembership.objects.filter(in_force(viewer.today), athlete__in=ids)
    for athlete_id, group_id in held.values_list("athlete_id", "group_id"):
        members[group_id].add(athlete_id)
    lines = {person.pk: SheetLine(person, tuple(numbers[person.pk])) for person in people}
    groups = [
        SheetGroup(group.name, tuple(line for pk, line in lines.items() if pk in members[group.pk]))
        for group in EventGroup.objects.filter(club=viewer.club_id)
    ]
    grouped = set().union(*members.values())
    groups.append(SheetGroup("", tuple(line for pk, line in lines.items() if pk not in grouped)))
    return [group for group in groups if group.lines]
