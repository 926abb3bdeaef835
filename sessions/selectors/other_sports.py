"""Training and matches of another sport: what was said of one athlete, and what lies in a stretch of days."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.access import answers_for
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.core.other_sports import SaidSport, SportTime, said_of, sport_times
from sessions.models import OtherSport

SPORT_PURPOSES = ("record", "availability")


@dataclass(frozen=True)
class PersonsSports:
    """One athlete whom the viewer may know, with the times in order."""

    athlete: Person
    times: tuple[SportTime, ...]


def other_sports_of(
    *, viewer: Viewer, athlete_ids: Collection[UUID], first: date, last: date
) -> dict[UUID, list[SportTime]]:
    """By athlete the times from one day to another; one query. `athlete_ids` are those whose availability the viewer
    may use."""
    rows = OtherSport.objects.filter(
        club=viewer.club_id, athlete__in=athlete_ids, first_day__lte=last, last_day__gte=first
    )
    return _times(rows, ZoneInfo(viewer.club.timezone), first, last)


def other_sports_between(*, viewer: Viewer, first: date, last: date) -> list[PersonsSports]:
    """The athletes with a time from one day to another, by name, as far as the viewer may know of it; one query where
    nobody has any."""
    rows = OtherSport.objects.filter(club=viewer.club_id, first_day__lte=last, last_day__gte=first)
    listed = list(rows.select_related("athlete"))
    if not listed:
        return []
    people = {row.athlete_id: row.athlete for row in listed}
    known = _known(viewer, people.values())
    times = _times((row for row in listed if row.athlete_id in known), ZoneInfo(viewer.club.timezone), first, last)
    found = [PersonsSports(people[athlete_id], tuple(own)) for athlete_id, own in times.items() if own]
    return sorted(found, key=lambda one: (one.athlete.full_name, one.athlete.pk))


def said_other_sports(*, viewer: Viewer, athlete: Person) -> list[OtherSport]:
    """What was said of the athlete, whom access gave, and is not over yet; in order of time."""
    return list(OtherSport.objects.filter(club=viewer.club_id, athlete=athlete, last_day__gte=viewer.today))


def days_of_items(*, viewer: Viewer, items: Iterable[str]) -> dict[str, date]:
    """Of these items of a problem those that are another sport of somebody whom the viewer may know, with their day."""
    told = {item: said for item in items if (said := said_of(item)) is not None}
    if not told:
        return {}
    rows = OtherSport.objects.filter(club=viewer.club_id, pk__in={said for said, _day in told.values()})
    owners = {str(row.pk): row.athlete for row in rows.select_related("athlete")}
    known = _known(viewer, owners.values())
    return {item: day for item, (said, day) in told.items() if said in owners and owners[said].pk in known}


def _known(viewer: Viewer, people: Collection[Person]) -> set[UUID]:
    answers = answers_for(viewer=viewer, athletes=list(people), purposes=SPORT_PURPOSES)
    return set.intersection(*(answers.allowed_ids(purpose) for purpose in SPORT_PURPOSES))


def _times(rows: Iterable[OtherSport], zone: ZoneInfo, first: date, last: date) -> dict[UUID, list[SportTime]]:
    said: dict[UUID, list[SaidSport]] = defaultdict(list)
    for row in rows:
        said[row.athlete_id].append(
            SaidSport(str(row.pk), row.effort, row.first_day, row.last_day, row.starts, row.ends, row.minutes)
        )
    return {athlete_id: sport_times(own, zone, first, last) for athlete_id, own in said.items()}
