"""Changes of who belongs where as steps that can be undone: rows made, changed or taken away, noted by id and day."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, Model, OuterRef, Q
from django.utils.translation import gettext as _

from athletes.models import (
    Account,
    Clearance,
    CoachAssignment,
    GroupMembership,
    Guardianship,
    Membership,
    PeopleStep,
    Person,
    Restriction,
    SquadMembership,
    StaffRole,
)
from athletes.models.accounts import Role
from athletes.models.club import Dated
from athletes.services.access_log import Act, log_acts
from athletes.services.keepers import keeper_named
from athletes.services.ledger import Why, note_removed
from athletes.services.sign_ins import end_sign_ins
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound

TABLES: Mapping[str, type[Model]] = {
    "assignment": CoachAssignment,
    "check": Clearance,
    "group": GroupMembership,
    "guardian": Guardianship,
    "member": Membership,
    "restriction": Restriction,
    "role": StaffRole,
    "squad": SquadMembership,
}
"""The tables whose rows hold ids, days and codes alone."""

PEOPLE_COLUMNS = ("athlete", "person", "guardian", "coach")
HEAD_COACH_UNDOES = (PeopleStep.What.PLACED,)


class Step:
    """One act in the making: every row goes through it, `keep` writes the step and the log lines."""

    def __init__(self, viewer: Viewer, what: PeopleStep.What) -> None:
        self.viewer, self.what = viewer, what
        self.changes: list[dict[str, Any]] = []
        self.acts: list[Act] = []

    def add(self, row: Model) -> None:
        """Make a row."""
        row.save(force_insert=True)
        self._note("added", row, None, _columns(row))

    def change(self, row: Model, **values: object) -> None:
        """Set some columns of a row."""
        before = _columns(row)
        for name, value in values.items():
            setattr(row, name, value)
        row.save(update_fields=list(values))
        self._note("changed", row, before, _columns(row), tuple(values))

    def remove(self, row: Model) -> None:
        """Take a row away that never came into force."""
        before, pk = _columns(row), row.pk
        row.delete()
        row.pk = pk
        self._note("removed", row, before, None)

    def end(self, row: Dated, last_day: Any) -> None:
        """End a dated row; one that would begin after that never comes into force."""
        if row.first_day > last_day:
            self.remove(row)
        elif row.last_day is None or row.last_day > last_day:
            self.change(row, last_day=last_day)

    def keep(self) -> PeopleStep | None:
        """Write the step, and a line of the access log for each row; nothing where nothing was changed."""
        if not self.changes:
            return None
        step = PeopleStep.objects.create(
            club_id=self.viewer.club_id, what=self.what, by=self.viewer.person, at=self.viewer.now,
            changes=self.changes,
        )  # fmt: skip
        log_acts(viewer=self.viewer, acts=self.acts)
        _end_sign_ins_of(self.viewer, self.changes)
        return step

    def _note(
        self, verb: str, row: Model, before: object, after: object, fields: tuple[str, ...] = ("first_day",)
    ) -> None:
        table = _name(row)
        self.changes.append({"table": table, "id": str(row.pk), "before": before, "after": after})
        self.acts.append(Act(verb, table, _about(row), fields))


@transaction.atomic
def undo_step(*, viewer: Viewer, step_id: UUID) -> bool:
    """Take a step back whole; whoever came with it and has nothing else here goes again. Answers whether somebody did.

    Raises NotFound where it is not the viewer's to undo, Conflict where it was undone before or a row of it was changed
    since.
    """
    viewer.must_be(Role.ADMIN, Role.HEAD_COACH)
    step = PeopleStep.objects.select_for_update().filter(pk=step_id, club=viewer.club_id).first()
    if step is None or (viewer.role == Role.HEAD_COACH and step.what not in HEAD_COACH_UNDOES):
        raise NotFound()
    if step.undone_at is not None:
        raise Conflict("ALREADY_DONE", _("This was undone before. Nothing was changed."))
    about = [_take_back(change) for change in reversed(step.changes)]
    step.undone_at = viewer.now
    step.save(update_fields=["undone_at"])
    gone = _let_go(step)
    log_acts(viewer=viewer, acts=[Act("undone", table, person) for table, person in about])
    if not gone:
        _end_sign_ins_of(viewer, step.changes)
    return gone


def _end_sign_ins_of(viewer: Viewer, changes: list[dict[str, Any]]) -> None:
    """Whose role begins, ends or changes signs in again, so that length and second factor follow the role; but not
    whoever did it and gave a proof of their own just before."""
    rows = [change["after"] or change["before"] for change in changes if change["table"] == "role"]
    for person in Person.objects.filter(pk__in={row["person"] for row in rows}).exclude(pk=viewer.person_id):
        end_sign_ins(person=person)


def _let_go(step: PeopleStep) -> bool:
    """Blank those of whom the step made the first row and nothing is left: a slip of the keys is not kept."""
    added = [change["after"] for change in step.changes if change["before"] is None]
    named = {value for row in added for name, value in row.items() if name in PEOPLE_COLUMNS}
    stays = (
        Exists(Membership.objects.filter(athlete=OuterRef("pk"))),
        Exists(StaffRole.objects.filter(person=OuterRef("pk"))),
        Exists(Account.objects.filter(person=OuterRef("pk"))),
        Exists(Guardianship.objects.filter(Q(guardian=OuterRef("pk")) | Q(athlete=OuterRef("pk")))),
    )
    people = Person.objects.filter(pk__in=named, left_on=None, club=step.club_id).exclude(Q(*stays, _connector=Q.OR))
    ids = list(people.values_list("pk", flat=True))
    keeper = keeper_named("records")
    if not ids or keeper is None:
        return False
    keeper.take_away(step.club_id, ids)
    note_removed(club_id=step.club_id, what=keeper.name, why=Why.ASKED, by_person={one: [one] for one in ids})
    return True


def _take_back(change: Mapping[str, Any]) -> tuple[str, UUID | None]:
    model = TABLES[change["table"]]
    row = model._base_manager.select_for_update().filter(pk=change["id"]).first()
    if (None if row is None else _columns(row)) != change["after"]:
        raise Conflict("CHANGED_SINCE", _("Something of it was changed since. Nothing was changed: set it by hand."))
    if change["before"] is None:
        assert row is not None
        about = _about(row)
        row.delete()
        return change["table"], about
    values = {name: model._meta.get_field(name).to_python(value) for name, value in change["before"].items()}
    row = row or model(pk=change["id"])
    for name, value in values.items():
        setattr(row, model._meta.get_field(name).attname, value)
    row.save()
    return change["table"], _about(row)


def _name(row: Model) -> str:
    return next(name for name, model in TABLES.items() if type(row) is model)


def _columns(row: Model) -> dict[str, Any]:
    """Every column of a row, as JSON holds it."""
    fields = [field for field in row._meta.concrete_fields if not field.primary_key]
    return {field.name: _plain(getattr(row, field.attname)) for field in fields}


def _plain(value: object) -> object:
    return value if value is None or isinstance(value, bool | int) else str(value)


def _about(row: Model) -> UUID | None:
    """The person whose row it is."""
    names = [field.attname for field in row._meta.concrete_fields if field.related_model is Person]
    found = next(name for name in ("athlete_id", "coach_id", "person_id") if name in names)
    value = getattr(row, found)
    return value if isinstance(value, UUID) else UUID(str(value))
