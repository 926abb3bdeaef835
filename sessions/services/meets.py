"""Adds and changes meets, and who is entered in what; only those entered are at the meet."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import get_athlete
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_meet, groups_set_by
from sessions.models import Meet, MeetEntry, Notice, RosterLeaver, SessionAthlete, TrainingSession
from sessions.models.season import Kind
from sessions.services.meet_results import best_mark, keep_mark
from sessions.services.tell_meet import concerned, tell
from teamtrack.common.errors import NotFound, Refused

IN_CALENDAR = ("title", "place", "starts_at", "ends_at", "importance", "load_min")
BESIDE = ("entries_close_on", "travel")


@dataclass(frozen=True)
class MeetFacts:
    """What is said of a meet; instants are aware, `load_min` the minutes of work that it is for most."""

    title: str
    starts_at: datetime
    ends_at: datetime
    place: str = ""
    importance: str = TrainingSession.Importance.ORDINARY
    load_min: int | None = None
    entries_close_on: date | None = None
    travel: str = ""


@transaction.atomic
def add_meet(*, viewer: Viewer, facts: MeetFacts, group_ids: Collection[UUID]) -> TrainingSession:
    """A new meet in the calendar, nobody entered yet; the very same again is the one that is there.

    Raises NotFound where a group is not the viewer's to plan.
    """
    groups = list(groups_set_by(viewer).filter(pk__in=group_ids))
    if len(groups) != len(set(group_ids)) or not groups:
        raise NotFound()
    _check(facts)
    if (same := _same(viewer, facts, set(group_ids))) is not None:
        return same
    training_session = TrainingSession(club_id=viewer.club_id, kind=Kind.MEET)
    for name in IN_CALENDAR:
        setattr(training_session, name, getattr(facts, name))
    training_session.save(force_insert=True)
    training_session.groups.set(groups)
    _write_beside(training_session, facts)
    log_acts(viewer=viewer, acts=[Act("made", "meet", None, IN_CALENDAR + BESIDE)])
    return training_session


def _same(viewer: Viewer, facts: MeetFacts, group_ids: set[UUID]) -> TrainingSession | None:
    """A meet of these groups of which the very same is said already, and that takes place."""
    said = {name: getattr(facts, name) for name in IN_CALENDAR}
    rows = TrainingSession.objects.filter(club=viewer.club_id, kind=Kind.MEET, **said)
    takes_place = rows.exclude(state=TrainingSession.State.CALLED_OFF).prefetch_related("groups")
    return next((one for one in takes_place if {group.pk for group in one.groups.all()} == group_ids), None)


@transaction.atomic
def remove_meet(*, viewer: Viewer, session_id: UUID) -> bool:
    """Take back a meet that was only just added; False where somebody is entered already, then it stays."""
    training_session = _locked(viewer, session_id)
    if training_session.session_athletes.exists() or training_session.last_seq:
        return False
    training_session.delete()
    log_acts(viewer=viewer, acts=[Act("removed", "meet")])
    return True


@transaction.atomic
def change_meet(*, viewer: Viewer, session_id: UUID, facts: MeetFacts) -> MeetFacts:
    """Write what is said of a meet now; answers what was said before."""
    training_session = _locked(viewer, session_id)
    _check(facts)
    before = facts_of(training_session)
    changed = [name for name in IN_CALENDAR + BESIDE if getattr(before, name) != getattr(facts, name)]
    if not changed:
        return before
    for name in IN_CALENDAR:
        setattr(training_session, name, getattr(facts, name))
    if {"starts_at", "ends_at", "place"} & set(changed):
        training_session.changed_at = viewer.now
        training_session.session_athletes.update(seen_at=None)
    training_session.save(update_fields=[*IN_CALENDAR, "changed_at"])
    _write_beside(training_session, facts)
    if {"starts_at", "ends_at", "place"} & set(changed) and not training_session.is_called_off:
        told = concerned(viewer=viewer, meet=training_session, kind=Notice.Kind.MOVED)
        tell(viewer=viewer, meet=training_session, told=told)
    log_acts(viewer=viewer, acts=[Act("change", "meet", None, tuple(changed))])
    return before


def facts_of(training_session: TrainingSession) -> MeetFacts:
    """What is said of a meet."""
    meet = getattr(training_session, "meet", None)
    beside = {name: getattr(meet, name) for name in BESIDE} if meet else {}
    return MeetFacts(**{name: getattr(training_session, name) for name in IN_CALENDAR}, **beside)


def _check(facts: MeetFacts) -> None:
    if facts.ends_at <= facts.starts_at:
        wrong = _("It ends before it begins.")
        raise Refused("CHECK_FIELDS", _("Nothing was saved: see below."), fields={"ends_at": [wrong]})


def _write_beside(training_session: TrainingSession, facts: MeetFacts) -> None:
    said = {name: getattr(facts, name) for name in BESIDE}
    Meet.objects.update_or_create(
        training_session=training_session, defaults={"club_id": training_session.club_id, **said}
    )


def _locked(viewer: Viewer, session_id: UUID) -> TrainingSession:
    """The meet, where the viewer plans it, held until the commit."""
    get_meet(viewer, session_id)
    rows = TrainingSession.objects.select_for_update(of=("self",)).select_related("meet")
    return rows.get(pk=session_id)


@transaction.atomic
def enter_athlete(
    *, viewer: Viewer, session_id: UUID, athlete_id: UUID, event: str, own_mark: str = "", minutes: int | None = None
) -> MeetEntry:
    """Enter an athlete in an event, or say its mark and minutes anew; the athlete is on the meet's roster."""
    training_session = _locked(viewer, session_id)
    athlete = get_athlete(viewer, athlete_id)
    said = own_mark or best_mark(viewer=viewer, athlete=athlete, event=event)
    entry, _made = MeetEntry.objects.update_or_create(
        training_session=training_session,
        athlete=athlete,
        event=event,
        defaults={"club_id": viewer.club_id, "own_mark": said, "minutes": minutes},
    )
    RosterLeaver.objects.filter(training_session=training_session, athlete=athlete).delete()
    row, is_new = SessionAthlete.objects.get_or_create(
        training_session=training_session, athlete=athlete, defaults={"club_id": viewer.club_id}
    )
    if is_new:
        told = concerned(viewer=viewer, meet=training_session, kind=Notice.Kind.ADDED, athlete_id=athlete_id)
        tell(viewer=viewer, meet=training_session, told=told)
    elif row.comes == SessionAthlete.Comes.AWAY:
        SessionAthlete.objects.filter(pk=row.pk).update(comes=SessionAthlete.Comes.WHOLE)
    log_acts(viewer=viewer, acts=[Act("enter", "meet", athlete_id, ("event", "own_mark", "minutes"))])
    return entry


