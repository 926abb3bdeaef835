"""Requests about an athlete's data: opened with the decision's answer, extended once, ended with a text and a reason.

Restriction and objection act in the transaction in which they come in: the data are only stored until a person decides.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from athletes.access import get_athlete_asked_about
from athletes.circumstances.facts import circumstances
from athletes.core.asking import due_on
from athletes.core.permissions import Answer, decide
from athletes.core.permissions.codes import Code
from athletes.core.permissions.facts import Act as Deed
from athletes.core.permissions.facts import Role as ActingRole
from athletes.core.permissions.facts import WordOf
from athletes.models import DataRequest, Guardianship, Hold, Objection, Person, Restriction
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.selectors.requests import WHAT, may_be_in_the_case
from athletes.services.access_log import Act, log_acts
from athletes.services.erase_on_request import erase_on_request
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound, Refused

Kind, State = DataRequest.Kind, DataRequest.State
ACTS_AT_ONCE = {Kind.OBJECTION, Kind.RESTRICTION}


@dataclass(frozen=True)
class Asked:
    """What somebody asks: its kind, which data, in which words."""

    kind: str
    what: str = ""
    words: str = ""


@transaction.atomic
def open_request(*, viewer: Viewer, athlete_id: UUID, asked: Asked) -> DataRequest:
    """A request in one's own sign-in; raises NotFound for a stranger's athlete, Refused where this voice counts not."""
    athlete, _answers = get_athlete_asked_about(viewer, athlete_id)
    _check(asked)
    decided = decision_on(viewer=viewer, athlete=athlete, asked=asked)
    if decided.code in _NOT_HEARD:
        raise Refused(decided.code, sentence_for(decided.code))
    return _open(viewer, athlete, asked, decided, asked_by=viewer.person, capacity=viewer.role)


@transaction.atomic
def enter_request(*, viewer: Viewer, athlete: Person, asked_by: Person, asked: Asked) -> DataRequest:
    """A request that came on paper or was spoken, entered by an admin who is neither guardian nor coach here."""
    if viewer.role != Role.ADMIN or athlete.club_id != viewer.club_id:
        raise NotFound()
    _check(asked)
    capacity = Role.ATHLETE if asked_by.pk == athlete.pk else Role.GUARDIAN
    speaker = Viewer(person=asked_by, club=viewer.club, role=capacity, now=viewer.now)
    decided = decision_on(viewer=speaker, athlete=athlete, asked=asked, entered_by=viewer)
    if decided.code in _NOT_HEARD:
        raise Refused(decided.code, sentence_for(decided.code))
    return _open(viewer, athlete, asked, decided, asked_by=asked_by, capacity=capacity)


_NOT_HEARD = {Code.NOT_ENTITLED, Code.GUARDIAN_UNVERIFIED, Code.GUARDIAN_NO_AUTHORITY, Code.WRONG_SESSION}


def decision_on(*, viewer: Viewer, athlete: Person, asked: Asked, entered_by: Viewer | None = None) -> Answer:
    """What the decision says to this request: export and access as `export`, all others as `erase` of the data meant.

    `viewer` speaks; an admin who enters the paper is `entered_by`.
    """
    takes_copy = asked.kind in (Kind.ACCESS, Kind.EXPORT)
    purpose, act = ("record", Deed.EXPORT) if takes_copy else (asked.what or "feedback", Deed.ERASE)
    found = circumstances(viewer=viewer, athletes=[athlete], purposes=["record", "copy" if takes_copy else "erasure"])
    facts = found.facts(athlete.pk, purpose, act=act, legal_hold=is_held(athlete))
    if entered_by is not None:
        word = WordOf.ATHLETE if viewer.role == Role.ATHLETE else WordOf.GUARDIAN
        own_case = may_be_in_the_case(viewer=entered_by, athlete=athlete)
        facts = replace(facts, by=ActingRole.ADMIN, word_of=word, own_case=own_case)
    return decide(facts)


def is_held(athlete: Person) -> bool:
    """Whether something of the athlete is kept for a legal reason."""
    return Hold.objects.filter(athlete=athlete, lifted_on=None).exists()


@transaction.atomic
def extend_request(*, viewer: Viewer, request_id: UUID, because: str) -> DataRequest:
    """Two months more, once, with the reason that the family is told (GDPR Art. 12(3))."""
    row = _open_row(viewer, request_id)
    if row.extended_on is not None:
        raise Conflict("ALREADY_DONE", _("This was extended before. It cannot be extended twice."))
    if not because.strip():
        raise Refused("CHECK_FIELDS", _("Say why: the family is told the reason. Nothing was changed."))
    if viewer.today > row.due_on:
        raise Refused("TOO_LATE", _("The month is over, so it cannot be extended any more. Please answer now."))
    row.extended_on, row.extended_because = viewer.today, because.strip()
    row.due_on = due_on(row.received_on, is_extended=True)
    row.save(update_fields=["extended_on", "extended_because", "due_on"])
    log_acts(viewer=viewer, acts=[Act("extend", "data_request", row.athlete_id, ("due_on",), row.kind.upper())])
    return row


@transaction.atomic
def end_request(*, viewer: Viewer, request_id: UUID, followed: bool, answer: str, kept: str = "") -> DataRequest:
    """End a request with the text that is sent and what stays, and why.

    An objection that is followed hides the form history from then on; what is not followed is used again. What a hold
    keeps from being erased is only stored until it may go.
    """
    row = _open_row(viewer, request_id)
    if not answer.strip():
        raise Refused("CHECK_FIELDS", _("Write the text that is sent. Nothing was changed."))
    if may_be_in_the_case(viewer=viewer, athlete=row.athlete):
        raise Refused(Code.NOT_ENTITLED, _("This is about your own family or runner: another admin has to end it."))
    row.state, row.ended_on, row.acted_by = State.DONE if followed else State.REFUSED, viewer.today, viewer.person
    row.answer, row.kept = answer.strip(), kept.strip()
    row.save(update_fields=["state", "ended_on", "acted_by", "answer", "kept"])
    if row.kind == Kind.ERASURE:
        _end_erasure(viewer, row, followed=followed)
    elif row.kind == Kind.OBJECTION:
        _end_restriction(row, viewer.today)
        if followed:
            Objection.objects.create(
                club_id=viewer.club_id, athlete=row.athlete, purpose=row.what, first_day=viewer.today
            )
    elif row.kind == Kind.RESTRICTION and not followed:
        _end_restriction(row, viewer.today)
    log_acts(viewer=viewer, acts=[Act("closed", "data_request", row.athlete_id, ("state",), row.state.upper())])
    return row


def _end_erasure(viewer: Viewer, row: DataRequest, *, followed: bool) -> None:
    """Erase, or say why not; where a hold is the reason, what can be hidden is hidden meanwhile."""
    decided = _decided_today(viewer, row)
    if followed:
        erase_on_request(viewer=viewer, row=row, decided=decided)
    can_be_hidden = row.what in WHAT[Kind.RESTRICTION]
    if decided.code is Code.LEGAL_HOLD:
        row.code = Code.LEGAL_HOLD
        row.save(update_fields=["code"])
        if can_be_hidden:
            today = viewer.today
            Restriction.objects.create(club_id=viewer.club_id, athlete=row.athlete, purpose=row.what, first_day=today)
    elif can_be_hidden:
        _end_restriction(row, viewer.today)


def take_up_again(*, viewer: Viewer, athlete: Person) -> None:
    """A hold is lifted: erasures that it stopped are open again, with a month from today; in its transaction."""
    stopped = _stopped_by_hold(athlete)
    acts = [Act("opened", "data_request", athlete.pk, ("state",), Kind.ERASURE.upper()) for _row in stopped]
    stopped.update(state=State.OPEN, ended_on=None, acted_by=None, due_on=due_on(viewer.today))
    log_acts(viewer=viewer, acts=acts)


def _stopped_by_hold(athlete: Person) -> QuerySet[DataRequest]:
    return DataRequest.objects.filter(athlete=athlete, kind=Kind.ERASURE, state=State.REFUSED, code=Code.LEGAL_HOLD)


@transaction.atomic
def take_back_request(*, viewer: Viewer, request_id: UUID) -> DataRequest:
    """Whoever asked takes it back, also a restriction that stands: what was only stored is used again."""
    mine = DataRequest.objects.select_for_update().filter(
        club=viewer.club_id, asked_by=viewer.person_id, capacity=viewer.role
    )
    row = mine.filter(pk=request_id).first()
    if row is None:
        raise NotFound()
    if row.state != State.OPEN and (row.kind, row.state) != (Kind.RESTRICTION, State.DONE):
        raise Conflict("ALREADY_DONE", _("This request is ended already."))
    get_athlete_asked_about(viewer, row.athlete_id)
    row.state, row.ended_on = State.TAKEN_BACK, viewer.today
    row.save(update_fields=["state", "ended_on"])
    if row.what in WHAT[Kind.RESTRICTION]:
        _end_restriction(row, viewer.today)
    log_acts(viewer=viewer, acts=[Act("undone", "data_request", row.athlete_id, ("state",), row.kind.upper())])
    return row


def _decided_today(viewer: Viewer, row: DataRequest) -> Answer:
    """What the decision says now: since the request came in, the athlete may have answered, or a hold been set."""
    speaker = Viewer(person=row.asked_by, club=viewer.club, role=row.capacity, now=viewer.now)
    return decision_on(viewer=speaker, athlete=row.athlete, asked=Asked(row.kind, row.what))


def _check(asked: Asked) -> None:
    if asked.what not in WHAT[Kind(asked.kind)]:
        raise Refused("CHECK_FIELDS", _("Say what it is about. Nothing was changed."))
    if asked.kind == Kind.CORRECTION and not asked.words.strip():
        raise Refused("CHECK_FIELDS", _("Say what is wrong and what is right. Nothing was changed."))


def _open(
    viewer: Viewer, athlete: Person, asked: Asked, decided: Answer, *, asked_by: Person, capacity: str
) -> DataRequest:
    """The request as asked; the very same asked again on that day, still open, is the one that is there."""
    Person.objects.select_for_update(no_key=True).get(pk=athlete.pk)  # a form sent twice comes one after the other
    said = {
        "athlete": athlete, "asked_by": asked_by, "capacity": capacity, "kind": asked.kind, "what": asked.what,
        "words": asked.words.strip(), "received_on": viewer.today,
    }  # fmt: skip
    there = DataRequest.objects.filter(club=viewer.club_id, state=State.OPEN, **said).first()
    if there is not None:
        return there
    row = DataRequest.objects.create(
        club_id=viewer.club_id,
        **said,
        due_on=due_on(viewer.today),
        code=decided.code,
        entered_by=viewer.person,
    )
    if asked.kind in ACTS_AT_ONCE:
        Restriction.objects.create(club_id=viewer.club_id, athlete=athlete, purpose=asked.what, first_day=viewer.today)
    log_acts(viewer=viewer, acts=[Act("ask", "data_request", athlete.pk, ("kind", "what"), asked.kind.upper())])
    return row


def _end_restriction(row: DataRequest, today: date) -> None:
    """The data are used again, unless another request still asks that they are only stored."""
    others = DataRequest.objects.filter(
        athlete=row.athlete, what=row.what, kind__in=ACTS_AT_ONCE, state__in=(State.OPEN, State.DONE)
    ).exclude(pk=row.pk)
    hidden = _stopped_by_hold(row.athlete).filter(what=row.what).exclude(pk=row.pk)
    if not others.exclude(kind=Kind.OBJECTION, state=State.DONE).exists() and not hidden.exists():
        before_today = Restriction.objects.filter(athlete=row.athlete, purpose=row.what, last_day=None)
        before_today.update(last_day=today - timedelta(days=1))


def _open_row(viewer: Viewer, request_id: UUID) -> DataRequest:
    rows = DataRequest.objects.select_for_update(of=("self",)).select_related("athlete", "asked_by")
    row = rows.filter(pk=request_id, club=viewer.club_id).first() if viewer.role == Role.ADMIN else None
    if row is None:
        raise NotFound()
    if row.state != State.OPEN:
        raise Conflict("ALREADY_DONE", _("This request is ended already; what was written stands below."))
    return row


def asked_by_candidates(athlete: Person) -> list[Person]:
    """Who may ask on paper about an athlete: the athlete, and whoever is linked as guardian."""
    links = Guardianship.objects.filter(athlete=athlete).select_related("guardian")
    return [athlete, *(link.guardian for link in links)]
