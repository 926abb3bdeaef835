"""Takes a roster file back, whole, as long as nothing else depends on what it made and nobody changed it since.

What else names the rows, and whether they are as they were made, is asked before the lock, so that a large file holds
it for no longer than taking back needs. Inside it the rows go a table at a time: what went must be what was looked at,
and the database itself refuses to let go what something names.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import IntegrityError, connection, transaction
from django.db.models import ForeignKey, ManyToOneRel, Model
from django.utils.translation import gettext as _

from athletes.models import Club, LedgerLine, PeopleStep, RosterFile
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.closings import note_rule
from athletes.services.ledger import Why, note_removed
from athletes.services.roster_rows import AT_ONCE, TABLES, column, columns_of, digest
from athletes.services.steps import undo_step
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound
from teamtrack.common.row_security import rows_open

Made = Mapping[str, Mapping[str, str]]
Raw = tuple[Any, ...]
UNDONE = "roster_file"
"""What a line of the ledger says of a file that was taken back: the file's id, then those of all the rights that went
with it."""
RIGHTS = ("member", "group", "guardian")
"""The tables of `TABLES` by whose rows somebody belongs to somebody or to something."""


def register_all() -> None:
    """Called once, when the app is ready."""
    note_rule(UNDONE, _take_rights_again)


def _take_rights_again(line: LedgerLine) -> None:
    """After a restore: what belonged to somebody by a file that was taken back since the backup does so no more.

    The line itself names the rights: by now the file may be gone, as all of the club are once anybody is blanked.
    """
    _file_id, *rights = line.ids
    for ids in _parts(rights):
        for table in RIGHTS:
            TABLES[table]._base_manager.filter(pk__in=ids, club=line.club_id).delete()


def undo_file(*, viewer: Viewer, file_id: UUID) -> None:
    """Take back what a file made and changed. Raises NotFound, or Conflict saying what stands in the way."""
    if viewer.role != Role.ADMIN:
        raise NotFound()
    file = RosterFile.objects.filter(club=viewer.club_id, pk=file_id).first()
    if file is None:
        raise NotFound()
    made = file.made.get("made", {})
    people = [UUID(pk) for pk in made.get("person", {})]
    with rows_open(club_id=viewer.club_id, people=people):
        hangs_on = _what_hangs_on(made)
        seen = {table: _held(table, rows) for table, rows in made.items()}
        is_untouched = _is_untouched(made)
    if hangs_on is not None:
        raise _depends(hangs_on)
    if not is_untouched:
        raise _changed_since()
    try:
        _take_back(viewer, file_id, people, seen)
    except IntegrityError:  # something was written between the look and the lock
        raise _depends(_("the newest change")) from None


@transaction.atomic
def _take_back(viewer: Viewer, file_id: UUID, people: Sequence[UUID], seen: Mapping[str, set[Raw]]) -> None:
    Club.objects.select_for_update(no_key=True).get(pk=viewer.club_id)
    file = RosterFile.objects.select_for_update().get(club=viewer.club_id, pk=file_id)
    if file.state != RosterFile.State.APPLIED:
        raise Conflict("NOT_APPLIED", _("This is not in the roster, or was taken back before. Nothing was changed."))
    rights = [pk for table in RIGHTS for pk in file.made.get("made", {}).get(table, {})]
    with rows_open(club_id=viewer.club_id, people=people):
        _set_back(viewer, file.made.get("changed", {}).values())
        _undo_step(viewer, file.made.get("step", ""))
        _take_away(file.made.get("made", {}), seen)
        if connection.vendor == "postgresql":
            connection.check_constraints()  # now, not at the commit: nobody waits for the log's head meanwhile
    file.state, file.made, file.preview = RosterFile.State.UNDONE, {}, {}
    file.save(update_fields=["state", "made", "preview"])
    note_removed(club_id=viewer.club_id, what=UNDONE, why=Why.SAID, by_person={None: [file_id, *rights]})
    log_acts(viewer=viewer, acts=[Act("undone", "roster_file")])


def _is_untouched(made: Made) -> bool:
    """Whether every row that was made is still there as it was made."""
    for table, rows in made.items():
        names = columns_of(TABLES[table])
        for ids in _parts(list(rows)):
            held = TABLES[table]._base_manager.filter(pk__in=ids).values_list("pk", *names)
            found = {str(pk): digest(values) for pk, *values in held}
            if any(found.get(pk) != rows[pk] for pk in ids):
                return False
    return True


def _what_hangs_on(made: Made) -> object | None:
    """What another row is that names one that was made: an answer, an account, a session's roster, a line of the access
    log; None where nothing does."""
    ids = {TABLES[table]: _as_one_value(rows) for table, rows in made.items()}
    for model, named in ids.items():
        for relation in model._meta.get_fields(include_hidden=True):
            if isinstance(relation, ManyToOneRel) and _is_named(relation.field, named, ids.get(relation.related_model)):
                return relation.related_model._meta.verbose_name
    return None


def _as_one_value(rows: Iterable[str]) -> object:
    """Ids as one value of a statement, however many they are."""
    if connection.vendor == "postgresql":
        return list(rows)
    return json.dumps([UUID(pk).hex for pk in rows])


def _is_named(field: ForeignKey, named: object, ours: object | None) -> bool:
    """Whether a row names one of `named` by its `field`, other than those among `ours`; one statement."""
    table, key, column_name = map(
        connection.ops.quote_name, (field.model._meta.db_table, field.model._meta.pk.column, field.column)
    )
    said = f"SELECT 1 FROM {table} WHERE {column_name} {_among()}"  # noqa: S608 (our own names)
    sent = [named]
    if ours is not None:
        said, sent = f"{said} AND NOT {key} {_among()}", [named, ours]
    with connection.cursor() as cursor:
        cursor.execute(f"{said} LIMIT 1", sent)
        return cursor.fetchone() is not None


def _among() -> str:
    return "= ANY(%s::uuid[])" if connection.vendor == "postgresql" else "IN (SELECT value FROM json_each(%s))"


def _held(table: str, rows: Iterable[str], *, going: bool = False) -> set[Raw]:
    """The rows of a table as the database holds them, by id; `going`: they go, and are what went. One statement."""
    name, key = map(connection.ops.quote_name, (TABLES[table]._meta.db_table, TABLES[table]._meta.pk.column))
    said = f"SELECT * FROM {name} WHERE {key} {_among()}"  # noqa: S608 (our own names)
    if going:
        said = f"DELETE FROM {name} WHERE {key} {_among()} RETURNING *"  # noqa: S608
    with connection.cursor() as cursor:
        cursor.execute(said, [_as_one_value(rows)])
        return set(cursor.fetchall())


def _set_back(viewer: Viewer, changed: Iterable[Mapping[str, Any]]) -> None:
    """What was changed stands as before; the rows of a table are read together, those with the same columns written
    together."""
    by_table: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for one in changed:
        by_table[one["table"]].append(one)
    for table, found in by_table.items():
        model = TABLES[table]
        for at in range(0, len(found), AT_ONCE):
            part = {one["id"]: one for one in found[at : at + AT_ONCE]}
            held = model._base_manager.select_for_update().filter(pk__in=part, club=viewer.club_id)
            rows = {str(row.pk): row for row in held}
            alike: dict[tuple[str, ...], list[Model]] = defaultdict(list)
            for pk, one in part.items():
                if pk not in rows or {name: column(rows[pk], name) for name in one["after"]} != one["after"]:
                    raise _changed_since()
                for name, value in one["before"].items():
                    setattr(rows[pk], name, model._meta.get_field(name).to_python(value))
                alike[tuple(sorted(one["before"]))].append(rows[pk])
            for names, same in alike.items():
                model._default_manager.bulk_update(same, names, batch_size=AT_ONCE)


def _undo_step(viewer: Viewer, step_id: str) -> None:
    """Who came back or joined by the file; one who was taken back by hand before stays so."""
    if step_id and PeopleStep.objects.filter(pk=step_id, undone_at=None).exists():
        undo_step(viewer=viewer, step_id=UUID(step_id))


def _take_away(made: Made, seen: Mapping[str, set[Raw]]) -> None:
    """The rows that were made go, the last made first. What went is what was looked at before, untouched, else nothing
    goes; nothing hangs on them, for the database would refuse."""
    for table in reversed(TABLES):
        if table in made and _held(table, made[table], going=True) != seen[table]:
            raise _changed_since()


def _parts(ids: list[str]) -> list[list[str]]:
    return [ids[at : at + AT_ONCE] for at in range(0, len(ids), AT_ONCE)]


def _changed_since() -> Conflict:
    return Conflict("CHANGED_SINCE", _("Something of it was changed since. It stays: change it by hand."))


def _depends(what: object) -> Conflict:
    return Conflict("DEPENDS", _("Something else rests on it by now (%(what)s). It stays.") % {"what": what})
