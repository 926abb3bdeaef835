"""Reads a training session's entries for somebody who has a part in it; a health note is logged before it is sent."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from athletes.access import Answers
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import Part
from sessions.core.entries.counting import Counting, counting
from sessions.core.entries.kinds import PURPOSES
from sessions.core.entries.values import Value
from sessions.models import Entry
from sessions.models.entries import EntryKind
from sessions.selectors.entries import (
    entries_allowed,
    entries_for_athlete,
    entry_of,
    links_of,
    others_written_about,
    people_on_roster,
    said_in,
    whole,
)
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open


@dataclass(frozen=True)
class EntriesPage:
    """Entries by seq, where to go on, and each (athlete, purpose) of the roster that this reader may not use now."""

    items: list[dict[str, Value]]
    next: int
    more: bool
    drop: list[tuple[str, str]]


@dataclass(frozen=True)
class _Reach:
    """What a reader may see of the entries, by which answers, and what of the roster is closed to them."""

    entries: QuerySet[Entry]
    answers: Answers
    drop: list[tuple[str, str]]


def read_entries(*, part: Part, after: int, limit: int) -> EntriesPage:
    """The entries that came after a seq, as far as this reader may see them."""
    reach = _reach(part)
    with rows_open(people=reach.answers.allowed_ids("health")):
        rows = list(whole(reach.entries).filter(seq__gt=after).order_by("seq")[: limit + 1])
    page = rows[:limit]
    _log_health_reads(part, page, reach.answers)
    return EntriesPage(
        items=[entry_of(row).as_dict() | {"by": str(row.by_id), "seq": row.seq} for row in page],
        next=page[-1].seq if page else after,
        more=len(rows) > limit,
        drop=reach.drop,
    )


def count_entries(*, part: Part) -> tuple[int, Counting]:
    """The highest seq looked at, and what counts of what this reader may see."""
    links, highest = links_of(_reach(part).entries)
    return highest, counting(links)


def viewer_in_part(part: Part) -> Viewer:
    """The viewer in the one role that they have in this training session."""
    return replace(part.viewer, role=Role.COACH if part.is_coach else Role.ATHLETE)


def _reach(part: Part) -> _Reach:
    if not part.may_read:
        raise NotFound()
    return _reach_of_coach(part) if part.is_coach else _reach_of_athlete(part)


def _reach_of_athlete(part: Part) -> _Reach:
    person = part.viewer.person
    answers = part.answers_to_reader([person], PURPOSES)
    allowed = {purpose: answers.allowed_ids(purpose) for purpose in PURPOSES}
    entries = entries_allowed(part.training_session, allowed).filter(entries_for_athlete(person))
    return _Reach(entries, answers, _closed([person], answers))


def _reach_of_coach(part: Part) -> _Reach:
    roster = people_on_roster(part.training_session)
    people = roster + others_written_about(part.training_session, [one.pk for one in roster])
    answers = part.answers_to_reader(people, PURPOSES)
    allowed = {purpose: answers.allowed_ids(purpose) for purpose in PURPOSES}
    return _Reach(entries_allowed(part.training_session, allowed), answers, _closed(roster, answers))


def _closed(people: Sequence[Person], answers: Answers) -> list[tuple[str, str]]:
    return sorted((str(one.pk), purpose) for one in people for purpose in PURPOSES if not answers.may(one.pk, purpose))


def _log_health_reads(part: Part, page: Sequence[Entry], answers: Answers) -> None:
    fields: dict[UUID, set[str]] = {}
    for row in page:
        if row.kind == EntryKind.PAIN and not row.withdrawn:
            fields.setdefault(row.athlete_id, set()).update(said_in(entry_of(row)))
    acts = [
        Act("read", EntryKind.PAIN, athlete_id, tuple(sorted(names)), str(answers.answer(athlete_id, "health").code))
        for athlete_id, names in sorted(fields.items())
    ]
    if acts:
        with transaction.atomic():
            log_acts(viewer=viewer_in_part(part), acts=acts)
