"""What was closed, noted in the ledger, so that a restore closes it again: rights that ended, limits that were set.

A right is a row that opens something (a role, an assignment, a guardian's authority); a limit is a row that closes
something (a restriction, an objection, a withheld view, a hold). Lines hold ids, days and codes, never contents.
A restore closes and never opens: a right that was given since, or given again, is given anew by a person.
"""

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.db.models import ForeignKey, Model
from django.db.models.signals import post_delete, post_save

from athletes.models import (
    Account,
    Clearance,
    CoachAssignment,
    GroupMembership,
    Guardianship,
    Hold,
    LedgerLine,
    Membership,
    Objection,
    Person,
    Restriction,
    StaffRole,
    Withholding,
)
from athletes.models.noted import rows_changed
from athletes.services.ledger import Why, add_lines
from teamtrack.common.clock import utc_now

GONE = "gone"


@dataclass(frozen=True)
class Noted:
    """One table of rights or limits: `ends` is the column that ends a row (none where nothing does).

    A right is noted once it has ended, by `ends` or by a row's going; of `exact` columns every change is noted and set
    again as it was, whether it closes or opens. A limit is noted whenever it changes, with all its `fields`, and made
    again. Of an `unsaid` column it is noted that it changed, never what it is: a restore makes the old one useless.
    """

    name: str
    model: type[Model]
    ends: str = ""
    is_limit: bool = False
    fields: tuple[str, ...] = ()
    exact: tuple[str, ...] = ()
    unsaid: str = ""
    club: str = "club_id"

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns whose values a line tells."""
        return self.fields if self.is_limit else (*([self.ends] if self.ends else []), *self.exact)

    @property
    def watched(self) -> set[str]:
        """The columns whose writing is noted."""
        return {name.removesuffix("_id") for name in (*self.columns, self.unsaid) if name}


_noted: dict[str, Noted] = {}
_rules: dict[str, Callable[[LedgerLine], None]] = {}
_quiet: ContextVar[bool] = ContextVar("closings_quiet", default=False)
_LIMITED = ("athlete_id", "purpose", "first_day", "last_day")


def register_all() -> None:
    """Called once, when the app is ready."""
    note_closings(
        Noted("role", StaffRole, "last_day"),
        Noted("assignment", CoachAssignment, "last_day"),
        Noted("clearance", Clearance, "expires_on"),
        Noted("member", Membership, "last_day"),
        Noted("group", GroupMembership, "last_day"),
        Noted("guardian", Guardianship, "last_day", exact=("authority",)),
        Noted("account", Account, "is_active", club="person__club_id"),
        Noted("password", Account, unsaid="password", club="person__club_id"),
        Noted("born", Person, exact=("birth_date",)),
        Noted("restriction", Restriction, "last_day", is_limit=True, fields=_LIMITED),
        Noted("objection", Objection, "last_day", is_limit=True, fields=_LIMITED),
        Noted(
            "withholding", Withholding, "last_day", is_limit=True,
            fields=("athlete_id", "guardian_id", "set_by_id", "first_day", "last_day"),
        ),
        Noted(
            "hold", Hold, "lifted_on", is_limit=True,
            fields=("athlete_id", "set_by_id", "set_on", "review_by", "lifted_on", "lifted_by_id"),
        ),
    )  # fmt: skip


def note_closings(*tables: Noted) -> None:
    """Make tables known whose closings the ledger notes, whichever code writes them through their manager or `save`."""
    for one in tables:
        _noted[one.name] = one
        post_save.connect(_saved, sender=one.model, dispatch_uid=f"note_{one.model.__name__}")
        post_delete.connect(_deleted, sender=one.model, dispatch_uid=f"gone_{one.model.__name__}")
        rows_changed.connect(_changed, sender=one.model, dispatch_uid=f"changed_{one.model.__name__}")


def note_rule(what: str, again: Callable[[LedgerLine], None]) -> None:
    """Make known how a line about a rule of the club is held to again, as far as that closes."""
    _rules[what] = again


@contextmanager
def without_notes() -> Iterator[None]:
    """For what the ledger notes in another way: rows that a keeper takes away, and the ledger's own repeating."""
    before = _quiet.set(True)
    try:
        yield
    finally:
        _quiet.reset(before)


def is_repeating() -> bool:
    """Whether what is written now is noted in another way."""
    return _quiet.get()


def is_closing(what: str) -> bool:
    """Whether a line's kind is one of these tables, of which the last line of each row counts."""
    return what in _noted or what in _rules


