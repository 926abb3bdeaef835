"""Puts a record right: name, birth date, reach, numbers to ring, a guardian's link; each change noted, each undoable.

Whoever saves against other values than those that are there is refused: nobody's change is written over unseen. Ages
and authority open and close things, so nobody changes them in the own case. The decision reads them at each question.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from athletes.access import get_person_to_correct
from athletes.core.ages import age_on
from athletes.core.permissions.codes import Code
from athletes.core.permissions.reading import OLDEST
from athletes.models import ContactNumber, Correction, DataRequest, Guardianship, Person
from athletes.selectors.requests import may_be_in_the_case
from athletes.selectors.signatures import purposes_open
from athletes.services.access_log import Act, log_acts
from athletes.services.rules import confirmed_first
from athletes.viewer import Viewer
from teamtrack.common.clock import utc_now
from teamtrack.common.errors import Conflict, NotFound, Refused

What = Correction.What
COLUMNS = {
    What.PERSON: ("given_name", "family_name", "birth_date", "home_country", "email", "phone"),
    What.CONTACT: ("name", "relation", "phone", "may_collect"),
    What.GUARDIAN: ("authority", "papers_seen_on", "last_day"),
}
BY_SOMEBODY_ELSE = {"birth_date", "authority", "papers_seen_on", "last_day"}
"""What decides who may decide: not changed by an admin who is of the family, or the runner's coach."""

Values = Mapping[str, Any]


@dataclass(frozen=True)
class Wanted:
    """What is to stand there: `row` of which kind, what the page showed, and what was typed.

    No row and nothing shown: a new number to ring. Nothing typed: the number goes. `is_undo`: it stood there before.
    """

    what: str
    row: UUID | None
    shown: Values | None
    typed: Values | None
    is_undo: bool = False


@dataclass(frozen=True)
class Corrected:
    """The change, and the purposes that the club may use no more, or again, because of it."""

    correction: Correction
    closed: frozenset[str] = field(default_factory=frozenset)
    opened: frozenset[str] = field(default_factory=frozenset)


def correct_record(
    *, viewer: Viewer, person_id: UUID, wanted: Wanted, request_id: UUID | None = None
) -> Corrected | None:
    """Put one row of a person's record right; answers nothing where nothing changed.

    Raises NotFound for a stranger's record, Conflict where somebody changed the row meanwhile, Refused in the own case.
    """
    with transaction.atomic():
        person = get_person_to_correct(viewer, person_id)
        row = _row(person, wanted.what, wanted.row)
        now = None if row is None else values_of(wanted.what, row)
        if now != wanted.shown:
            raise Conflict(
                "CHANGED", _("Somebody changed this meanwhile: what is there now is shown. Nothing of yours was kept.")
            )
        changed = _changed(now, wanted.typed)
        if not changed:
            return None
        _check(viewer, person, changed, wanted)
        if row is None and _is_there(person, wanted):
            raise Conflict("CHANGED", _("This number is there already. Nothing was changed."))
        opened_before = purposes_open(viewer=viewer, athlete=person)
        if row is None:
            confirmed_first(viewer.club)
        row_id = _write(viewer, person, wanted, row)
        correction = Correction.objects.create(
            club_id=viewer.club_id, person=person, what=wanted.what, row=row_id, at=utc_now(), by=viewer.person,
            before=_kept(now, changed), after=_kept(wanted.typed, changed),
            request=_request(viewer, person, request_id),
        )  # fmt: skip
        person.refresh_from_db()
        open_now = purposes_open(viewer=viewer, athlete=person)
        log_acts(viewer=viewer, acts=[Act("correct", wanted.what, person.pk, tuple(sorted(changed)))])
    return Corrected(correction, closed=opened_before - open_now, opened=open_now - opened_before)


def undo_correction(*, viewer: Viewer, correction_id: UUID) -> Corrected | None:
    """Let stand again what stood before a change, where nobody has changed it since; that is a change of its own."""
    done = Correction.objects.filter(pk=correction_id, club=viewer.club_id).first()
    if done is None:
        raise NotFound()
    person = get_person_to_correct(viewer, done.person_id)
    row = _row(person, done.what, done.row, may_be_gone=True)
    now = None if row is None else values_of(done.what, row)
    if not still_stands(done, now):
        raise Conflict("CHANGED", _("This was changed again since. Nothing was undone."))
    before = None if done.before is None else {**(now or {}), **read_values(done.before)}
    wanted = Wanted(done.what, done.row, now, before, is_undo=True)
    return correct_record(viewer=viewer, person_id=person.pk, wanted=wanted, request_id=done.request_id)


def still_stands(done: Correction, now: Values | None) -> bool:
    """Whether a row is as this change left it."""
    if done.after is None or now is None:
        return done.after is None and now is None
    return all(now[name] == value for name, value in read_values(done.after).items())


