"""Keepers of the tables that know WHO: the record after leaving, old answers, names in the access log."""

from uuid import UUID

from django.db.models import Exists, ManyToOneRel, OuterRef, Q

from athletes.core.keeping import last_year_over
from athletes.models import (
    AccessLogEntry,
    BroughtItem,
    ChainHead,
    Clearance,
    CoachAssignment,
    ConsentForm,
    ConsentReminder,
    ContactNumber,
    Correction,
    DataRequest,
    GroupMembership,
    Guardianship,
    HealthKey,
    HealthStop,
    Hold,
    KeepingRun,
    KeepingStep,
    KeptKind,
    LedgerLine,
    LogQuestion,
    Mark,
    Membership,
    MonthNumbers,
    Objection,
    PeopleStep,
    PermissionEvent,
    PermissionRecipient,
    Person,
    PseudonymKey,
    Restriction,
    RosterFile,
    RulesConfirmed,
    SignedHead,
    SquadMembership,
    StaffRole,
    Withholding,
)
from athletes.services.keepers import Ids, Keeper, Night, needs_no_keeper, part_of_record, record_parts, register
from teamtrack.common.clock import today_in
from teamtrack.common.models import Job

BLANK = {
    "given_name": "",
    "family_name": "",
    "search_name": "",
    "birth_date": None,
    "home_country": "",
    "email": "",
    "phone": "",
}


def _register_steps() -> None:
    """What lets a change of the roster be undone."""
    register(
        Keeper(
            "people_steps", KeptKind.PLAN, PeopleStep, lambda night: Q(at__lt=night.instant(KeptKind.PLAN)),
        ),
        Keeper(
            "roster_files", KeptKind.INVITATION, RosterFile, lambda night: Q(at__lt=night.instant(KeptKind.INVITATION)),
        ),
    )  # fmt: skip


def register_all() -> None:
    """Called once, when the app is ready."""
    _register_steps()
    register(
        Keeper(
            "permission_answers", KeptKind.CONSENT_EVIDENCE, PermissionEvent, _answers_over, whose="athlete",
        ),
        Keeper("names_in_log", KeptKind.AUDIT, PseudonymKey, _keys_over, whose="person", club="person__club"),
        Keeper(
            "old_holds", KeptKind.CONSENT_EVIDENCE, Hold,
            lambda night: Q(lifted_on__lt=night.before(KeptKind.CONSENT_EVIDENCE)), whose="athlete",
        ),
        Keeper(
            "requests", KeptKind.CONSENT_EVIDENCE, DataRequest,
            lambda night: Q(ended_on__lt=night.before(KeptKind.CONSENT_EVIDENCE)), whose="athlete",
        ),
        Keeper(
            "brought_history", KeptKind.FEEDBACK, BroughtItem,
            lambda night: Q(brought_at__lt=night.instant(KeptKind.FEEDBACK)), whose="athlete",
        ),
        Keeper(
            "consent_forms", KeptKind.INVITATION, ConsentForm,
            lambda night: Q(made_at__lt=night.instant(KeptKind.INVITATION), good_until__lt=night.instant_now),
            whose="giver",
        ),
        Keeper(
            "consent_reminders", KeptKind.MESSAGE, ConsentReminder,
            lambda night: Q(at__lt=night.instant(KeptKind.MESSAGE)), whose="giver",
        ),
        Keeper(
            "old_nights", KeptKind.AUDIT, KeepingRun,
            lambda night: Q(day__lt=night.before(KeptKind.AUDIT), state=KeepingRun.State.DONE),
        ),
        Keeper(
            "records", KeptKind.RECORD, Person, _left, whose="pk", part=Q(left_on=None), remove=blank_people,
        ),
        Keeper(
            "people_gone", KeptKind.RECORD, Person, lambda night: _named_by_nothing(), whose="pk",
            part=Q(left_on__isnull=False),
        ),
    )  # fmt: skip
    part_of_record(
        (StaffRole, "person"), (Membership, "athlete"), (ContactNumber, "athlete"),
        (GroupMembership, "athlete"), (SquadMembership, "athlete"), (Guardianship, "athlete"),
        (Guardianship, "guardian"), (Clearance, "coach"), (CoachAssignment, "coach"), (Restriction, "athlete"),
        (Objection, "athlete"), (Withholding, "athlete"), (Withholding, "guardian"),
        (Correction, "person"), (LogQuestion, "athlete"), (LogQuestion, "asked_by"),
        (Mark, "athlete"),
    )  # fmt: skip
    for model, why in _WITHOUT.items():
        needs_no_keeper(model, why)


