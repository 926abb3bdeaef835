"""The club's rule of adults on the week plan: which sessions would have too few, as things stand."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import Clearance, Club, Person
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.models.season import Kind
from sessions.selectors.week_items import WeekItem
from teamtrack.common.composed import ComposedAmong, Given

_PEOPLE = ComposedAmong(
    lambda people: Person.objects.filter(pk__in=people, club=Given("club", Club._meta.pk)).only("birth_date"),
    Person._meta.pk,
)
_CHECKS = ComposedAmong(
    lambda people: Clearance.objects.filter(coach__pk__in=people, kind=NEEDED_CLEARANCE).only(
        "coach_id", "seen_on", "expires_on"
    ),
    Person._meta.pk,
)


@dataclass(frozen=True)
class TooFewAdults:
    """A session with the adults who count on its day: 18 or over, with a check in date that day."""

    item: WeekItem
    adults: int
    wanted: int


def too_few_adults(*, viewer: Viewer, week: IsoWeek, items: Sequence[WeekItem]) -> list[TooFewAdults]:
    """The sessions of a week that have fewer adults than the club wants; meets without anybody named are left out,
    since whoever goes along stands elsewhere. Two queries."""
    own = [
        item
        for item in items
        if week.starts_at <= item.starts_at < week.ends_at and (item.coach_ids or item.kind != Kind.MEET)
    ]
    people = {coach for item in own for coach in item.coach_ids}
    born = {person.pk: person.birth_date for person in _PEOPLE.rows(people, club=viewer.club_id)}
    checks: dict[UUID, list[tuple[date, date]]] = defaultdict(list)
    for check in _CHECKS.rows(people):
        checks[check.coach_id].append((check.seen_on, check.expires_on))

    def counts(coach: UUID, day: date) -> bool:
        birth = born.get(coach)
        is_adult = birth is not None and not ages.is_minor(ages.age_on(birth, day))
        return is_adult and any(seen <= day <= ends for seen, ends in checks[coach])

    wanted = viewer.club.adults_required
    found = [
        TooFewAdults(
            item, sum(counts(one, item.starts_at.astimezone(week.zone).date()) for one in item.coach_ids), wanted
        )
        for item in own
    ]
    return [one for one in found if one.adults < wanted]
