"""Takes a roster file back, whole, as long as nothing else depends on what it made and nobody changed it since.

What else names the rows is asked before the lock, so that a large file holds it for no longer than taking back needs;
inside it the database itself refuses to let go what something names.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db import IntegrityError, connection, transaction
from django.db.models import ForeignKey, ManyToOneRel, Model
from django.utils.translation import gettext as _

from athletes.models import Club, PeopleStep, RosterFile
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.services.closings import note_gone, without_notes
from athletes.services.roster_rows import AT_ONCE, TABLES, column, columns_of, digest
from athletes.services.steps import undo_step
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound
from teamtrack.common.row_security import rows_open

Made = Mapping[str, Mapping[str, str]]


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
    if hangs_on is not None:
        raise _depends(hangs_on)
    try:
        _take_back(viewer, file_id, people)
    except IntegrityError:  # something was written between the look and the lock
        raise _depends(_("the newest change")) from None


@transaction.atomic
def _take_back(viewer: Viewer, file_id: UUID, people: Sequence[UUID]) -> None:
    Club.objects.select_for_update(no_key=True).get(pk=viewer.club_id)
    file = RosterFile.objects.select_for_update().get(club=viewer.club_id, pk=file_id)
    if file.state != RosterFile.State.APPLIED:
        raise Conflict("NOT_APPLIED", _("This is not in the roster, or was taken back before. Nothing was changed."))
    made, changed = file.made.get("made", {}), file.made.get("changed", {})
    with rows_open(club_id=viewer.club_id, people=people):
        _untouched(made)
        _set_back(viewer, changed.values())
        _undo_step(viewer, file.made.get("step", ""))
        _take_away(viewer, made)
    file.state, file.made, file.preview = RosterFile.State.UNDONE, {}, {}
    file.save(update_fields=["state", "made", "preview"])
    log_acts(viewer=viewer, acts=[Act("undone", "roster_file")])


def _untouched(made: Made) -> None:
    """Every row that was made is still there as it was made."""
    for table, rows in made.items():
        names = columns_of(TABLES[table])
        for ids in _parts(list(rows)):
            held = TABLES[table]._base_manager.select_for_update().filter(pk__in=ids).values_list("pk", *names)
            found = {str(pk): digest(values) for pk, *values in held}
            if any(found.get(pk) != rows[pk] for pk in ids):
                raise _changed_since()


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
    among = "IN (SELECT value FROM json_each(%s))"
    if connection.vendor == "postgresql":
        among = "= ANY(%s::uuid[])"
    table, key, column_name = map(
        connection.ops.quote_name, (field.model._meta.db_table, field.model._meta.pk.column, field.column)
    )
    said = f"SELECT 1 FROM {table} WHERE {column_name} {among}"  # noqa: S608 (our own names)
    sent = [named]
    if ours is not None:
        said, sent = f"{said} AND NOT {key} {among}", [named, ours]
    with connection.cursor() as cursor:
        cursor.execute(f"{said} LIMIT 1", sent)
        return cursor.fetchone() is not None


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


def _take_away(viewer: Viewer, made: Made) -> None:
    """The rows that were made go, the last made first; rights that go with them are noted at once."""
    with without_notes():
        for table in reversed(TABLES):
            for ids in _parts(list(made.get(table, ()))):
                rows = TABLES[table]._base_manager.filter(pk__in=ids, club=viewer.club_id)
                rows._raw_delete(rows.db)  # nothing hangs on them: that was looked at, and the database would refuse
    for table, rows in made.items():
        note_gone(TABLES[table], club_id=viewer.club_id, pks=list(rows))


def _parts(ids: list[str]) -> list[list[str]]:
    return [ids[at : at + AT_ONCE] for at in range(0, len(ids), AT_ONCE)]


def _changed_since() -> Conflict:
    return Conflict("CHANGED_SINCE", _("Something of it was changed since. It stays: change it by hand."))


def _depends(what: object) -> Conflict:
    return Conflict("DEPENDS", _("Something else rests on it by now (%(what)s). It stays.") % {"what": what})
