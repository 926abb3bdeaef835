"""Keepers of the tables that know WHEN AND WHAT: entries as the kind of data they are kept as, rosters, plans."""

from collections.abc import Callable
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from athletes.health_key import destroy_key
from athletes.models import HealthKey, HealthStop, KeptKind
from athletes.services.closings import Noted, note_closings
from athletes.services.erase import NEVER_BACK
from athletes.services.health_keys import DESTROYED
from athletes.services.keepers import (
    Ids,
    Keeper,
    Night,
    before_counting,
    needs_no_keeper,
    part_of_record,
    register,
)
from athletes.services.ledger import Why, note_removed
from sessions.core.entries.kinds import KINDS
from sessions.models import (
    Availability,
    Caution,
    CoachAbsence,
    CoachEvening,
    CoachSettings,
    Demand,
    DraftStep,
    EmergencyAccess,
    Entry,
    ErasedEntry,
    Focus,
    HiddenLine,
    MeetEntry,
    Notice,
    OtherSport,
    PainDetail,
    PaperSheet,
    PatternItem,
    Placement,
    Proposal,
    Publishing,
    Rehearsal,
    RosterLeaver,
    SeasonStep,
    SessionAthlete,
    SessionClosing,
    SessionCoach,
    SessionNote,
    TrainingSession,
    Unsuited,
    WeekPlan,
)
from sessions.services.close_months import close_months

NAMES_OF_ENTRIES = {
    KeptKind.HEALTH: "pain_notes", KeptKind.FEEDBACK: "what_coaches_saw", KeptKind.LOG: "own_logs",
    KeptKind.ATTENDANCE: "roll_calls", KeptKind.AVAILABILITY: "stops",
}  # fmt: skip


def register_all() -> None:
    """Called once, when the app is ready."""
    NEVER_BACK.append(_remember_entries)
    note_closings(
        Noted("off_session", SessionCoach, "taken_off_at"),
        Noted("emergency_access", EmergencyAccess, "ended_at"),
        Noted("erased_entry", ErasedEntry, "", is_limit=True, fields=("training_session_id", "entry_id")),
    )
    before_counting(lambda night: close_months(club=night.club, day=night.day))
    register(*(_of_entries(kind, name) for kind, name in NAMES_OF_ENTRIES.items()))
    register(
        Keeper("points_in_hand", KeptKind.FEEDBACK, Focus, _points_over, whose="athlete"),
        Keeper(
            "what_does_not_suit", KeptKind.FEEDBACK, Unsuited,
            lambda night: Q(since__lt=night.before(KeptKind.FEEDBACK)), whose="athlete",
        ),
        Keeper("rosters", KeptKind.ATTENDANCE, SessionAthlete, _session_over(KeptKind.ATTENDANCE), whose="athlete"),
        Keeper("off_rosters", KeptKind.ATTENDANCE, RosterLeaver, _session_over(KeptKind.ATTENDANCE), whose="athlete"),
        Keeper(
            "not_coming", KeptKind.AVAILABILITY, Availability,
            lambda night: Q(ends_at__lt=night.instant(KeptKind.AVAILABILITY)), whose="athlete",
        ),
        Keeper(
            "other_sports", KeptKind.AVAILABILITY, OtherSport,
            lambda night: Q(last_day__lt=night.before(KeptKind.AVAILABILITY)), whose="athlete",
        ),
        Keeper(
            "notices", KeptKind.MESSAGE, Notice, lambda night: Q(made_at__lt=night.instant(KeptKind.MESSAGE)),
            whose="to", held=lambda night: Q(to__in=night.held) | Q(about__isnull=False, about__in=night.held),
        ),
        Keeper(
            "emergencies", KeptKind.MESSAGE, EmergencyAccess,
            lambda night: Q(opened_at__lt=night.instant(KeptKind.MESSAGE)), whose="athlete",
        ),
        Keeper("session_coaches", KeptKind.PLAN, SessionCoach, _session_over(KeptKind.PLAN), whose="coach"),
        Keeper("session_notes", KeptKind.PLAN, SessionNote, _session_over(KeptKind.PLAN), whose="by"),
        Keeper("sheets", KeptKind.ATTENDANCE, PaperSheet, _session_over(KeptKind.ATTENDANCE), held=_on_held_roster),
        Keeper("closings", KeptKind.ATTENDANCE, SessionClosing, _session_over(KeptKind.ATTENDANCE), whose="closed_by"),
        Keeper(
            "absences_of_coaches", KeptKind.PLAN, CoachAbsence,
            lambda night: Q(ends_at__lt=night.instant(KeptKind.PLAN)), whose="coach",
        ),
        Keeper(
            "cautions", KeptKind.PLAN, Caution, lambda night: Q(at__lt=night.instant(KeptKind.PLAN)), whose="by",
        ),
        Keeper("sessions", KeptKind.PLAN, TrainingSession, _sessions_left_empty),
        Keeper("weeks", KeptKind.PLAN, WeekPlan, lambda night: Q(monday__lt=night.before(KeptKind.PLAN))),
        Keeper("season_steps", KeptKind.PLAN, SeasonStep, lambda night: Q(at__lt=night.instant(KeptKind.PLAN))),
        Keeper("rehearsals", KeptKind.PLAN, Rehearsal, lambda night: Q(asked_at__lt=night.instant(KeptKind.PLAN))),
    )  # fmt: skip
    part_of_record(
        (CoachEvening, "coach"), (CoachSettings, "coach"),
        (PatternItem.coaches.through, "person"), (PatternItem.qualified.through, "person"),
    )  # fmt: skip
    for model, why in _WITHOUT.items():
        needs_no_keeper(model, why)