@transaction.atomic
def withdraw_entry(*, viewer: Viewer, session_id: UUID, entry_id: UUID) -> MeetEntry:
    """Take out one entry; with the last one the athlete is no longer at the meet."""
    training_session = _locked(viewer, session_id)
    entry = MeetEntry.objects.filter(training_session=training_session, pk=entry_id).first()
    if entry is None:
        raise NotFound()
    get_athlete(viewer, entry.athlete_id)
    MeetEntry.objects.filter(pk=entry.pk).delete()
    if not MeetEntry.objects.filter(training_session=training_session, athlete=entry.athlete_id).exists():
        _take_off(viewer, training_session, entry.athlete_id)
    log_acts(viewer=viewer, acts=[Act("withdraw", "meet", entry.athlete_id, ("event",))])
    return entry


@transaction.atomic
def take_off_meet(*, viewer: Viewer, session_id: UUID, athlete_id: UUID) -> None:
    """An athlete who stands on the meet's roster without an event does not go after all."""
    training_session = _locked(viewer, session_id)
    get_athlete(viewer, athlete_id)
    MeetEntry.objects.filter(training_session=training_session, athlete=athlete_id).delete()
    _take_off(viewer, training_session, athlete_id)
    log_acts(viewer=viewer, acts=[Act("withdraw", "meet", athlete_id, ())])


def _take_off(viewer: Viewer, training_session: TrainingSession, athlete_id: UUID) -> None:
    told = concerned(viewer=viewer, meet=training_session, kind=Notice.Kind.CALLED_OFF, athlete_id=athlete_id)
    training_session.session_athletes.filter(athlete=athlete_id).delete()
    tell(viewer=viewer, meet=training_session, told=told)
    RosterLeaver.objects.update_or_create(
        training_session=training_session,
        athlete_id=athlete_id,
        defaults={"club_id": viewer.club_id, "taken_off_at": viewer.now},
    )


@transaction.atomic
def set_result(*, viewer: Viewer, session_id: UUID, entry_id: UUID, result: str) -> str:
    """Say how an entry went, as the meet wrote it; a time of a running event becomes a mark. Answers what was said
    before."""
    training_session = _locked(viewer, session_id)
    entry = MeetEntry.objects.filter(training_session=training_session, pk=entry_id).first()
    if entry is None:
        raise NotFound()
    get_athlete(viewer, entry.athlete_id)
    if training_session.starts_at > viewer.now:
        raise Refused("TOO_EARLY", _("The meet has not begun: there is no result yet. Nothing was saved."))
    mark = keep_mark(viewer=viewer, entry=entry, result=result)
    MeetEntry.objects.filter(pk=entry.pk).update(result=result, mark=mark)
    log_acts(viewer=viewer, acts=[Act("record", "result", entry.athlete_id, ("result",))])
    return entry.result
