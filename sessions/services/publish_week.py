"""Publishes a week: the draft becomes training sessions, and exactly those whom a change concerns are told."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from athletes.core import ages
from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_week
from sessions.core.week_changes import Aspect, Place
from sessions.models import Demand, Publishing, RosterLeaver, SessionAthlete, SessionCoach, TrainingSession, WeekPlan
from sessions.selectors.publication import Publication, SessionChange, publication_of
from sessions.selectors.week_names import week_names
from sessions.services.session_snapshot import taken
from sessions.services.tell_changes import send_later, write_notices
from sessions.services.week_draft import week_conflict
from sessions.week_words import WeekNames, change_sentence

MOST_WORDS = 300
PLANNED = ("kind", "also", "starts_at", "ends_at", "venue", "lanes", "state", "changed_at", "change_words")
"""What a plan says of a training session; the rest of its row, as its counter of entries, is other hands'."""


@dataclass(frozen=True)
class Published:
    """What was done: sessions made, changed or called off, how many people are told, and what takes it back."""

    week: WeekPlan
    publishing: Publishing | None
    sessions: int
    people: int


@transaction.atomic
def publish_week(*, viewer: Viewer, monday: date, revision: int) -> Published:
    """Publish the draft that is at `revision`; Conflict, with what changed, where it has moved on.

    Sessions keep their ids, those that have begun stay as they are, and publishing the same again tells nobody.
    """
    week = get_week(viewer, monday)
    is_mine = WeekPlan.objects.filter(pk=week.pk, revision=revision).update(
        published_revision=revision, published_by=viewer.person_id, published_at=viewer.now
    )
    if is_mine != 1:
        raise week_conflict(viewer=viewer, week=week, revision=revision)
    publication = publication_of(viewer=viewer, week=week)
    names = _names(viewer, publication)
    publishing = _remembered(viewer, week, publication, revision) if publication.changes else None
    written = [_publish_change(viewer, session_change, names) for session_change in publication.changes]
    send_later(viewer=viewer, target_id=week.pk, changed=written)
    log_acts(viewer=viewer, acts=[Act("publish", "week", None, ("training_sessions",))])
    return Published(week, publishing, len(publication.changes), len(publication.people))


def _remembered(viewer: Viewer, week: WeekPlan, publication: Publication, revision: int) -> Publishing:
    """What is published before the change, so that it can be undone."""
    wanted = [change.demand.pk for change in publication.changes]
    rows = TrainingSession.objects.filter(demand__in=wanted)
    found = {
        row.demand_id: row for row in rows.prefetch_related("session_athletes", "session_coaches", "roster_leavers")
    }
    return Publishing.objects.create(
        club_id=week.club_id,
        week=week,
        revision=revision,
        by_id=viewer.person_id,
        at=viewer.now,
        people=len(publication.people),
        before={str(one): taken(found[one]) if one in found else None for one in wanted},
        state={
            "published_revision": week.published_revision,
            "published_by_id": str(week.published_by_id) if week.published_by_id else None,
            "published_at": week.published_at.isoformat() if week.published_at else None,
        },
    )


def _names(viewer: Viewer, publication: Publication) -> WeekNames:
    """Coaches and venues alone: words that everybody on a session reads name no athlete."""
    return week_names(viewer=viewer, demands=[change.demand for change in publication.changes])


def _publish_change(viewer: Viewer, session_change: SessionChange, names: WeekNames) -> TrainingSession:
    place = session_change.change.after
    if place is None:
        training_session = _called_off(viewer, session_change.demand)
    else:
        training_session = _written(viewer, session_change, place, names)
        _write_coaches(viewer, training_session, place)
        _write_roster(viewer, training_session, session_change)
    write_notices(viewer=viewer, training_session=training_session, told=session_change.told)
    return training_session


def _called_off(viewer: Viewer, demand: Demand) -> TrainingSession:
    training_session = TrainingSession.objects.get(demand=demand)
    training_session.state = TrainingSession.State.CALLED_OFF
    training_session.changed_at = viewer.now
    training_session.change_words = ""
    training_session.save(update_fields=["state", "changed_at", "change_words"])
    return training_session


