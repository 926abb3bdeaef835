"""A published session as it stood, with its roster and coaches: taken before a publishing, put back by its undo."""

from datetime import datetime
from typing import Any
from uuid import UUID

from sessions.models import RosterLeaver, SessionAthlete, SessionCoach, TrainingSession

TIMES = ("starts_at", "ends_at", "changed_at")
PLAIN = ("kind", "also", "lanes", "state", "change_words")

Snapshot = dict[str, Any]


def taken(training_session: TrainingSession) -> Snapshot:
    """All that a publishing may change, as JSON holds it."""
    return {
        "fields": {name: getattr(training_session, name) for name in PLAIN},
        "times": {name: _text(getattr(training_session, name)) for name in TIMES},
        "venue": str(training_session.venue_id) if training_session.venue_id else None,
        "athletes": {
            str(row.athlete_id): [row.comes, _text(row.seen_at)] for row in training_session.session_athletes.all()
        },
        "coaches": {
            str(row.coach_id): [row.part, _text(row.taken_off_at)] for row in training_session.session_coaches.all()
        },
        "leavers": {str(row.athlete_id): _text(row.taken_off_at) for row in training_session.roster_leavers.all()},
    }


def put_back(training_session: TrainingSession, snapshot: Snapshot) -> None:
    """The session as it was when the snapshot was taken."""
    for name, value in snapshot["fields"].items():
        setattr(training_session, name, value)
    for name, text in snapshot["times"].items():
        setattr(training_session, name, _moment(text))
    training_session.venue_id = UUID(snapshot["venue"]) if snapshot["venue"] else None
    training_session.save(update_fields=[*PLAIN, *TIMES, "venue"])
    _put_back_people(training_session, snapshot)


def _put_back_people(training_session: TrainingSession, snapshot: Snapshot) -> None:
    of = {"club_id": training_session.club_id, "training_session": training_session}
    training_session.session_athletes.exclude(athlete__in=snapshot["athletes"]).delete()
    training_session.roster_leavers.exclude(athlete__in=snapshot["leavers"]).delete()
    training_session.session_coaches.exclude(coach__in=snapshot["coaches"]).delete()
    for athlete, (comes, seen_at) in snapshot["athletes"].items():
        said = {"club_id": training_session.club_id, "comes": comes, "seen_at": _moment(seen_at)}
        SessionAthlete.objects.update_or_create(training_session=training_session, athlete_id=athlete, defaults=said)
    for athlete, taken_off_at in snapshot["leavers"].items():
        RosterLeaver.objects.get_or_create(**of, athlete_id=athlete, defaults={"taken_off_at": _moment(taken_off_at)})
    for coach, (part, taken_off_at) in snapshot["coaches"].items():
        said = {"club_id": training_session.club_id, "part": part, "taken_off_at": _moment(taken_off_at)}
        SessionCoach.objects.update_or_create(training_session=training_session, coach_id=coach, defaults=said)


def _text(moment: datetime | None) -> str | None:
    return moment.isoformat() if moment else None


def _moment(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None