_WITHOUT = {
    PermissionRecipient: "goes with its answer",
    HealthKey: "goes with the last health text that it sealed",
    HealthStop: "goes with the last health text that it is about",
    KeepingStep: "goes with its night",
    LedgerLine: "ids alone; a restore repeats it, so it stays",
    MonthNumbers: "numbers of closed months, nobody's; they stay",
    AccessLogEntry: "pseudonyms alone; the keys go, the chain stays whole",
    ChainHead: "a hash",
    RulesConfirmed: "who answers for the club's rules; it stays while the rules stand",
    SignedHead: "hashes",
    Job: "ids of work; every night removes what ended before its time",
}


def _answers_over(night: Night) -> Q:
    """An answer ends with the giver's next one, when it runs out, or with leaving; what stands now is never over."""
    over = night.instant(KeptKind.CONSENT_EVIDENCE)
    same = {name: OuterRef(name) for name in ("athlete", "giver", "capacity", "purpose")}
    later = PermissionEvent.objects.filter(at__gt=OuterRef("at"), at__lt=over, **same)
    by_guardian = Exists(later.filter(about_guardian=OuterRef("about_guardian")))
    own = Exists(later.filter(about_guardian=None))
    answered_again = Q(by_guardian) | (Q(about_guardian=None) & Q(own))
    return answered_again | Q(until__lt=over) | Q(athlete__left_on__lt=night.before(KeptKind.CONSENT_EVIDENCE))


def _keys_over(night: Night) -> Q:
    return Q(year__lte=last_year_over(night.before(KeptKind.AUDIT)))


def _left(night: Night) -> Q:
    """Nothing has bound them to the club for longer than 30 days: no membership, no role, no child who is a member."""
    stays = Q(last_day=None) | Q(last_day__gte=night.stopped_before)
    child = Membership.objects.filter(stays, athlete=OuterRef("athlete"))
    bound = (
        Exists(Membership.objects.filter(stays, athlete=OuterRef("pk"))),
        Exists(StaffRole.objects.filter(stays, person=OuterRef("pk"))),
        Exists(Guardianship.objects.filter(stays, Exists(child), guardian=OuterRef("pk"))),
    )
    ever = (
        Exists(Membership.objects.filter(athlete=OuterRef("pk"))),
        Exists(StaffRole.objects.filter(person=OuterRef("pk"))),
        Exists(Guardianship.objects.filter(guardian=OuterRef("pk"))),
    )
    return ~Q(bound[0]) & ~Q(bound[1]) & ~Q(bound[2]) & (Q(ever[0]) | Q(ever[1]) | Q(ever[2]))


def blank_people(club_id: UUID, ids: Ids) -> None:
    """Take away who somebody was: the record, the account, the groups; what rests on them stays for its own time."""
    people = Person.objects.filter(club=club_id, pk__in=ids)
    RosterFile.objects.filter(club=club_id).delete()  # any of them may name them
    for model, field in record_parts():
        model._base_manager.filter(**{f"{field}__in": ids}).delete()
    for person in people.select_related("club"):
        Person.objects.filter(pk=person.pk).update(**BLANK, left_on=today_in(person.club.timezone))


def _named_by_nothing() -> Q:
    """A blanked person whom no row names any more, the keys of their pseudonyms among them."""
    found = Q()
    for relation in Person._meta.get_fields(include_hidden=True):
        if isinstance(relation, ManyToOneRel):
            rows = relation.related_model._base_manager.filter(**{relation.field.name: OuterRef("pk")})
            found &= ~Q(Exists(rows))
    return found
