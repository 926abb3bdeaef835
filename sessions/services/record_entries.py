"""Records what a phone sends: each entry answered on its own, all that is new in one transaction."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from django.db import IntegrityError, connection

from athletes.core.permissions import Answer
from athletes.core.permissions.facts import Role as ActingRole
from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from sessions.access import Part
from sessions.core.entries.judging import Surroundings, Verdict, judge
from sessions.core.entries.kinds import KINDS, Role
from sessions.core.entries.shape import Entry, Poster, Refusal, check_entry
from sessions.models import Entry as EntryRow
from sessions.models import TrainingSession
from sessions.models.entries import EntryKind
from sessions.selectors.entries import Met, entry_of, is_unreadable, said_in, what_entries_meet, whole
from sessions.services.insert_entries import insert_entries
from sessions.services.keep_pain import PainSaid, keep_pain
from sessions.services.read_entries import viewer_in_part
from teamtrack.common.clock import utc_now
from teamtrack.common.composed import planned_rows_later, written_together
from teamtrack.common.jobs import add_job
from teamtrack.common.row_security import rows_open

TELL_PAIN = "training.tell_pain"
Decided = Mapping[tuple[str, str], Answer]
"""The decision for (person id, purpose)."""
_POSTS_AS = {ActingRole.ATHLETE: Role.ATHLETE, ActingRole.COACH_MINOR: Role.HELPER_UNDER_18}

_HIGHEST = f'(SELECT COALESCE(MAX(seq), 0) FROM "{EntryRow._meta.db_table}" WHERE training_session_id = %s)'  # noqa: S608
_NEXT_SEQS = (
    f'UPDATE "{TrainingSession._meta.db_table}" '  # noqa: S608
    f"SET last_seq = %s + CASE WHEN last_seq < {_HIGHEST} THEN {_HIGHEST} ELSE last_seq END "
    "WHERE id = %s RETURNING last_seq"
)


@dataclass(frozen=True, slots=True)
class Taken:
    """An entry that is kept, now or since earlier: the seq is that of the first of its id."""

    id: str
    verdict: Verdict
    seq: int


def record_entries(*, part: Part, posted: Sequence[object]) -> list[Taken | Refusal]:
    """Judge and keep posted entries; one answer for each, in their order. Committed before it returns."""
    poster = Poster(person=str(part.viewer.person_id), role=_POSTS_AS.get(part.acting_as, Role.COACH))
    session_id = str(part.training_session.pk)
    checked = [check_entry(raw, session=session_id, poster=poster) for raw in posted]
    try:
        return _record(part, checked)
    except IntegrityError:
        # The same entry came by another connection at this moment: now it is there to be known. Of a batch the next
        # one may come as well; so this time nobody else writes until it is done.
        return _record(part, checked, alone=True)


def _record(part: Part, checked: Sequence[Entry | Refusal], *, alone: bool = False) -> list[Taken | Refusal]:
    shaped = [entry for entry in checked if isinstance(entry, Entry)]
    if not shaped:
        return [refusal for refusal in checked if isinstance(refusal, Refusal)]
    with written_together():
        if alone:
            _take_seqs(part.training_session, 0)()
        return _judge_and_keep(part, checked, shaped)


def _judge_and_keep(part: Part, checked: Sequence[Entry | Refusal], shaped: Sequence[Entry]) -> list[Taken | Refusal]:
    about = {person_id for text in {entry.athlete for entry in shaped} if (person_id := _person_id(text))}
    met = what_entries_meet(part.training_session, {entry.id for entry in shaped}, about)
    rows = _kept_rows(met, shaped, about)
    kept, seqs = {str(row.pk): _as_sent(row, shaped) for row in rows}, {str(row.pk): row.seq for row in rows}
    unseen = [entry for entry in shaped if entry.id not in kept]
    decided = _decided(part, met, unseen)
    around = _surroundings(met, decided)
    verdicts: list[Verdict | Refusal] = []
    new: list[Entry] = []
    for entry in checked:
        verdict = entry if isinstance(entry, Refusal) else judge(entry, kept=kept, around=around)
        verdicts.append(verdict)
        if isinstance(entry, Entry) and verdict is Verdict.ACCEPTED:
            kept[entry.id] = entry
            new.append(entry)
    if new:
        seqs |= _keep(part, new, decided)
    return [
        verdict if isinstance(verdict, Refusal) else Taken(entry.id or "", verdict, seqs[entry.id or ""])
        for entry, verdict in zip(checked, verdicts, strict=True)
    ]


def _kept_rows(met: Met, shaped: Sequence[Entry], about: Collection[UUID]) -> list[EntryRow]:
    """The rows of ids that are taken, with the text about pain of those athletes alone whom the entries are about."""
    if not met.taken:
        return []
    with rows_open(people=about if any(entry.kind == EntryKind.PAIN for entry in shaped) else ()):
        return list(whole(EntryRow.objects.filter(pk__in=met.taken)))


def _as_sent(row: EntryRow, shaped: Sequence[Entry]) -> Entry:
    """An entry as it was taken; where its text cannot be opened any more, sent again it counts as the same."""
    kept = entry_of(row)
    if not is_unreadable(row):
        return kept
    again = next(entry for entry in shaped if entry.id == kept.id)
    return replace(kept, own=again.own)


def _decided(part: Part, met: Met, entries: Sequence[Entry]) -> Decided:
    """The decision for each person on the roster whom the entries are about, and each purpose that they ask."""
    wanted = {entry.athlete for entry in entries}
    people = [one for one in _people(part, met) if str(one.pk) in wanted]
    if not people:
        return {}
    purposes = sorted({KINDS[entry.kind].purpose for entry in entries})
    answers = part.answers(people, purposes)
    return {(str(one.pk), purpose): answers.answer(one.pk, purpose) for one in people for purpose in purposes}


def _people(part: Part, met: Met) -> list[Person]:
    """Those of the roster and whom the part names; an athlete who was taken off it is still somebody about oneself."""
    if not part.is_coach and not part.may_read:
        return [part.viewer.person]
    on_roster = {one.pk for one in met.runners}
    return [*met.runners, *(one for one in part.beside if one.pk not in on_roster)]


def _person_id(text: str) -> UUID | None:
    """The id where it is written as the server writes it."""
    try:
        person_id = UUID(text)
    except ValueError:
        return None
    return person_id if str(person_id) == text else None


def _surroundings(met: Met, decided: Decided) -> Surroundings:
    return Surroundings(
        erased=met.erased,
        features=met.features,
        roster={athlete for athlete, _ in decided},
        refused={asked: str(answer.code) for asked, answer in decided.items() if not answer.may},
    )


def _keep(part: Part, new: Sequence[Entry], decided: Decided) -> dict[str, int]:
    """Write the entries, their health text, the access log and what they set off; answers their seqs by id."""
    viewer = part.viewer
    last_seq = _take_seqs(part.training_session, len(new))
    insert_entries(part=part, entries=new, received_at=utc_now())
    pains = [
        PainSaid(UUID(entry.id), UUID(entry.athlete), said_in(entry))
        for entry in new
        if entry.kind == EntryKind.PAIN and not entry.withdrawn
    ]
    keep_pain(club_id=viewer.club_id, pains=pains)
    for pain in pains:
        add_job(club_id=viewer.club_id, task=TELL_PAIN, target_id=pain.entry_id)
    log_acts(viewer=viewer_in_part(part), acts=_acts(new, decided))
    first = last_seq() - len(new) + 1  # read last, so that it costs no way of its own
    return {entry.id: first + place for place, entry in enumerate(new)}


def _take_seqs(training_session: TrainingSession, number: int) -> Callable[[], int]:
    """Take the next seqs and hold the session's counter until the commit, so that seqs become visible in their order.

    Answers, when asked, the last of them; with a number of 0 it only holds. The counter never falls behind the entries
    that are there, whoever wrote the session's row with an older value.
    """
    pk = TrainingSession._meta.pk.get_db_prep_value(training_session.pk, connection)
    rows = planned_rows_later(_NEXT_SEQS, [number, pk, pk, pk])
    return lambda: int(rows()[0][0])


def _acts(new: Sequence[Entry], decided: Decided) -> list[Act]:
    """One line for each athlete and kind."""
    fields: dict[tuple[str, str], set[str]] = {}
    for entry in new:
        fields.setdefault((entry.athlete, entry.kind), set()).update(said_in(entry))
    return [
        Act(
            verb="record",
            kind=EntryKind(kind),
            subject_id=UUID(athlete),
            fields=tuple(sorted(names)),
            code=str(decided[athlete, KINDS[kind].purpose].code),
        )
        for (athlete, kind), names in sorted(fields.items())
    ]
