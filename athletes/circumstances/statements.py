"""What a decision reads, as hand-written SQL for both databases: read anew each time, but not composed anew."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import NamedTuple
from uuid import UUID

from django.db import connection

from teamtrack.common.composed import planned_rows
from teamtrack.common.row_security import rows_open

_IN_FORCE = "first_day <= %(today)s AND (last_day IS NULL OR last_day >= %(today)s)"
_OF_ATHLETES = f"{_IN_FORCE} AND athlete_id IN (ATHLETES)"

_MEMBERSHIPS = f"""
SELECT 'member' AS what, CAST(athlete_id AS text) AS whose, '' AS detail, '' AS said,
  CASE WHEN notice_shown_on <= %(today)s THEN 1 ELSE 0 END AS number
FROM athletes_membership WHERE {_OF_ATHLETES}"""  # noqa: S608
_MARKS = f"""
SELECT 'restricted', CAST(athlete_id AS text), '', purpose, 0 FROM athletes_restriction WHERE {_OF_ATHLETES}
UNION ALL
SELECT 'objected', CAST(athlete_id AS text), '', purpose, 0 FROM athletes_objection WHERE {_OF_ATHLETES}
UNION ALL
SELECT 'withheld', CAST(athlete_id AS text), '', '', 0 FROM athletes_withholding
WHERE {_OF_ATHLETES} AND guardian_id = %(viewer)s"""  # noqa: S608
_FAMILIES = f"""
SELECT 'guardian', CAST(athlete_id AS text), CAST(guardian_id AS text), authority, 0
FROM athletes_guardianship WHERE {_IN_FORCE} AND athlete_id IN (ANSWERING)
UNION ALL
SELECT 'digital_age', country, CAST(valid_from AS text), CASE WHEN joint THEN 'joint' ELSE '' END, age
FROM athletes_digitalage WHERE club_id = %(club)s AND valid_from <= %(today)s"""  # noqa: S608
_WORDINGS = """
SELECT 'wording', purpose, '', '', MAX(version) FROM athletes_wording
WHERE club_id = %(club)s AND change = 'material' AND in_force_from <= %(now)s AND purpose IN (PURPOSES)
GROUP BY purpose"""
_ANSWERS = """
SELECT event.athlete_id, event.purpose, event.giver_id, event.capacity, event.answer, event.at, event.evidence,
  EXISTS (SELECT 1 FROM athletes_permissionrecipient AS named
    WHERE named.event_id = event.id AND named.person_id IN (READERS)),
  wording.version, event.until, event.about_guardian_id
FROM athletes_permissionevent AS event JOIN athletes_wording AS wording ON wording.id = event.wording_id
WHERE event.athlete_id IN (ANSWERING) AND event.purpose IN (PURPOSES) AND event.at <= %(now)s
  AND (event.about_guardian_id IS NULL OR event.about_guardian_id = %(viewer)s)
ORDER BY event.at, event.id"""

_CLEARANCE = """
SELECT 1 FROM athletes_clearance AS seen
    WHERE seen.coach_id = %(viewer)s AND seen.kind = %(clearance)s
      AND seen.seen_on <= %(today)s AND seen.expires_on >= %(today)s"""
_ASSIGNMENTS = f"""
SELECT trains.athlete_id,
  CASE WHEN assigned.last_day IS NULL OR assigned.last_day >= %(today)s THEN 1 ELSE 0 END,
  EXISTS ({_CLEARANCE}),
  trains.group_id IN (SELECT own.group_id FROM athletes_groupmembership AS own
    WHERE own.athlete_id = %(viewer)s
      AND own.first_day <= %(today)s AND (own.last_day IS NULL OR own.last_day >= %(today)s))
FROM athletes_groupmembership AS trains JOIN athletes_coachassignment AS assigned
  ON assigned.group_id = trains.group_id
WHERE assigned.coach_id = %(viewer)s AND assigned.first_day <= %(today)s AND trains.athlete_id IN (ATHLETES)
  AND trains.first_day <= %(today)s AND (trains.last_day IS NULL OR trains.last_day >= %(today)s)"""  # noqa: S608


class Row(NamedTuple):
    """One circumstance: `whose` is an athlete's id, a country or a purpose."""

    what: str
    whose: str
    detail: str
    said: str
    number: int


class AnswerRow(NamedTuple):
    """One stored answer."""

    athlete_id: UUID
    purpose: str
    giver_id: UUID
    capacity: str
    answer: str
    at: datetime
    evidence: int
    names_reader: bool
    wording_version: int
    until: datetime | None
    about_guardian_id: UUID | None