def values_of(what: str, row: Person | ContactNumber | Guardianship) -> dict[str, Any]:
    """The columns of a row that can be put right."""
    return {name: getattr(row, name) for name in COLUMNS[What(what)]}


def stored_values(values: Values) -> dict[str, Any]:
    """The values as JSON holds them."""
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in values.items()}


def read_values(stored: Values) -> dict[str, Any]:
    """The values of a change as Python holds them."""
    days = ("birth_date", "papers_seen_on", "last_day")
    return {name: date.fromisoformat(value) if name in days and value else value for name, value in stored.items()}


def _row(
    person: Person, what: str, row_id: UUID | None, *, may_be_gone: bool = False
) -> Person | ContactNumber | Guardianship | None:
    """The row, held until the commit; NotFound for one that is not this person's."""
    rows = {
        What.PERSON: Person.objects.filter(pk=person.pk),
        What.CONTACT: ContactNumber.objects.filter(athlete=person),
        What.GUARDIAN: Guardianship.objects.filter(athlete=person),
    }
    if what not in rows:
        raise NotFound()
    if row_id is None:
        if what != What.CONTACT:
            raise NotFound()
        return None
    held = rows[What(what)].filter(pk=row_id)
    found: Person | ContactNumber | Guardianship | None = (
        held.select_for_update().first() if transaction.get_connection().in_atomic_block else held.first()
    )
    if found is None and not (may_be_gone or what == What.CONTACT):
        raise NotFound()
    return found


def _changed(now: Values | None, typed: Values | None) -> set[str]:
    names = set(now or ()) | set(typed or ())
    return {name for name in names if (now or {}).get(name) != (typed or {}).get(name)}


def _check(viewer: Viewer, person: Person, changed: set[str], wanted: Wanted) -> None:
    if changed & BY_SOMEBODY_ELSE and may_be_in_the_case(viewer=viewer, athlete=person):
        raise Refused(Code.NOT_ENTITLED, _("This is about your own family or runner: another admin has to change it."))
    if wanted.typed is None and wanted.what != What.CONTACT:
        raise NotFound()
    if "authority" in changed and not wanted.is_undo:
        _papers_first(viewer, wanted)
    born = (wanted.typed or {}).get("birth_date")
    if born is not None and not 0 <= age_on(born, viewer.today) <= OLDEST:
        raise Refused("CHECK_FIELDS", _("This birth date cannot be right. Nothing was changed."))


def _is_there(person: Person, wanted: Wanted) -> bool:
    """Whether somebody with the same name and number is rung already: the form was sent twice."""
    typed = {name: " ".join(str((wanted.typed or {}).get(name, "")).split()).casefold() for name in ("name", "phone")}
    rows = ContactNumber.objects.filter(athlete=person).values("name", "phone")
    return any({name: " ".join(said.split()).casefold() for name, said in row.items()} == typed for row in rows)


def _papers_first(viewer: Viewer, wanted: Wanted) -> None:
    """Authority is what papers show that somebody saw: on which day is kept, and who; the papers are not."""
    typed = wanted.typed or {}
    seen = typed.get("papers_seen_on")
    if typed.get("authority") != Guardianship.Authority.UNVERIFIED and (seen is None or seen > viewer.today):
        text = _("Say on which day you saw the papers, today or before. They are not kept. Nothing was changed.")
        raise Refused("CHECK_FIELDS", text)


def _write(viewer: Viewer, person: Person, wanted: Wanted, row: Person | ContactNumber | Guardianship | None) -> UUID:
    if wanted.typed is None:
        ContactNumber.objects.filter(athlete=person, pk=wanted.row).delete()
        return wanted.row or person.pk
    if row is None:
        last = ContactNumber.objects.filter(athlete=person).values_list("order", flat=True).last() or 0
        row_id = wanted.row or uuid4()
        made = ContactNumber(pk=row_id, club_id=person.club_id, athlete=person, order=last + 1, **wanted.typed)
        made.save(force_insert=True)
        return row_id
    typed = dict(wanted.typed)
    if isinstance(row, Guardianship):
        is_checked = typed["authority"] != Guardianship.Authority.UNVERIFIED
        typed["papers_seen_on"] = typed["papers_seen_on"] if is_checked else None
        typed["papers_seen_by"] = viewer.person if typed["papers_seen_on"] else None
    for name, value in typed.items():
        setattr(row, name, value)
    row.save(update_fields=list(typed))
    return row.pk


def _kept(values: Values | None, changed: set[str]) -> dict[str, Any] | None:
    return None if values is None else stored_values({name: values[name] for name in changed})


def _request(viewer: Viewer, person: Person, request_id: UUID | None) -> DataRequest | None:
    """The request for which it is done, where it asks to put something right in this record or a child's."""
    if request_id is None:
        return None
    about = Q(athlete=person) | Q(athlete__guarded_by__guardian=person)
    rows = DataRequest.objects.filter(about, club=viewer.club_id, pk=request_id, kind=DataRequest.Kind.CORRECTION)
    return rows.first()