def _written(viewer: Viewer, session_change: SessionChange, place: Place, names: WeekNames) -> TrainingSession:
    """The demand's training session, made now or changed in place."""
    demand, change = session_change.demand, session_change.change
    training_session = TrainingSession.objects.filter(demand=demand).first()
    is_new = training_session is None
    if training_session is None:
        training_session = TrainingSession(club_id=viewer.club_id, demand=demand)
    training_session.kind, training_session.also = demand.kind, demand.also
    training_session.starts_at, training_session.ends_at = place.starts_at, place.ends_at
    training_session.venue_id, training_session.lanes = place.venue, demand.lanes
    training_session.state = TrainingSession.State.PUBLISHED
    if not is_new:
        training_session.changed_at = viewer.now
        training_session.change_words = _words_for_all(session_change, names)
    training_session.save(update_fields=None if is_new else PLANNED)
    training_session.groups.set([demand.group_id])
    assert change.after is not None
    return training_session


def _words_for_all(session_change: SessionChange, names: WeekNames) -> str:
    """What changed for everybody: when, where, with whom; never who stays away."""
    change = session_change.change
    if Aspect.PLACED in change.aspects:
        return ""
    return change_sentence(replace(change, aspects=change.aspects - {Aspect.WHO}), names)[:MOST_WORDS]


def _write_coaches(viewer: Viewer, training_session: TrainingSession, place: Place) -> None:
    """Who leads it now; who was taken off stays on the list with the moment, for late sending."""
    day = place.starts_at.astimezone(ZoneInfo(viewer.club.timezone)).date()
    training_session.session_coaches.filter(taken_off_at=None).exclude(coach__in=place.coaches).update(
        taken_off_at=viewer.now
    )
    for coach in Person.objects.filter(club=viewer.club_id, pk__in=place.coaches):
        is_helper = coach.birth_date is None or ages.is_minor(ages.age_on(coach.birth_date, day))
        part = SessionCoach.Part.HELPER if is_helper else SessionCoach.Part.COACH
        SessionCoach.objects.update_or_create(
            training_session=training_session,
            coach=coach,
            defaults={"club_id": viewer.club_id, "part": part, "taken_off_at": None},
        )


def _write_roster(viewer: Viewer, training_session: TrainingSession, session_change: SessionChange) -> None:
    """The group's athletes as the draft has them: those who stay away as such, or in an easier version."""
    Comes = SessionAthlete.Comes
    listed = {row.athlete_id: row for row in training_session.session_athletes.all()}
    here = session_change.comes | session_change.away
    training_session.roster_leavers.filter(athlete__in=here).delete()
    _write_leavers(viewer, training_session, listed.keys() - here)
    concerned = {told.about or told.to for told in session_change.told}
    new = []
    for athlete_id in sorted(here):
        row = listed.get(athlete_id)
        if row is None:
            row = SessionAthlete(club_id=training_session.club_id, training_session=training_session)
            row.athlete_id = athlete_id
            new.append(row)
        if athlete_id in session_change.away:
            row.comes = Comes.EASIER if athlete_id in session_change.easier else Comes.AWAY
        else:
            row.comes = Comes.WHOLE
        row.seen_at = None if athlete_id in concerned else row.seen_at
    SessionAthlete.objects.bulk_create(new)
    kept = [row for row in listed.values() if row.athlete_id in here]
    SessionAthlete.objects.bulk_update(kept, ["comes", "seen_at"])


def _write_leavers(viewer: Viewer, training_session: TrainingSession, leavers: Collection[UUID]) -> None:
    """Take athletes off the roster; each is remembered with the moment, for late sending."""
    training_session.session_athletes.filter(athlete__in=leavers).delete()
    RosterLeaver.objects.bulk_create(
        RosterLeaver(club_id=viewer.club_id, training_session=training_session, athlete_id=one, taken_off_at=viewer.now)
        for one in leavers
    )
