"""Whom a change has not reached: everybody whom it concerns and who neither saw it nor was told by voice."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from athletes.access import Answers, answers_for
from athletes.models import Account, ContactNumber, Person
from athletes.models.accounts import Role
from athletes.selectors.todo import Due, register_source
from athletes.viewer import Viewer
from sessions.models import CalendarAddress, Notice
from sessions.selectors.own_plan import CHANGES
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open

CALLERS = (Role.HEAD_COACH, Role.ADMIN)


class Why(StrEnum):
    """Why somebody is still on the list."""

    NO_WAY = "no_way"
    NOT_OPENED = "not_opened"
    SENT = "sent"


@dataclass(frozen=True)
class Number:
    """A number to ring: whose it is, and what they are to the athlete where it is not the person's own."""

    name: str
    phone: str
    relation: str = ""


@dataclass(frozen=True)
class Waiting:
    """One person to ring; without `person` somebody whose name the caller may not read. `known_at`: the last change."""

    id: UUID
    person: Person | None
    abouts: tuple[Person, ...]
    notices: tuple[Notice, ...]
    numbers: tuple[Number, ...]
    why: Why
    known_at: datetime

    @property
    def is_only_new(self) -> bool:
        """Whether nothing changed that they knew: it is all new in the plan."""
        return all(row.kind == Notice.Kind.ADDED for row in self.notices)

    @property
    def changes(self) -> tuple[Notice, ...]:
        """Each changed session once, in order of time, whichever child it is for."""
        rows = sorted(self.notices, key=lambda row: _first_start([row]))
        return tuple({(row.training_session_id, row.kind): row for row in rows}.values())


@dataclass(frozen=True)
class CallList:
    """`concerned` is everybody whom a change of a session not yet over concerns: those waiting and those reached."""

    waiting: tuple[Waiting, ...]
    reached: frozenset[UUID]

    @property
    def concerned(self) -> frozenset[UUID]:
        return self.reached | {one.id for one in self.waiting}


def call_list(viewer: Viewer) -> CallList:
    """The list of the viewer's club, earliest session first; the number of queries does not grow with it."""
    if viewer.role not in CALLERS:
        raise NotFound()
    newest = _newest(_notices(viewer))
    people = _people(viewer, newest)
    waiting = {who: rows for who, rows in newest.items() if not all(map(is_reached, rows))}
    athletes = [people[one] for one in _athletes(waiting)]
    answers = answers_for(viewer=viewer, athletes=athletes, purposes=["record"])
    reading = _Reading(people, answers, _numbers(athletes), _with_account(waiting), _fetched(waiting))
    found = [reading.waiting(who, rows) for who, rows in waiting.items()]
    return CallList(
        tuple(sorted(found, key=lambda one: (_first_start(one.notices), one.person is None, str(one.person), one.id))),
        frozenset(newest.keys() - waiting.keys()),
    )


@register_source
def people_to_ring(viewer: Viewer) -> Iterable[Due]:
    """For the admin's list: a change of something known that somebody does not know of."""
    waiting = [one for one in call_list(viewer).waiting if not one.is_only_new]
    if waiting:
        text = ngettext(
            "A change has not reached %(count)d person.", "A change has not reached %(count)d people.", len(waiting)
        )
        yield Due(viewer.today, text % {"count": len(waiting)}, _("Call list"), reverse("admin-call-list"))


def is_reached(notice: Notice) -> bool:
    """Opened what changed, tapped "seen", or was told by voice; a mail that was taken confirms nothing."""
    return notice.seen_at is not None or notice.reached_at is not None


def open_changes(viewer: Viewer, person_id: UUID, until: datetime) -> list[Notice]:
    """The changes of which a person was not known to know, up to the moment that a caller's page shows."""
    if viewer.role not in CALLERS:
        raise NotFound()
    rows = (row for row in _notices(viewer) if row.to_id == person_id and row.made_at <= until)
    return [row for row in rows if not row.in_app_only]


def _notices(viewer: Viewer) -> list[Notice]:
    """Changes of the club's sessions that are not over, oldest first."""
    with rows_open(people=list(Person.objects.filter(club=viewer.club_id).values_list("pk", flat=True))):
        rows = Notice.objects.filter(
            club=viewer.club_id, kind__in=CHANGES, training_session__ends_at__gt=viewer.now
        ).select_related("training_session__venue")
        return list(rows.prefetch_related("training_session__groups").order_by("made_at", "id"))


