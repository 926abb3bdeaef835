"""Puts right what is written about an athlete: a new entry replaces the old one, or takes it back; both can be undone.

The old wording stays in the record of its session, as every entry that was corrected, and counts nowhere any more.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import Answers
from athletes.core.permissions import Code
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.permission_words import sentence_for
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import Part
from sessions.core.entries.correcting import correction
from sessions.core.entries.shape import Refusal
from sessions.core.entries.values import Value
from sessions.models import Entry, EntryKind, TrainingSession
from sessions.selectors.counting_entries import ids_that_count
from sessions.selectors.entries import UNREADABLE, entry_of, is_unreadable, whole
from sessions.selectors.written import (
    FOR_REQUEST,
    KINDS,
    get_athlete_written_about,
    may_put_right,
    open_asks,
    written_rows,
)
from sessions.services.record_entries import record_entries
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Conflict, NotFound, Refused
from teamtrack.common.ids import uuid7
from teamtrack.common.row_security import rows_open

PURPOSE_OF = {kind: purpose for purpose, kinds in KINDS.items() for kind in kinds}
Own = Mapping[str, Value]


@dataclass(frozen=True)
class Written:
    """The page of what is written about an athlete; `may_change` holds the ids that the viewer may put right."""

    athlete: Person
    rows: list[Entry]
    may_change: frozenset[UUID]
    asks: tuple[str, ...]
    """What families ask to have put right, in their words."""


@transaction.atomic
def read_written(*, viewer: Viewer, athlete_id: UUID) -> Written:
    """What counts of what is written; a read of pain notes is logged before anything is sent."""
    athlete, answers = get_athlete_written_about(viewer, athlete_id)
    rows = written_rows(viewer, athlete, answers)
    may_change = frozenset(row.pk for row in rows if may_put_right(viewer, row, answers))
    asks = tuple(one.words for one in open_asks(viewer, answers, athlete.pk))
    _log_read(viewer, athlete, rows, answers)
    return Written(athlete, rows, may_change, asks)


@transaction.atomic
def read_entry(*, viewer: Viewer, athlete_id: UUID, entry_id: UUID) -> Written:
    """One entry that the viewer may put right, logged as above; where it counts no more, `may_change` is empty.

    Raises NotFound for a stranger's athlete, and for an entry that is not the viewer's to put right.
    """
    athlete, answers = get_athlete_written_about(viewer, athlete_id)
    row = _entry(viewer, athlete, answers, entry_id)
    if row.withdrawn:
        raise NotFound()
    counts = row.pk in ids_that_count(_of_session(row))
    _log_read(viewer, athlete, [row], answers)
    return Written(athlete, [row], frozenset([row.pk] if counts else []), ())


@transaction.atomic
def put_right(*, viewer: Viewer, athlete_id: UUID, entry_id: UUID, own: Own | None) -> UUID:
    """Replace what an entry says by `own`, which holds the keys that change; None takes the entry back.

    Answers the id of the correction. Raises NotFound where the entry is not the viewer's to put right, Conflict where
    it was put right meanwhile, Refused where the decision keeps nothing about this athlete now, or a value will not do.
    """
    athlete, answers = get_athlete_written_about(viewer, athlete_id)
    row = _held(viewer, athlete, answers, entry_id)
    if row.withdrawn or row.pk not in ids_that_count(_of_session(row)):
        raise _changed()
    said = None if own is None else {**_said(row), **own}
    return _post(viewer, answers, row, said)


@transaction.atomic
def stand_again(*, viewer: Viewer, athlete_id: UUID, entry_id: UUID) -> UUID:
    """Undo a correction, whose id it takes: what was replaced or taken back stands again, by an entry of its own."""
    athlete, answers = get_athlete_written_about(viewer, athlete_id)
    row = _held(viewer, athlete, answers, entry_id)
    if any(one.replaces == row.pk for one in _of_session(row)):
        raise _changed()
    return _post(viewer, answers, row, _said(_entry(viewer, athlete, answers, row.replaces)))


def _entry(viewer: Viewer, athlete: Person, answers: Answers, entry_id: UUID | None) -> Entry:
    """An entry about the athlete that the viewer may put right."""
    kinds = [kind for purpose, of_purpose in KINDS.items() if answers.may(athlete.pk, purpose) for kind in of_purpose]
    rows = Entry.objects.filter(club=viewer.club_id, athlete=athlete, pk=entry_id, kind__in=kinds)
    with rows_open(people=[athlete.pk]):
        row = whole(rows.select_related("training_session", "by")).first()
    if row is None or not may_put_right(viewer, row, answers):
        raise NotFound()
    return row


def _held(viewer: Viewer, athlete: Person, answers: Answers, entry_id: UUID) -> Entry:
    """The entry; nobody else writes in its session until the commit."""
    row = _entry(viewer, athlete, answers, entry_id)
    TrainingSession.objects.select_for_update(no_key=True).get(pk=row.training_session_id)
    return row


def _of_session(row: Entry) -> list[Entry]:
    return list(Entry.objects.filter(training_session=row.training_session_id, kind=row.kind))


def _said(row: Entry) -> Own:
    if is_unreadable(row):
        raise Refused("UNREADABLE", str(UNREADABLE))
    return entry_of(row).own


def _post(viewer: Viewer, answers: Answers, row: Entry, own: Own | None) -> UUID:
    now = utc_now()
    posted = correction(
        entry_of(row), id=str(uuid7(now)), at=now.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        device=_device(viewer, answers, row), own=own,
    )  # fmt: skip
    answer = record_entries(part=_part(viewer, answers, row), posted=[posted])[0]
    if isinstance(answer, Refusal):
        raise Refused(answer.code, _why(answer.code))
    verb = "withdraw" if own is None else "correct"
    log_acts(viewer=viewer, acts=[Act(verb, EntryKind(row.kind), row.athlete_id, ("replaces",))])
    return UUID(answer.id)


def _part(viewer: Viewer, answers: Answers, row: Entry) -> Part:
    """The part of whoever puts right: of the session's coaches by today's relation to the athlete, or the athlete."""
    if viewer.role == Role.ATHLETE:
        return Part(row.training_session, viewer, ActingRole.ATHLETE, may_read=False)
    role = answers.found.roles[row.athlete_id]
    return Part(row.training_session, viewer, role, beside=(answers.found.athletes[row.athlete_id],))


def _device(viewer: Viewer, answers: Answers, row: Entry) -> str:
    asks = open_asks(viewer, answers, row.athlete_id)
    of_this = [one for one in asks if one.what == PURPOSE_OF[EntryKind(row.kind)]]
    return f"{FOR_REQUEST}{of_this[0].pk}" if of_this else "put-right"


def _changed() -> Conflict:
    return Conflict(
        "CHANGED", _("Somebody put this right meanwhile. Nothing of yours was kept: look at what is there.")
    )


def _why(code: str) -> str:
    return sentence_for(Code(code)) if code in set(Code) else _("This cannot be kept as it was typed.")


def _log_read(viewer: Viewer, athlete: Person, rows: list[Entry], answers: Answers) -> None:
    if any(row.kind == EntryKind.PAIN for row in rows):
        code = str(answers.answer(athlete.pk, "health").code)
        log_acts(viewer=viewer, acts=[Act("read", EntryKind.PAIN, athlete.pk, ("place", "side", "words"), code)])