_WITHOUT = {
    PainDetail: "goes with its entry",
    HiddenLine: "goes with its entry",
    ErasedEntry: "goes with its session: an id, nobody's",
    Demand.coaches.through: "goes with its week",
    Demand.qualified.through: "goes with its week",
    Placement: "goes with its week",
    Placement.coaches.through: "goes with its week",
    Placement.excused.through: "goes with its week",
    Placement.away.through: "goes with its week",
    Placement.easier.through: "goes with its week",
    Proposal: "goes with its week",
    Publishing: "goes with its week",
    DraftStep: "goes with its week",
}


def _of_entries(kind: KeptKind, name: str) -> Keeper:
    kinds = [one.name for one in KINDS.values() if one.kept_as == kind]
    is_health = kind is KeptKind.HEALTH
    return Keeper(
        name, kind, Entry, _health_over if is_health else _received_before(kind), whose="athlete",
        part=Q(kind__in=kinds), remove=remove_pain if is_health else None,
    )  # fmt: skip


def _received_before(kind: KeptKind) -> Callable[[Night], Q]:
    return lambda night: Q(received_at__lt=night.instant(kind))


def _health_over(night: Night) -> Q:
    """Older than its period, or permission ended more than 30 days ago."""
    stopped = HealthStop.objects.filter(athlete=OuterRef("athlete"), since__lt=night.stopped_before)
    return Q(received_at__lt=night.instant(KeptKind.HEALTH)) | Q(Exists(stopped))


def _session_over(kind: KeptKind) -> Callable[[Night], Q]:
    return lambda night: Q(training_session__ends_at__lt=night.instant(kind))


def _points_over(night: Night) -> Q:
    return Q(until__lt=night.before(KeptKind.FEEDBACK)) | Q(athlete__left_on__lt=night.before(KeptKind.FEEDBACK))


def _on_held_roster(night: Night) -> Q:
    """A sheet names athletes in its lines: it stays where one of its session's roster is held."""
    here = SessionAthlete.objects.filter(training_session=OuterRef("training_session"), athlete__in=night.held)
    return Q(Exists(here))


def _sessions_left_empty(night: Night) -> Q:
    """Over, and nothing about anybody hangs on it any more."""
    hanging = (
        Entry,
        MeetEntry,
        SessionAthlete,
        RosterLeaver,
        Availability,
        SessionCoach,
        SessionNote,
        PaperSheet,
        SessionClosing,
    )
    over = Q(ends_at__lt=night.instant(KeptKind.PLAN))
    for model in hanging:
        over &= ~Q(Exists(model._base_manager.filter(training_session=OuterRef("pk"))))
    return over


def _remember_entries(club_id: UUID, keeper: str, ids: Ids) -> None:
    """A phone that still holds an entry which was taken away on request is told that it is gone for good."""
    if keeper not in NAMES_OF_ENTRIES.values():
        return
    rows = Entry.objects.filter(club=club_id, pk__in=ids).values_list("pk", "training_session_id")
    erased = [ErasedEntry(club_id=club_id, entry_id=pk, training_session_id=session) for pk, session in rows]
    ErasedEntry.objects.bulk_create(erased, ignore_conflicts=True)


def remove_pain(club_id: UUID, ids: Ids) -> None:
    """Take pain notes away with their text and notices; an athlete of whom none is left loses the key too, so that
    the text is gone from backups as well."""
    athletes = set(Entry.objects.filter(club=club_id, pk__in=ids).values_list("athlete_id", flat=True))
    # Whoever writes health text holds the same row, so that none is sealed with a key that is going.
    keys = {key.athlete_id: key.pk for key in HealthKey.objects.select_for_update().filter(athlete__in=athletes)}
    Notice.objects.filter(club=club_id, entry_id__in=ids).delete()
    PainDetail.objects.filter(club=club_id, pk__in=ids).delete()
    Entry.objects.filter(club=club_id, pk__in=ids).delete()
    kept = set(PainDetail.objects.filter(athlete__in=athletes).values_list("athlete_id", flat=True))
    gone = {athlete: key for athlete, key in keys.items() if athlete not in kept}
    HealthStop.objects.filter(athlete__in=athletes - kept).delete()
    HealthKey.objects.filter(pk__in=gone.values()).delete()
    if gone:
        by_person: dict[UUID | None, list[UUID]] = {athlete: [key] for athlete, key in gone.items()}
        note_removed(club_id=club_id, what=DESTROYED, why=Why.PERIOD, by_person=by_person)
    transaction.on_commit(lambda: [destroy_key(key) for key in gone.values()], robust=True)
