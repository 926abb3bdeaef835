"""Squads and event groups: named and put in order; athletes put in and out from a day; age groups; handing over."""

from collections.abc import Sequence
from datetime import date, timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from athletes.access import get_athlete
from athletes.models import (
    CoachAssignment,
    EventGroup,
    GroupMembership,
    PeopleStep,
    Person,
    Squad,
    SquadMembership,
)
from athletes.models.accounts import Role
from athletes.selectors.groups import RollOverRule, roll_over_preview
from athletes.services.access_log import Act, log_acts
from athletes.services.staff import may_work_with
from athletes.services.steps import Step
from athletes.viewer import Viewer
from teamtrack.common.errors import Conflict, NotFound, Refused

A_DAY = timedelta(days=1)
LONGEST_AHEAD = timedelta(days=550)
"""How far ahead a change may be dated: a season and a half (common practice, no source)."""


@transaction.atomic
def save_squad(*, viewer: Viewer, squad_id: UUID | None, name: str, order: int, under: int | None) -> Squad:
    """Add a squad, or rename it, move it in the order, make it an age group or none."""
    viewer.must_be(Role.ADMIN)
    squad = _squad(viewer, squad_id) if squad_id else Squad(club_id=viewer.club_id)
    same = Squad.objects.filter(club=viewer.club_id, name__iexact=name.strip()).exclude(pk=squad.pk)
    if same.exists():
        raise Refused("CHECK_FIELDS", _("There is a squad of this name already. Nothing was changed."))
    if under is not None and Squad.objects.filter(club=viewer.club_id, under=under).exclude(pk=squad.pk).exists():
        raise Refused("CHECK_FIELDS", _("Another squad has this age bound already. Nothing was changed."))
    squad.name, squad.order, squad.under = name.strip(), order, under
    squad.save()
    log_acts(viewer=viewer, acts=[Act("set", "squad", None, ("name", "order", "under"))])
    return squad


@transaction.atomic
def save_group(*, viewer: Viewer, group_id: UUID | None, name: str, order: int, discipline: str) -> EventGroup:
    """Add an event group, or rename it, move it in the order, change its discipline."""
    viewer.must_be(Role.ADMIN)
    group = _group(viewer, group_id) if group_id else EventGroup(club_id=viewer.club_id)
    same = EventGroup.objects.filter(club=viewer.club_id, name__iexact=name.strip()).exclude(pk=group.pk)
    if same.exists():
        raise Refused("CHECK_FIELDS", _("There is a group of this name already. Nothing was changed."))
    group.name, group.order, group.discipline = name.strip(), order, discipline
    group.save()
    log_acts(viewer=viewer, acts=[Act("set", "event_group", None, ("name", "order", "discipline"))])
    return group


@transaction.atomic
def put_in_group(*, viewer: Viewer, athlete_id: UUID, group_id: UUID, from_day: date) -> PeopleStep | None:
    """An athlete trains in a group from a day on, beside other groups. Already so: nothing is changed."""
    athlete, group = _athlete(viewer, athlete_id), _group(viewer, group_id)
    _check_day(viewer, from_day)
    rows = list(GroupMembership.objects.select_for_update().filter(athlete=athlete, group=group))
    if any(_covers(row, from_day) for row in rows):
        return None
    step = Step(viewer, PeopleStep.What.PLACED)
    for later in [row for row in rows if row.first_day > from_day]:
        step.remove(later)
    step.add(GroupMembership(club_id=viewer.club_id, athlete=athlete, group=group, first_day=from_day))
    return step.keep()


@transaction.atomic
def take_out_of_group(*, viewer: Viewer, athlete_id: UUID, group_id: UUID, last_day: date) -> PeopleStep | None:
    """An athlete trains in a group up to and with a day, and no longer."""
    athlete, group = _athlete(viewer, athlete_id), _group(viewer, group_id)
    _check_day(viewer, last_day)
    step = Step(viewer, PeopleStep.What.PLACED)
    for row in GroupMembership.objects.select_for_update().filter(athlete=athlete, group=group):
        if row.last_day is None or row.last_day > last_day:
            step.end(row, last_day)
    return step.keep()