def _newest(notices: Iterable[Notice]) -> dict[UUID, list[Notice]]:
    """By person the newest change of each session, and for guardians of each child in it; a change that is nothing to
    whoever said not to come concerns nobody there."""
    last = {(row.to_id, row.about_id, row.training_session_id): row for row in notices}
    found: dict[UUID, list[Notice]] = defaultdict(list)
    for row in last.values():
        if not row.in_app_only:
            found[row.to_id].append(row)
    return found


def _people(viewer: Viewer, newest: Mapping[UUID, Sequence[Notice]]) -> dict[UUID, Person]:
    ids = set(newest) | {row.about_id for rows in newest.values() for row in rows if row.about_id}
    return {person.pk: person for person in Person.objects.filter(club=viewer.club_id, pk__in=ids)}


def _athletes(waiting: Mapping[UUID, Sequence[Notice]]) -> list[UUID]:
    """Whose names hang on the list: children of whom guardians are told, and whoever is told on their own account."""
    return list(dict.fromkeys(row.about_id or row.to_id for rows in waiting.values() for row in rows))


def _numbers(athletes: Collection[Person]) -> dict[UUID, list[ContactNumber]]:
    found: dict[UUID, list[ContactNumber]] = defaultdict(list)
    for row in ContactNumber.objects.filter(athlete__in=athletes):
        found[row.athlete_id].append(row)
    return found


def _with_account(waiting: Collection[UUID]) -> set[UUID]:
    return set(Account.objects.filter(person__in=waiting, is_active=True).values_list("person_id", flat=True))


def _fetched(waiting: Collection[UUID]) -> dict[UUID, datetime]:
    """When a calendar program last fetched the person's own address."""
    rows = CalendarAddress.objects.filter(person__in=waiting, stopped_at=None, fetched_at__isnull=False)
    return dict(rows.values_list("person_id", "fetched_at"))


def _first_start(notices: Sequence[Notice]) -> datetime:
    return min(row.training_session.starts_at for row in notices if row.training_session)


@dataclass(frozen=True)
class _Reading:
    """What is known of those on the list, as far as the caller may read it."""

    people: Mapping[UUID, Person]
    answers: Answers
    numbers: Mapping[UUID, Sequence[ContactNumber]]
    with_account: Collection[UUID]
    fetched: Mapping[UUID, datetime]

    def waiting(self, who: UUID, rows: Sequence[Notice]) -> Waiting:
        open_rows = tuple(row for row in rows if not is_reached(row))
        known = [row for row in open_rows if self._may_name(row)]
        abouts = tuple(dict.fromkeys(self.people[row.about_id] for row in known if row.about_id))
        return Waiting(
            id=who,
            person=self.people[who] if known else None,
            abouts=abouts,
            notices=open_rows,
            numbers=tuple(self._to_ring(self.people[who], abouts)) if known else (),
            why=self._why(who, open_rows),
            known_at=max(row.made_at for row in open_rows),
        )

    def _may_name(self, row: Notice) -> bool:
        """A coach is nobody's secret; an athlete, and through the child a guardian, is read by the one decision."""
        athlete = row.about_id or row.to_id
        is_staff = row.about_id is None and not self._is_athlete(row)
        return is_staff or self.answers.may(athlete, "record")

    def _is_athlete(self, row: Notice) -> bool:
        return self.answers.found.members.get(row.to_id) is not None

    def _to_ring(self, person: Person, abouts: Sequence[Person]) -> Iterable[Number]:
        if person.phone:
            yield Number(person.full_name, person.phone)
        for athlete in abouts or [person]:
            for row in self.numbers.get(athlete.pk, ()):
                if row.phone != person.phone:
                    yield Number(row.name, row.phone, row.relation)

    def _why(self, who: UUID, rows: Sequence[Notice]) -> Why:
        fetched = self.fetched.get(who)
        if all(row.mailed_at or (fetched and fetched > row.made_at) for row in rows):
            return Why.SENT
        return Why.NOT_OPENED if who in self.with_account else Why.NO_WAY
