"""The club's rule of adults on the week plan: which sessions would have too few, as things stand."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from athletes.circumstances.relations import NEEDED_CLEARANCE
from athletes.core import ages
from athletes.models import Clearance, Person
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.models.season import Kind
from sessions.selectors.week_items import WeekItem


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
    born = dict(Person.objects.filter(pk__in=people, club=viewer.club_id).values_list("pk", "birth_date"))
    checks: dict[UUID, list[tuple[date, date]]] = defaultdict(list)
    rows = Clearance.objects.filter(coach__in=people, kind=NEEDED_CLEARANCE)
    for coach, seen_on, expires_on in rows.values_list("coach_id", "seen_on", "expires_on"):
        checks[coach].append((seen_on, expires_on))

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