def close_again(line: LedgerLine) -> None:
    """Bring the row of a line, the row's last, into the state that it had, as far as that closes. Safe to run twice."""
    if line.what in _rules:
        _rules[line.what](line)
        return
    noted = _noted[line.what]
    pk, *said = line.ids
    row = noted.model._base_manager.filter(pk=pk).first()
    if noted.is_limit and said != [GONE]:
        _limit_again(noted, pk, said, row, line.club_id)
    elif not noted.is_limit and row is not None:
        if noted.unsaid:
            noted.model._base_manager.filter(pk=pk).update(**{noted.unsaid: make_password(None)})
        elif said == [GONE]:
            noted.model._base_manager.filter(pk=pk).delete()
        else:
            _right_again(noted, row, said)


def _right_again(noted: Noted, row: Model, said: Collection[str]) -> None:
    values = _values(noted, said)
    if noted.ends:
        ends, now = values.pop(noted.ends), getattr(row, noted.ends)
        if ends is not None and (now is None or ends < now):
            values[noted.ends] = ends
    is_blank = isinstance(row, Person) and row.left_on is not None
    if values and not is_blank:
        noted.model._base_manager.filter(pk=row.pk).update(**values)


def _limit_again(noted: Noted, pk: str, said: Collection[str], row: Model | None, club_id: UUID) -> None:
    """A limit that the backup lacks is made as it was; one that it holds lasts as long as the longer of the two."""
    values = _values(noted, said)
    if row is None:
        if _all_there(noted, values):
            made = noted.model(pk=pk, club_id=club_id, **values)
            noted.model._base_manager.bulk_create([made], ignore_conflicts=True)
        return
    ends, now = values.get(noted.ends), getattr(row, noted.ends, None)
    if now is not None and (ends is None or ends > now):
        noted.model._base_manager.filter(pk=pk).update(**{noted.ends: ends})


def _all_there(noted: Noted, values: dict[str, Any]) -> bool:
    """Whether every row that the new one leads to is there, and no person in it has left and is blanked."""
    for field in noted.model._meta.concrete_fields:
        value = values.get(field.attname)
        if isinstance(field, ForeignKey) and value is not None:
            found = field.related_model._base_manager.filter(pk=value)
            if field.related_model is Person and field.name == "athlete":
                found = found.filter(left_on=None)
            if not found.exists():
                return False
    return True


def _values(noted: Noted, said: Collection[str]) -> dict[str, Any]:
    """The columns of a line, as Python holds them."""
    fields = {field.attname: field for field in noted.model._meta.concrete_fields}
    values = {}
    for name, text in zip(noted.columns, said, strict=True):
        field = fields[name]
        target = field.target_field if isinstance(field, ForeignKey) else field
        values[name] = target.to_python(text) if text else None
    return values


def _saved(
    sender: type[Model], instance: Any, created: bool, raw: bool = False, update_fields: Any = None, **_: object
) -> None:
    for noted in _of(sender):
        if not raw and (noted.is_limit or not created):
            _note(noted, [instance.pk], update_fields)


def _changed(sender: type[Model], pks: Collection[Any], fields: Any, **_: object) -> None:
    for noted in _of(sender):
        if noted.is_limit or fields is not None:
            _note(noted, pks, fields)


def _deleted(sender: type[Model], instance: Any, **_: object) -> None:
    for noted in _of(sender):
        if noted.ends and not noted.is_limit and not is_repeating():
            club_id = instance.person.club_id if noted.club != "club_id" else instance.club_id
            _write(noted, [(instance.pk, club_id, [GONE])])


def _of(model: type[Model]) -> list[Noted]:
    return [one for one in _noted.values() if one.model is model]


def _note(noted: Noted, pks: Collection[Any], fields: Collection[str] | None) -> None:
    """Note the rows as they are now, where a column that counts was written and the row has ended, or is a limit."""
    written = None if fields is None else {name.removesuffix("_id") for name in fields}
    if is_repeating() or not pks or (written is not None and not noted.watched & written):
        return
    rows = noted.model._base_manager.filter(pk__in=list(pks)).values_list("pk", noted.club, *noted.columns)
    is_told = noted.is_limit or noted.unsaid or (noted.exact and (written is None or written & set(noted.exact)))
    ended = [
        (pk, club_id, [_text(value) for value in values])
        for pk, club_id, *values in rows
        if is_told or values[0] not in (None, True)
    ]
    _write(noted, ended)


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _write(noted: Noted, rows: Collection[tuple[Any, UUID, list[str]]]) -> None:
    """The lines, in the transaction in which it was closed; they name nobody's pseudonym, the ids are enough."""
    at = utc_now()
    lines = [
        LedgerLine(club_id=club_id, at=at, what=noted.name, why=Why.SAID, ids=[str(pk), *said])
        for pk, club_id, said in rows
    ]
    if lines:
        with transaction.atomic():
            add_lines(lines)
