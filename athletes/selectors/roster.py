"""Reads of the roster: who is a member, in which squad and groups, and what is missing."""

from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db.models import Exists, OuterRef

from athletes.access import known_to
from athletes.core import ages
from athletes.models import (
    Clearance,
    ContactNumber,
    GroupMembership,
    Guardianship,
    Membership,
    PermissionEvent,
    Person,
    SquadMembership,
)
from athletes.viewer import Viewer, in_force
from teamtrack.common.row_security import rows_open

CHECK_WARNING = timedelta(days=60)
A_PAGE = 100
"""Athletes on a page of the roster (our own choice)."""

GAPS = ("no_contact", "no_birth_date", "no_guardian", "guardian_unverified", "health_unanswered")
FIRST_GAPS = {"no_contact", "no_birth_date"}


@dataclass(frozen=True)
class RosterRow:
    """One athlete with what is missing; `age_group` is a band, since a birth date is shown to nobody here."""

    athlete: Person
    squad: str
    groups: tuple[str, ...]
    age_group: str
    gaps: frozenset[str]


@dataclass(frozen=True)
class RunningOut:
    """A coach's check that runs out soon or has run out."""

    coach: Person
    kind: str
    expires_on: date


@dataclass(frozen=True)
class RosterPage:
    """One page of the roster: its rows, how many pages there are, and how many athletes have each gap."""

    rows: list[RosterRow]
    number: int
    pages: int
    people: int
    gap_counts: dict[str, int]


def roster(viewer: Viewer, *, gap: str = "", page: int = 1) -> RosterPage:
    """The members whom the viewer may know of: nobody to ring or no birth date first, then other gaps, then by name.

    With `gap` those alone who have it. The decision is asked for those on the page; the number of queries is fixed,
    and what grows with the club is read as plain values.
    """
    gaps = _gaps(viewer)
    wanted = [one for one, flags in gaps.items() if not gap or gap in flags]
    wanted.sort(key=lambda one: (-bool(gaps[one] & FIRST_GAPS), not gaps[one]))
    pages = max(1, -(-len(wanted) // A_PAGE))
    number = min(max(1, page), pages)
    shown = wanted[(number - 1) * A_PAGE : number * A_PAGE]
    return RosterPage(
        rows=_rows(viewer, shown, gaps),
        number=number,
        pages=pages,
        people=len(wanted),
        gap_counts=_counted(gaps),
    )


def gap_counts(viewer: Viewer) -> dict[str, int]:
    """How many members have each gap."""
    return _counted(_gaps(viewer))


def _counted(gaps: dict[UUID, frozenset[str]]) -> dict[str, int]:
    return {name: sum(name in flags for flags in gaps.values()) for name in GAPS}


def _rows(viewer: Viewer, ids: list[UUID], gaps: dict[UUID, frozenset[str]]) -> list[RosterRow]:
    """The rows of these athletes, in their order, as the decision allows."""
    found = {person.pk: person for person in Person.objects.filter(club=viewer.club_id, pk__in=ids)}
    people = known_to(viewer, [found[one] for one in ids if one in found])
    shown = [person.pk for person in people]
    held = in_force(viewer.today)
    squads = dict(SquadMembership.objects.filter(held, athlete__in=shown).values_list("athlete_id", "squad__name"))
    groups: dict[UUID, list[str]] = {}
    memberships = GroupMembership.objects.filter(held, athlete__in=shown).order_by("group__order", "group__name")
    for athlete_id, name in memberships.values_list("athlete_id", "group__name"):
        groups.setdefault(athlete_id, []).append(name)
    return [
        RosterRow(
            athlete=person,
            squad=squads.get(person.pk, ""),
            groups=tuple(groups.get(person.pk, ())),
            age_group=age_group(person.birth_date, viewer.today),
            gaps=gaps[person.pk],
        )
        for person in people
    ]


def age_group(born: date | None, today: date) -> str:
    """The band that is shown instead of a birth date: U12, U14, U16, U18, U20, or empty for grown-ups and unknown."""
    if born is None:
        return ""
    age = ages.age_on(born, today)
    return next((f"U{limit}" for limit in (12, 14, 16, 18, 20) if age < limit), "")


def checks_running_out(viewer: Viewer) -> list[RunningOut]:
    """The latest check of each kind and coach that runs out within 60 days, the most urgent first."""
    later = Clearance.objects.filter(
        coach=OuterRef("coach"), kind=OuterRef("kind"), expires_on__gt=OuterRef("expires_on")
    )
    due = Clearance.objects.filter(~Exists(later), club=viewer.club_id, expires_on__lte=viewer.today + CHECK_WARNING)
    rows = due.select_related("coach").order_by("expires_on")
    return [RunningOut(row.coach, row.get_kind_display(), row.expires_on) for row in rows]


def _gaps(viewer: Viewer) -> dict[UUID, frozenset[str]]:
    """What is missing about each member of today, by name."""
    club, held = viewer.club_id, in_force(viewer.today)
    members = Person.objects.filter(Exists(Membership.objects.filter(held, athlete=OuterRef("pk"))), club=club)
    born = members.order_by("family_name", "given_name", "id").values_list("pk", "birth_date")
    has_contact = set(ContactNumber.objects.filter(club=club).values_list("athlete_id", flat=True))
    links = list(Guardianship.objects.filter(held, club=club).values_list("athlete_id", "authority"))
    guarded, unverified = {link[0] for link in links}, {link[0] for link in links if link[1] == "unverified"}
    with rows_open(club_id=club):
        events = PermissionEvent.objects.filter(club=club, purpose="health")
        answered = set(events.values_list("athlete_id", flat=True).distinct())
    found = {}
    for pk, day in born:
        is_minor = day is None or ages.is_minor(ages.age_on(day, viewer.today))
        flags = (
            pk not in has_contact, day is None, is_minor and pk not in guarded, is_minor and pk in unverified,
            pk not in answered,
        )  # fmt: skip
        found[pk] = frozenset(name for name, is_gap in zip(GAPS, flags, strict=True) if is_gap)
    return found
