"""Reads of the access log: who looked, and whether the chain is whole."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import QuerySet

from athletes.access import answers_for, get_athlete
from athletes.core.chain import ChainFault, first_fault
from athletes.log_key import public_key
from athletes.models import AccessLogEntry, ChainHead, LogQuestion, Person, PseudonymKey
from athletes.models.access_log import CHAINED, chained_content
from athletes.models.accounts import Role
from athletes.selectors.signed_heads import Head, fault_of_heads, heads_in_rows, vouched_for
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound

PAGE = 50
STAFF = (Role.ADMIN, Role.WELFARE)


@dataclass(frozen=True)
class LogLine:
    """One line as a person reads it; a name is empty where the pseudonym's key was destroyed."""

    seq: int
    at: datetime
    actor_name: str
    actor_role: str
    verb: str
    kind: str
    subject_name: str
    code: str
    question: LogQuestion | None = None


def access_log_page(
    viewer: Viewer, *, athlete_id: UUID | None = None, before: int | None = None
) -> tuple[list[LogLine], int | None]:
    """Up to 50 lines, newest first, and the cursor of the next page: those about one athlete whom the decision lets the
    viewer see the log of, or, where none is named, all for admin and welfare lead."""
    rows = AccessLogEntry.objects.filter(club=viewer.club_id)
    if athlete_id is not None:
        rows = lines_about(viewer, athlete_id)
    elif viewer.role not in STAFF:
        raise NotFound()
    if before is not None:
        rows = rows.filter(seq__lt=before)
    found = list(rows.order_by("-seq")[: PAGE + 1])
    shown = found[:PAGE]
    asked = questions_of(viewer, athlete_id) if athlete_id else {}
    return _lines(shown, asked), (shown[-1].seq if len(found) > PAGE else None)


def may_see_log(viewer: Viewer, athlete: Person) -> bool:
    """Whether the viewer may see who looked at this athlete's."""
    return answers_for(viewer=viewer, athletes=[athlete], purposes=["audit"]).may(athlete.pk, "audit")


def lines_about(viewer: Viewer, athlete_id: UUID) -> QuerySet[AccessLogEntry]:
    """The lines about one athlete: oneself, or a guardian's child where the contract lets the guardian see them."""
    if viewer.role not in (Role.ATHLETE, Role.GUARDIAN):
        raise NotFound()
    athlete = get_athlete(viewer, athlete_id, "audit")
    known = PseudonymKey.objects.filter(person=athlete).values_list("pseudonym", flat=True)
    return AccessLogEntry.objects.filter(club=viewer.club_id, subject__in=list(known))


def questions_of(viewer: Viewer, athlete_id: UUID) -> dict[int, LogQuestion]:
    """By line: what the viewer asked about the log of an athlete; others' questions are their own business."""
    rows = LogQuestion.objects.filter(club=viewer.club_id, athlete=athlete_id, asked_by=viewer.person_id)
    return {row.seq: row for row in rows}


def open_questions(viewer: Viewer) -> list[tuple[LogQuestion, LogLine]]:
    """What waits for an admin's answer, the oldest first, with the line that it is about."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    rows = LogQuestion.objects.filter(club=viewer.club_id, answered_at=None).select_related("athlete", "asked_by")
    asked = list(rows)
    about = AccessLogEntry.objects.filter(club=viewer.club_id, seq__in=[row.seq for row in asked])
    lines = {line.seq: line for line in _lines(list(about), {})}
    return [(row, lines[row.seq]) for row in asked if row.seq in lines]


def _lines(rows: list[AccessLogEntry], asked: Mapping[int, LogQuestion]) -> list[LogLine]:
    pseudonyms = {"", *(row.actor for row in rows), *(row.subject for row in rows)}
    keys = PseudonymKey.objects.filter(pseudonym__in=pseudonyms).select_related("person")
    names = {key.pseudonym: key.person.full_name for key in keys}
    return [
        LogLine(
            seq=row.seq,
            at=row.at,
            actor_name=names.get(row.actor, ""),
            actor_role=row.actor_role,
            verb=row.verb,
            kind=row.kind,
            subject_name=names.get(row.subject, ""),
            code=row.code,
            question=asked.get(row.seq),
        )
        for row in rows
    ]


def chain_fault(*, club_id: UUID, outside: Iterable[Head] = (), key: str | None = None) -> ChainFault | None:
    """The first bad entry of a club's chain, or None where it is whole.

    Signed heads in the database vouch for it, and those `outside` that were kept elsewhere; `key` is the public key to
    trust (this server's own if not given).
    """
    key = key or public_key()
    kept = [head for head in outside if head.club == str(club_id)]
    known = {head.after_seq: head for head in heads_in_rows(club_id)} | {head.after_seq: head for head in kept}
    heads = [known[place] for place in sorted(known)]
    bad_head = fault_of_heads([*heads_in_rows(club_id), *kept], key=key)
    head = ChainHead.objects.get(club_id=club_id)
    rows = AccessLogEntry.objects.filter(club_id=club_id).order_by("seq").values_list("prev_hash", "hash", *CHAINED)
    found = rows.iterator(chunk_size=2000)
    entries = ((said[0], prev_hash, own_hash, chained_content(said)) for prev_hash, own_hash, *said in found)
    good = [one for one in heads if bad_head is None or one.is_good(key)]
    fault = first_fault(entries, head_seq=head.seq, head_hash=head.hash, signed=vouched_for(good))
    return min((one for one in (fault, bad_head) if one), key=lambda one: one.seq, default=None)
