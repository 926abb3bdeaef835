"""Moves meets to other days together with the season they belong to; the hour on the wall stays."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.models import Notice, SessionAthlete, TrainingSession
from sessions.models.season import Kind
from sessions.services.tell_meet import concerned, tell


def days_of_meets(viewer: Viewer, meets: Sequence[Mapping[str, str]]) -> list[dict[str, str]]:
    """The days on which these meets stand now."""
    there = {str(row.pk): row for row in _rows(viewer, meets)}
    return [{"id": one["id"], "day": _day(viewer, there[one["id"]]).isoformat()} for one in meets if one["id"] in there]


def shift_meets(viewer: Viewer, meets: Sequence[Mapping[str, str]]) -> list[TrainingSession]:
    """Put the meets on their days; those that moved."""
    wanted = {one["id"]: date.fromisoformat(one["day"]) for one in meets}
    moved = []
    for row in _rows(viewer, meets):
        days = (wanted[str(row.pk)] - _day(viewer, row)).days
        if days:
            row.starts_at, row.ends_at = (_shifted(viewer, moment, days) for moment in (row.starts_at, row.ends_at))
            row.save(update_fields=["starts_at", "ends_at"])
            moved.append(row)
    return moved


def move_meets(viewer: Viewer, meets: Sequence[Mapping[str, str]]) -> None:
    """Put the meets on their days; who goes, the guardians of minors and who leads it are told. Stands in its caller's
    transaction."""
    for row in shift_meets(viewer, meets):
        TrainingSession.objects.filter(pk=row.pk).update(changed_at=viewer.now)
        SessionAthlete.objects.filter(training_session=row).update(seen_at=None)
        if not row.is_called_off:
            tell(viewer=viewer, meet=row, told=concerned(viewer=viewer, meet=row, kind=Notice.Kind.MOVED))
        log_acts(viewer=viewer, acts=[Act("change", "meet", None, ("starts_at", "ends_at"))])


def _rows(viewer: Viewer, meets: Sequence[Mapping[str, str]]) -> list[TrainingSession]:
    rows = TrainingSession.objects.filter(club=viewer.club_id, kind=Kind.MEET, pk__in=[one["id"] for one in meets])
    return list(rows.order_by("pk"))


def _day(viewer: Viewer, row: TrainingSession) -> date:
    return row.starts_at.astimezone(ZoneInfo(viewer.club.timezone)).date()


def _shifted(viewer: Viewer, moment: datetime, days: int) -> datetime:
    """The same time of the wall clock, so many days on."""
    return moment.astimezone(ZoneInfo(viewer.club.timezone)) + timedelta(days=days)
