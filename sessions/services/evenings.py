"""When a coach can come and cannot: kept by the coach or a head coach; a reason is never asked."""

from datetime import datetime, time
from uuid import UUID

from django.db import transaction

from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_kept_coach
from sessions.models import CoachAbsence, CoachEvening, CoachSettings
from sessions.services.venues import Hours

USUAL = (time(17), time(21))
"""What a tap on a weekday means where the coach has no other evening yet (common practice, no source)."""


@transaction.atomic
def add_evenings(*, viewer: Viewer, coach_id: UUID, evenings: list[Hours]) -> list[CoachEvening]:
    """Weekly stretches in which the coach can come; those that stand already are not added again."""
    coach = get_kept_coach(viewer, coach_id)
    made = []
    for one in evenings:
        row, is_new = CoachEvening.objects.get_or_create(
            club_id=viewer.club_id, coach=coach, weekday=one.weekday, starts=one.starts, ends=one.ends,
            last_day=one.last_day, defaults={"first_day": one.first_day},
        )  # fmt: skip
        made += [row] if is_new else []
    _log(viewer, coach, "made", "coach_evenings", bool(made))
    return made


@transaction.atomic
def tap_weekday(*, viewer: Viewer, coach_id: UUID, weekday: int, comes: bool) -> tuple[list[CoachEvening], list[Hours]]:
    """The coach comes on a weekday from now on, at the hours of another evening of theirs, or comes no more: what was
    added and what was taken away. Said twice it changes nothing."""
    coach = get_kept_coach(viewer, coach_id)
    there = [
        row
        for row in CoachEvening.objects.filter(coach=coach).order_by("-first_day", "pk")
        if row.last_day is None or row.last_day >= viewer.today
    ]
    of_day = [row for row in there if row.weekday == weekday]
    if comes and not of_day:
        starts, ends = (there[0].starts, there[0].ends) if there else USUAL
        hours = Hours(weekday, starts, ends, viewer.today)
        return add_evenings(viewer=viewer, coach_id=coach_id, evenings=[hours]), []
    if not comes and of_day:
        return [], remove_evenings(viewer=viewer, coach_id=coach_id, evening_ids=[row.pk for row in of_day])
    return [], []


@transaction.atomic
def remove_evenings(*, viewer: Viewer, coach_id: UUID, evening_ids: list[UUID]) -> list[Hours]:
    """Take evenings away; what they were."""
    coach = get_kept_coach(viewer, coach_id)
    rows = list(CoachEvening.objects.filter(coach=coach, pk__in=evening_ids))
    CoachEvening.objects.filter(pk__in=[row.pk for row in rows]).delete()
    _log(viewer, coach, "removed", "coach_evenings", bool(rows))
    return [Hours(row.weekday, row.starts, row.ends, row.first_day, row.last_day) for row in rows]


@transaction.atomic
def add_absence(*, viewer: Viewer, coach_id: UUID, starts_at: datetime, ends_at: datetime) -> tuple[CoachAbsence, bool]:
    """A stretch in which the coach cannot come after all, and whether that is new."""
    coach = get_kept_coach(viewer, coach_id)
    row, is_new = CoachAbsence.objects.get_or_create(
        club_id=viewer.club_id, coach=coach, starts_at=starts_at, ends_at=ends_at
    )
    _log(viewer, coach, "made", "coach_absence", is_new)
    return row, is_new


@transaction.atomic
def remove_absence(*, viewer: Viewer, coach_id: UUID, absence_id: UUID) -> CoachAbsence | None:
    """The coach can come after all; the absence as it was, None where it is gone."""
    coach = get_kept_coach(viewer, coach_id)
    row = CoachAbsence.objects.filter(coach=coach, pk=absence_id).first()
    if row is not None:
        CoachAbsence.objects.filter(pk=row.pk).delete()
        _log(viewer, coach, "removed", "coach_absence", True)
    return row


@transaction.atomic
def set_most_sessions(*, viewer: Viewer, coach_id: UUID, most: int) -> int | None:
    """How many sessions a day the coach takes on; what it was before, None where nothing changed."""
    coach = get_kept_coach(viewer, coach_id)
    rows = CoachSettings.objects.select_for_update()
    settings, _made = rows.get_or_create(coach=coach, defaults={"club_id": viewer.club_id})
    before = settings.max_sessions_per_day
    if before == most:
        return None
    CoachSettings.objects.filter(pk=settings.pk).update(max_sessions_per_day=most)
    _log(viewer, coach, "set", "coach_settings", True)
    return before


def _log(viewer: Viewer, coach: Person, verb: str, kind: str, is_changed: bool) -> None:
    if is_changed:
        log_acts(viewer=viewer, acts=[Act(verb, kind, coach.pk)])
