"""PostgreSQL's row security: the door that says whose rows this transaction may touch. SQLite has none.

The policies are dumb on purpose: they compare a row with what the door names, and the door is told by whoever has the
decision's answer. Nothing named: no row is seen, none can be written. The names end with the transaction.
"""

from collections.abc import Collection, Iterator
from contextlib import contextmanager
from typing import Any
from uuid import UUID

from django.db import connection, transaction

CLUB, PEOPLE = "teamtrack.club", "teamtrack.people"
BY_CLUB = {"athletes_permissionevent": "club_id", "athletes_permissionrecipient": "club_id"}
"""Tables whose rows are seen by club: what somebody answered, and whom it names."""
BY_PERSON = {
    "training_paindetail": ("athlete_id",),
    "training_notice": ("to_id", "about_id"),
    "training_emergencyaccess": ("athlete_id",),
}
"""Tables whose rows are seen by person: health text and why it was opened in an emergency by athlete, notices by whom
they are for and about."""

TABLES = (*BY_CLUB, *BY_PERSON)
_SET = "SELECT set_config(%s, %s, true), set_config(%s, %s, true)"
_NOW = "SELECT current_setting(%s, true), current_setting(%s, true)"


@contextmanager
def rows_open(*, club_id: UUID | None = None, people: Collection[UUID] = ()) -> Iterator[None]:
    """Open the club's permission events, and the health text and notices of `people`, for what stands inside.

    It opens a transaction where there is none. Inside another door it adds to what is open; at its end, only what was
    open before stays so.
    """
    if connection.vendor != "postgresql" or (club_id is None and not people):
        yield
        return
    is_inside = connection.in_atomic_block
    with transaction.atomic(savepoint=False), connection.cursor() as cursor:
        club_before, people_before = _open_now(cursor) if is_inside else ("", "")
        named = {str(one) for one in people} | set(filter(None, people_before.split(",")))
        cursor.execute(_SET, [CLUB, str(club_id or "") or club_before, PEOPLE, ",".join(sorted(named))])
        yield
        if is_inside:  # else the transaction ends here, and the names with it
            cursor.execute(_SET, [CLUB, club_before, PEOPLE, people_before])


def _open_now(cursor: Any) -> tuple[str, str]:
    """What a door round this one has opened."""
    cursor.execute(_NOW, [CLUB, PEOPLE])
    club, people = cursor.fetchone()
    return club or "", people or ""


def policies() -> Iterator[tuple[str, str]]:
    """Each table with the condition under which a row is seen or written."""
    for table, column in BY_CLUB.items():
        yield table, f"{column}::text = current_setting('{CLUB}', true)"
    open_people = f"ANY ((SELECT string_to_array(current_setting('{PEOPLE}', true), ','))::text[])"
    for table, columns in BY_PERSON.items():
        yield table, " OR ".join(f"{column}::text = {open_people}" for column in columns)
