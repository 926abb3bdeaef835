"""One athlete as an admin sets them up: membership, squad, groups, numbers to ring, guardians."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Exists, OuterRef, Q

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
from athletes.selectors.roster import age_group
from athletes.viewer import Viewer, in_force
from teamtrack.common.errors import NotFound


@dataclass(frozen=True)
class GuardianLink:
    """A guardian's link to the athlete, and by name the other children whom they guard."""

    link: Guardianship
    others: tuple[str, ...]


@dataclass(frozen=True)
class AthletePage:
    """The page; `membership` is the one of today, or the coming one, or the last; `is_member` as of today."""

    athlete: Person
    membership: Membership
    is_member: bool
    is_coming: bool
    age_group: str
    squad: SquadMembership | None
    coming_squad: SquadMembership | None
    groups: tuple[GroupMembership, ...]
    numbers: tuple[ContactNumber, ...]
    guardians: tuple[GuardianLink, ...]
    all_squads: tuple[Squad, ...]
    all_groups: tuple[EventGroup, ...]
    today: date

    @property
    def is_on_trial(self) -> bool:
        return self.is_member and self.membership.is_trial

    @property
    def has_left(self) -> bool:
        return not (self.is_member or self.is_coming)


def athlete_page(viewer: Viewer, athlete_id: UUID) -> AthletePage:
    """One athlete of the club, also one who left and whose record is not yet gone; absent and not yours are the same.

    A fixed number of queries.
    """
    viewer.must_be(Role.ADMIN)
    is_athlete = Exists(Membership.objects.filter(athlete=OuterRef("pk")))
    athlete = Person.objects.filter(is_athlete, pk=athlete_id, club=viewer.club_id, left_on=None).first()
    if athlete is None:
        raise NotFound()
    rows = list(Membership.objects.filter(athlete=athlete).order_by("first_day", "id"))
    now = [row for row in rows if row.first_day <= viewer.today and not _is_over(row, viewer.today)]
    later = Q(last_day__isnull=True) | Q(last_day__gte=viewer.today)
    squads = SquadMembership.objects.filter(later, athlete=athlete).select_related("squad").order_by("first_day")
    groups = GroupMembership.objects.filter(later, athlete=athlete).select_related("group")
    in_squads = list(squads)
    return AthletePage(
        athlete=athlete,
        membership=(now or rows)[-1],
        is_member=bool(now),
        is_coming=not now and rows[-1].first_day > viewer.today,
        age_group=age_group(athlete.birth_date, viewer.today),
        squad=next((row for row in in_squads if row.first_day <= viewer.today), None),
        coming_squad=next((row for row in in_squads if row.first_day > viewer.today), None),
        groups=tuple(groups.order_by("group__order", "group__name", "first_day")),
        numbers=tuple(ContactNumber.objects.filter(athlete=athlete)),
        guardians=_guardians(viewer, athlete),
        all_squads=tuple(Squad.objects.filter(club=viewer.club_id)),
        all_groups=tuple(EventGroup.objects.filter(club=viewer.club_id)),
        today=viewer.today,
    )


def leaves_on(viewer: Viewer, athlete: Person) -> date | None:
    """With which day a membership of an athlete whom the viewer may ask about ends, where that is set; one query."""
    held = Membership.objects.filter(in_force(viewer.today), club=viewer.club_id, athlete=athlete, is_trial=False)
    goes_on = Membership.objects.filter(club=viewer.club_id, athlete=athlete, last_day=None)
    found: date | None = held.exclude(Exists(goes_on)).order_by("-last_day").values_list("last_day", flat=True).first()
    return found


def people_named(*, viewer: Viewer, given_name: str, family_name: str) -> Sequence[tuple[Person, tuple[str, ...]]]:
    """Whoever of the club has this name, each with the children whom they guard: is it one of them?"""
    viewer.must_be(Role.ADMIN)
    people = Person.objects.filter(
        club=viewer.club_id, left_on=None, given_name__iexact=given_name.strip(),
        family_name__iexact=family_name.strip(),
    )  # fmt: skip
    found = list(people.order_by("id")[:10])
    children = _children(viewer, [one.pk for one in found])
    return [(one, tuple(children.get(one.pk, ()))) for one in found]


def _is_over(row: Membership, today: date) -> bool:
    return row.last_day is not None and row.last_day < today


def _guardians(viewer: Viewer, athlete: Person) -> tuple[GuardianLink, ...]:
    links = list(
        Guardianship.objects.filter(in_force(viewer.today), athlete=athlete)
        .select_related("guardian", "papers_seen_by")
        .order_by("guardian__family_name", "guardian__given_name", "id")
    )
    children = _children(viewer, [link.guardian_id for link in links], but=athlete.pk)
    return tuple(GuardianLink(link, tuple(children.get(link.guardian_id, ()))) for link in links)


def _children(viewer: Viewer, guardian_ids: Sequence[UUID], *, but: UUID | None = None) -> dict[UUID, list[str]]:
    rows = Guardianship.objects.filter(in_force(viewer.today), guardian__in=guardian_ids).exclude(athlete=but)
    found: dict[UUID, list[str]] = {}
    for row in rows.select_related("athlete").order_by("athlete__given_name"):
        found.setdefault(row.guardian_id, []).append(row.athlete.full_name)
    return found