@dataclass(frozen=True)
class Asked:
    """About whom, what, by whom and when the statements ask; `purposes` are those that rest on answers, `answering`
    those of the athletes whose answers and guardians are read."""

    club_id: UUID
    viewer_id: UUID
    now: datetime
    athlete_ids: Collection[UUID]
    answering: Collection[UUID]
    purposes: Collection[str]

    @property
    def values(self) -> dict[str, object]:
        """The values of every statement, as this database keeps them."""
        return {
            "club": _stored_id(self.club_id),
            "viewer": _stored_id(self.viewer_id),
            "today": _stored_day(self.now.date()),
            "now": connection.ops.adapt_datetimefield_value(self.now),
            "ATHLETES": [_stored_id(one) for one in self.athlete_ids],
            "ANSWERING": [_stored_id(one) for one in self.answering],
            "PURPOSES": [str(one) for one in self.purposes],
        }


def circumstance_rows(asked: Asked, *, with_families: bool) -> list[Row]:
    """Memberships and marks; with families also guardians and, the latest last, digital ages; wordings where a purpose
    rests on answers. One query."""
    parts = [_MEMBERSHIPS, _MARKS]
    if with_families:
        parts.append(_FAMILIES)
    if asked.purposes:
        parts.append(_WORDINGS)
    return [Row(*row) for row in _rows(" UNION ALL ".join(parts) + " ORDER BY detail", asked.values)]


def answer_rows(asked: Asked, readers: Collection[UUID]) -> Iterator[AnswerRow]:
    """The answers about the purposes, the latest last, and whether each names one of the readers; one query."""
    named = {"READERS": [_stored_id(one) for one in readers]}
    with rows_open(club_id=asked.club_id):
        found = _rows(_ANSWERS, asked.values | named)
    for row in found:
        athlete, purpose, giver, capacity, answer, at, evidence, names_reader, version, until, about = row
        yield AnswerRow(
            _id(athlete), purpose, _id(giver), capacity, answer, _instant(at), evidence, bool(names_reader), version,
            _instant(until) if until else None, _id(about) if about else None,
        )  # fmt: skip


def has_clearance(coach_id: UUID, day: date, *, kind: str) -> bool:
    """Whether a check of a coach is in date; one query."""
    return bool(_rows(_CLEARANCE, _values_of_coach(coach_id, day, kind)))


def assignment_rows(
    coach_id: UUID, day: date, athlete_ids: Collection[UUID], *, clearance: str
) -> Iterator[tuple[UUID, bool, bool, bool]]:
    """Of each assignment of a coach, begun by `day`, to a group in which one of the athletes trains on that day: the
    athlete, whether it goes on, whether the coach's check is in date, whether the coach trains there too. One query."""
    values = _values_of_coach(coach_id, day, clearance) | {"ATHLETES": [_stored_id(one) for one in athlete_ids]}
    for athlete_id, *said in _rows(_ASSIGNMENTS, values):
        is_current, is_checked, is_training_there = map(bool, said)
        yield _id(athlete_id), is_current, is_checked, is_training_there


def _values_of_coach(coach_id: UUID, day: date, clearance: str) -> dict[str, object]:
    return {"viewer": _stored_id(coach_id), "today": _stored_day(day), "clearance": clearance}


def _rows(statement: str, values: Mapping[str, object]) -> list[tuple]:  # type: ignore[type-arg]
    given: dict[str, object] = {}
    for name, value in values.items():
        if isinstance(value, list):
            statement = statement.replace(f"IN ({name})", _in_list(name, value, given))
        else:
            given[name] = value
    return planned_rows(statement, given)


def _in_list(name: str, listed: list[object], given: dict[str, object]) -> str:
    """A list as one value where the database has lists, else a place for each; a list of nobody holds nothing."""
    if connection.vendor == "postgresql":
        given[name] = listed
        return f"= ANY(%({name})s)"
    places = {f"{name}_{number}": value for number, value in enumerate(listed)}
    given |= places
    return f"IN ({', '.join(f'%({place})s' for place in places) or 'NULL'})"


def _stored_id(value: UUID) -> object:
    return value if connection.features.has_native_uuid_field else value.hex


def _stored_day(day: date) -> object:
    return connection.ops.adapt_datefield_value(day)


def _id(value: UUID | str) -> UUID:
    return value if isinstance(value, UUID) else read_id(value)


@lru_cache(maxsize=10_000)
def read_id(text: str) -> UUID:
    """The id that a text is; a page of many athletes reads the same ones in each of its queries."""
    return UUID(text)


def _instant(value: datetime) -> datetime:
    """SQLite keeps instants in UTC without saying so."""
    return value if value.tzinfo else value.replace(tzinfo=UTC)
