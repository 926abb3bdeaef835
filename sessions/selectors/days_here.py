"""On which days this club saw an athlete train, and what published advice that calls for."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q

from athletes.access import Answers
from athletes.core import ages
from athletes.models import Person
from athletes.viewer import Viewer
from sessions.core.load_advice import YearHere, days_away, is_coming_back, year_here
from sessions.models import Entry, EntryKind, SessionAthlete, TrainingSession
from sessions.selectors.counting_entries import LINKED, entries_that_count
from sessions.selectors.session_summary import HERE
from teamtrack.common.composed import values_of

LOOKS_BACK = timedelta(days=400)


@dataclass(frozen=True)
class DaysHere:
    """`year` is told of the young alone; `away`: full days since the last day here, where that is two weeks or more;
    `is_back`: came back from so long a gap within the last four weeks."""

    year: YearHere | None
    away: int | None
    is_back: bool


class _Roll(NamedTuple):
    """Of an entry of who came: what tells whether it counts, and what it says."""

    pk: UUID
    training_session_id: UUID
    kind: str
    athlete_id: UUID
    by_id: UUID
    replaces: UUID | None
    withdrawn: bool
    content: dict[str, Any]


def days_here(*, viewer: Viewer, athlete: Person, answers: Answers) -> DaysHere | None:
    """None where the reader may not use both the athlete's record and who came; two queries."""
    if not (answers.may(athlete.pk, "record") and answers.may(athlete.pk, "availability")):
        return None
    days, today = _days(viewer, athlete), viewer.today
    is_young = athlete.birth_date is not None and ages.is_minor(ages.age_on(athlete.birth_date, today))
    away, is_back = days_away(days, today), is_coming_back(days, today)
    return DaysHere(
        year=year_here(days, today) if is_young else None,
        away=away if is_back and away is not None and today not in days else None,
        is_back=is_back,
    )


def _days(viewer: Viewer, athlete: Person) -> set[date]:
    """Days of sessions that are over, on whose roster the athlete stands; where a roll was called, it decides."""
    rows = SessionAthlete.objects.filter(
        athlete=athlete,
        training_session__state=TrainingSession.State.PUBLISHED,
        training_session__ends_at__lte=viewer.now,
        training_session__starts_at__gte=viewer.now - LOOKS_BACK,
    )
    starts = rows.exclude(comes=SessionAthlete.Comes.AWAY).values_list(
        "training_session_id", "training_session__starts_at"
    )
    own = Entry.objects.filter(athlete=athlete, kind=EntryKind.PRESENCE)
    kept = Entry.objects.filter(Q(pk__in=own.values("pk")) | Q(replaces__in=own.values("pk")))
    rolls = [_Roll(*row) for row in values_of(kept.order_by("seq").values_list(*LINKED, "content"))]
    said = {
        roll.training_session_id: roll.content["state"]
        for roll in entries_that_count(rolls)
        if roll.athlete_id == athlete.pk
    }
    zone = ZoneInfo(viewer.club.timezone)
    return {
        moment.astimezone(zone).date()
        for session_id, moment in values_of(starts)
        if said.get(session_id, HERE[0]) in (*HERE, "left", "collected")
    }
