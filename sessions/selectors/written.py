"""What is written about an athlete and may be put right: by whom, and what a family asks for."""

from collections.abc import Collection, Sequence
from datetime import timedelta
from uuid import UUID

from athletes.access import Answers, answers_for, get_athlete_and_answers
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Club, DataRequest, Person
from athletes.models.accounts import Role
from athletes.selectors.requests import PutRight
from athletes.viewer import Viewer
from sessions.models import Entry, EntryKind
from sessions.selectors.form_history import LOOKS_BACK, counting_rows, entries_with_corrections
from teamtrack.common.composed import Composed, Given
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open

KINDS = {
    "feedback": (EntryKind.OBSERVATION, EntryKind.CUE, EntryKind.OWN_VIEW),
    "health": (EntryKind.PAIN,),
    "record": (EntryKind.FELT, EntryKind.DAY),
}
"""What is written for each purpose and can be put right on a page of its own."""

HEALTH_KEPT = timedelta(days=365)
"""Health is kept for 12 months at most (the permissions contract)."""

ASKED_ABOUT = ("feedback", "health")
_ASKED = Composed(
    lambda: DataRequest.objects.filter(
        club=Given("club", Club._meta.pk),
        state=DataRequest.State.OPEN,
        kind=DataRequest.Kind.CORRECTION,
        what__in=ASKED_ABOUT,
    ).select_related("athlete")
)
FOR_REQUEST = "right-"
"""A correction that a family asked for names the request as its device, after this."""


def get_athlete_written_about(viewer: Viewer, athlete_id: UUID) -> tuple[Person, Answers]:
    """An athlete whose entries a coach or helper of the groups may put right, or oneself; with the answers."""
    viewer.must_be(Role.COACH, Role.ATHLETE)
    if viewer.role == Role.ATHLETE and viewer.person_id != athlete_id:
        raise NotFound()
    return get_athlete_and_answers(viewer, athlete_id, ("record", *ASKED_ABOUT))


def written_rows(viewer: Viewer, athlete: Person, answers: Answers) -> list[Entry]:
    """The entries that count, newest first, of what the viewer may read: of coaches' words all, of oneself the own."""
    found: list[Entry] = []
    for purpose, kinds in _kinds_read(viewer).items():
        if not answers.may(athlete.pk, purpose):
            continue
        back = HEALTH_KEPT if purpose == "health" else LOOKS_BACK
        rows = entries_with_corrections(viewer=viewer, athlete_ids=[athlete.pk], kinds=kinds, back=back)
        with rows_open(people=[athlete.pk] if purpose == "health" else ()):
            found += counting_rows(
                rows.select_related("training_session", "by", "pain_detail").prefetch_related(
                    "training_session__groups"
                ),
                athlete.pk,
            )
    if viewer.role == Role.ATHLETE:
        found = [row for row in found if row.by_athlete]
    return sorted(found, key=lambda row: (row.training_session.starts_at, row.seq), reverse=True)


def _kinds_read(viewer: Viewer) -> dict[str, Collection[str]]:
    wanted = ("record", "health") if viewer.role == Role.ATHLETE else ASKED_ABOUT
    return {purpose: KINDS[purpose] for purpose in wanted}


def may_put_right(viewer: Viewer, row: Entry, answers: Answers) -> bool:
    """An athlete's own entry that athlete alone; a coach's whoever wrote it, or an adult coach of the groups."""
    if viewer.role == Role.ATHLETE or row.by_athlete:
        return viewer.role == Role.ATHLETE and row.by_athlete and row.by_id == viewer.person_id
    return row.by_id == viewer.person_id or answers.found.roles[row.athlete_id] is ActingRole.COACH


def open_asks(viewer: Viewer, answers: Answers, athlete_id: UUID) -> list[DataRequest]:
    """Open requests to put right what is written about this athlete, for an adult coach of the athlete."""
    if answers.found.roles[athlete_id] is not ActingRole.COACH:
        return []
    rows = _ASKED.rows(club=viewer.club_id)
    return [row for row in rows if row.athlete_id == athlete_id and answers.may(athlete_id, row.what)]


def asked_of_coach(viewer: Viewer) -> list[DataRequest]:
    """The open requests to put something right that an adult coach can follow; one query where there is none."""
    asked = _ASKED.rows(club=viewer.club_id)
    people: Sequence[Person] = list({row.athlete_id: row.athlete for row in asked}.values())
    if not people:
        return []
    answers = answers_for(viewer=viewer, athletes=people, purposes=("record", *ASKED_ABOUT))
    return [
        row
        for row in asked
        if answers.may(row.athlete_id, row.what) and answers.found.roles[row.athlete_id] is ActingRole.COACH
    ]


def put_right_for(viewer: Viewer, request: DataRequest) -> list[PutRight]:
    """Who put how many entries right because of a request, on which day last; what was undone is none."""
    rows = Entry.objects.filter(club=viewer.club_id, athlete=request.athlete_id, device=f"{FOR_REQUEST}{request.pk}")
    found = list(rows.select_related("by").order_by("received_at"))
    undone = {row.replaces for row in found}
    by_person: dict[UUID, PutRight] = {}
    for row in found:
        if row.pk not in undone and not _undoes(row, found):
            before = by_person.get(row.by_id)
            day = row.received_at.astimezone(viewer.now.tzinfo).date()
            by_person[row.by_id] = PutRight(row.by.full_name, day, (before.count if before else 0) + 1)
    return list(by_person.values())


def _undoes(row: Entry, found: Sequence[Entry]) -> bool:
    """Whether an entry only lets stand again what another of them had changed."""
    return any(one.pk == row.replaces for one in found)
