"""What a night has counted: the steps that wait, whose rows they are, and from which day on things stay."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from athletes.models import KeepingRun, KeepingStep, KeptKind, Person
from athletes.models.accounts import Role
from athletes.services.keepers import Keeper, Night, keeper_named, night_of, people_of
from athletes.viewer import Viewer
from teamtrack.common.errors import NotFound
from teamtrack.common.row_security import rows_open


@dataclass(frozen=True)
class Waiting:
    """One step that waits: `before` is the day from which on rows stay, `whose` how many rows each person has.

    `goes` is how many of the counted rows would go today: what a hold keeps since then stays. Whose pain notes there
    are is not told: an admin has no need of it.
    """

    step: KeepingStep
    before: date
    goes: int
    whose: tuple[tuple[Person, int], ...]

    @property
    def stays(self) -> int:
        return self.step.due - self.goes

    @property
    def is_told(self) -> bool:
        return self.step.kind != KeptKind.HEALTH


def newest_night(viewer: Viewer) -> KeepingRun | None:
    """The last night's run with its steps that had something due; two queries."""
    runs = KeepingRun.objects.filter(club=_admin(viewer).club_id).prefetch_related("steps")
    return runs.first()


def waiting_steps(viewer: Viewer) -> list[Waiting]:
    """What waits for an admin; the number of queries grows with the tables that wait, not with their rows."""
    steps = KeepingStep.objects.filter(club=_admin(viewer).club_id, state=KeepingStep.State.WAITS)
    found = []
    for step in steps.select_related("run").order_by("kind", "keeper"):
        keeper = keeper_named(step.keeper)
        if keeper is not None:
            night = night_of(viewer.club, step.run.day)
            with rows_open(club_id=viewer.club_id, people=people_of(viewer.club_id)):
                goes = min(step.due, keeper.due(night).count())
                found.append(Waiting(step, _before(night, step.kind), goes, _whose(viewer, keeper, night)))
    return found


def _before(night: Night, kind: str) -> date:
    return night.stopped_before if kind == KeptKind.RECORD else night.before(kind)


def _whose(viewer: Viewer, keeper: Keeper, night: Night) -> tuple[tuple[Person, int], ...]:
    if not keeper.whose or keeper.kind == KeptKind.HEALTH:
        return ()
    rows = keeper.due(night).order_by().values_list(keeper.whose).annotate(rows=Count("pk", distinct=True))
    counted = {person_id: number for person_id, number in rows if person_id}
    people = Person.objects.filter(club=viewer.club_id, pk__in=counted).order_by("family_name", "given_name", "pk")
    return tuple((person, counted[person.pk]) for person in people)


def _admin(viewer: Viewer) -> Viewer:
    if viewer.role != Role.ADMIN:
        raise NotFound()
    return viewer