@transaction.atomic
def put_in_squad(*, viewer: Viewer, athlete_id: UUID, squad_id: UUID, from_day: date) -> PeopleStep | None:
    """An athlete is in a squad from a day on, and in no other."""
    athlete, squad = _athlete(viewer, athlete_id), _squad(viewer, squad_id)
    _check_day(viewer, from_day)
    step = Step(viewer, PeopleStep.What.PLACED)
    _into_squad(step, viewer, athlete, squad.pk, from_day)
    return step.keep()


@transaction.atomic
def apply_roll_over(*, viewer: Viewer, rule: RollOverRule, shown: Sequence[str]) -> PeopleStep | None:
    """Move age groups by a rule, in one act. `shown` is what the preview showed (as `move_keys` tells it); Conflict
    where it would be other moves by now, Refused for a day too far away."""
    viewer.must_be(Role.ADMIN)
    _check_day(viewer, rule.day)
    preview = roll_over_preview(viewer=viewer, rule=rule)
    if preview.keys != tuple(shown):
        raise Conflict("CHANGED_SINCE", _("The list has changed since. Nothing was moved: look at it again."))
    step = Step(viewer, PeopleStep.What.ROLLED)
    for move in preview.moves:
        _into_squad(step, viewer, move.athlete, move.after.pk, rule.day)
    return step.keep()


@transaction.atomic
def hand_over_group(
    *, viewer: Viewer, group_id: UUID, from_coach_id: UUID, to_coach_id: UUID, from_day: date
) -> PeopleStep | None:
    """Give a whole group from one coach to another from a day on, in one act. Refused where the other one may not work
    with it that day (under 18 in a group of minors is a helper, not its coach; a check that runs out)."""
    viewer.must_be(Role.ADMIN)
    group = _group(viewer, group_id)
    _check_day(viewer, from_day)
    people = {one.pk: one for one in Person.objects.filter(club=viewer.club_id, pk__in=[from_coach_id, to_coach_id])}
    if len(people) != 2:
        raise NotFound()
    rows = CoachAssignment.objects.select_for_update().filter(group=group)
    old = [row for row in rows if row.coach_id == from_coach_id and _goes_on(row, from_day)]
    if not old:
        raise Conflict("CHANGED_SINCE", _("This coach does not have the group by then. Nothing was changed."))
    may_work_with(viewer=viewer, coach=people[to_coach_id], group=group, day=from_day, as_coach=True)
    step = Step(viewer, PeopleStep.What.HANDED)
    for row in old:
        step.end(row, from_day - A_DAY)
    new = [row for row in rows if row.coach_id == to_coach_id]
    if not any(_covers(row, from_day) for row in new):
        for later in [row for row in new if row.first_day > from_day]:
            step.remove(later)
        step.add(CoachAssignment(club_id=viewer.club_id, coach=people[to_coach_id], group=group, first_day=from_day))
    return step.keep()


def _into_squad(step: Step, viewer: Viewer, athlete: Person, squad_id: UUID, from_day: date) -> None:
    rows = list(SquadMembership.objects.select_for_update().filter(athlete=athlete).order_by("first_day", "id"))
    if any(row.squad_id == squad_id and _covers(row, from_day) for row in rows):
        return
    for row in rows:
        step.end(row, from_day - A_DAY)
    step.add(SquadMembership(club_id=viewer.club_id, athlete=athlete, squad_id=squad_id, first_day=from_day))


def _covers(row: CoachAssignment | GroupMembership | SquadMembership, day: date) -> bool:
    """Whether a row is open and holds from `day` at the latest."""
    return row.first_day <= day and row.last_day is None


def _goes_on(row: CoachAssignment, day: date) -> bool:
    return row.last_day is None or row.last_day >= day


def _athlete(viewer: Viewer, athlete_id: UUID) -> Person:
    viewer.must_be(Role.ADMIN, Role.HEAD_COACH)
    return get_athlete(viewer, athlete_id)


def _check_day(viewer: Viewer, day: date) -> None:
    if abs(day - viewer.today) > LONGEST_AHEAD:
        raise Refused("CHECK_FIELDS", _("This day is too far away. Nothing was changed."))


def _squad(viewer: Viewer, squad_id: UUID) -> Squad:
    squad = Squad.objects.select_for_update().filter(pk=squad_id, club=viewer.club_id).first()
    if squad is None:
        raise NotFound()
    return squad


def _group(viewer: Viewer, group_id: UUID) -> EventGroup:
    group = EventGroup.objects.select_for_update().filter(pk=group_id, club=viewer.club_id).first()
    if group is None:
        raise NotFound()
    return group
