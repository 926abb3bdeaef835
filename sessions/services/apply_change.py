"""Makes the one change that would give a demand its place, as the planner tried it, and asks for the week again."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.models import EventGroup, Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_proposal, get_training_session
from sessions.core.planner.problem import DEFAULT_SEPARATION_H
from sessions.core.planner.reading import read_problem
from sessions.core.stretches import Stretch, without
from sessions.models import (
    CoachAbsence,
    CoachEvening,
    Demand,
    GroupSettings,
    Proposal,
    TrainingSession,
    Venue,
    VenueClosing,
    VenueOpening,
)
from sessions.selectors.moving import can_session_begin
from sessions.selectors.planning_problem import as_session, build_problem
from sessions.services.call_off import call_off_session
from sessions.services.move_session import move_session
from sessions.services.propose_week import propose_week
from teamtrack.common.errors import NotFound, Refused

FIELDS = ("duration_min", "observers", "lanes")


@dataclass(frozen=True)
class Applied:
    """What takes a change back: the published session that was moved away from `before`, or called off where that is
    None; no session where none was touched."""

    training_session: TrainingSession | None = None
    before: datetime | None = None


@transaction.atomic
def apply_change(*, viewer: Viewer, proposal_id: UUID, demand: str, number: int) -> Applied:
    """Make change `number` of those that the proposal offers for a demand, and ask for the proposal that follows.

    Raises NotFound where the proposal does not offer it, Refused where the week has moved on since.
    """
    proposal = get_proposal(viewer, proposal_id)
    if proposal.week.revision != proposal.based_on_revision:
        text = _("The week was changed since this was worked out. Ask the planner again. Nothing was changed.")
        raise Refused("WEEK_CHANGED", str(text))
    ((verb, what),) = _offered(proposal, demand, number).items()
    applied = VERBS[verb](viewer, proposal, what) or Applied()
    log_acts(viewer=viewer, acts=[Act("apply", "proposal", None, (verb,))])
    propose_week(viewer=viewer, monday=proposal.week.monday)
    return applied


def _offered(proposal: Proposal, demand: str, number: int) -> dict[str, Any]:
    rows = (proposal.plan or {}).get("unplaced", [])
    offers = next((row["would_fit_if"] for row in rows if row["demand"] == demand), [])
    if not 0 <= number < len(offers):
        raise NotFound()
    found: dict[str, Any] = offers[number]["change"]
    return found


def _add_window(viewer: Viewer, proposal: Proposal, what: Any) -> None:
    """Where the demand had none of its own, those of the problem become its own, with the new one."""
    demand = Demand.objects.get(pk=what["demand"], week=proposal.week_id)
    document = Proposal.objects.values_list("problem", flat=True).get(pk=proposal.pk)
    rows = next(row["windows"] for row in document["demands"] if row["id"] == what["demand"])
    demand.windows = [*(demand.windows or rows), {"start": what["start"], "end": what["end"]}]
    demand.save(update_fields=["windows"])


def _add_available(viewer: Viewer, proposal: Proposal, what: Any) -> None:
    """One evening more, on that date alone; an absence then is shortened by it."""
    coach = Person.objects.get(pk=what["coach"], club=viewer.club_id)
    CoachEvening.objects.create(club_id=viewer.club_id, coach=coach, **_once(viewer, what))
    _cut_out(CoachAbsence.objects.filter(coach=coach), what)


def _add_open(viewer: Viewer, proposal: Proposal, what: Any) -> None:
    """One opening more, on that date alone; a closing then is shortened by it."""
    venue = Venue.objects.get(pk=what["venue"], club=viewer.club_id)
    VenueOpening.objects.create(club_id=viewer.club_id, venue=venue, **_once(viewer, what))
    _cut_out(VenueClosing.objects.filter(venue=venue), what)


def _move_fixed(viewer: Viewer, proposal: Proposal, what: Any) -> Applied:
    """A published session moves, and whom it concerns is told; not to where venue or coaches were lost meanwhile."""
    found = get_training_session(viewer, UUID(as_session(what["id"])))
    starts_at = datetime.fromisoformat(what["start"])
    problem = read_problem(build_problem(viewer=viewer, week=proposal.week).document)
    if not can_session_begin(viewer=viewer, problem=problem, item=what["id"], starts_at=starts_at):
        text = _(
            "It can no longer begin then: its venue is shut or full, or a coach or an athlete is not free. Nothing was "
            "changed. Ask the planner again."
        )
        raise Refused("TAKEN", str(text))
    return Applied(move_session(viewer=viewer, session_id=found.pk, starts_at=starts_at), found.starts_at)


def _drop_fixed(viewer: Viewer, proposal: Proposal, what: Any) -> Applied:
    """A published session is called off, and whom it concerns is told."""
    found = get_training_session(viewer, UUID(as_session(what)))
    call_off_session(viewer=viewer, session_id=found.pk)
    return Applied(found)


def _set_demand(viewer: Viewer, proposal: Proposal, what: Any) -> None:
    if what["field"] not in FIELDS:
        raise NotFound()
    Demand.objects.filter(pk=what["id"], week=proposal.week_id).update(**{what["field"]: what["to"]})


def _set_policy(viewer: Viewer, proposal: Proposal, what: Any) -> None:
    """A group's rule, or that of all groups, from now on."""
    groups = EventGroup.objects.filter(club=viewer.club_id)
    for group in groups.filter(pk=what["group"]) if "group" in what else groups:
        settings, _made = GroupSettings.objects.get_or_create(group=group, defaults={"club_id": viewer.club_id})
        settings.policy = _eased(settings.policy, what["path"].split("."), what["to"])
        settings.save(update_fields=["policy"])


def _eased(policy: dict[str, Any], path: list[str], to: object) -> dict[str, Any]:
    if path[0] != "separation_h":
        return policy | {path[0]: to}
    table = {earlier: dict(row) for earlier, row in policy.get("separation_h", DEFAULT_SEPARATION_H).items()}
    table.setdefault(path[1], {})[path[2]] = to
    return policy | {"separation_h": table}


def _once(viewer: Viewer, what: Any) -> dict[str, Any]:
    """The stretch as weekly wall hours that hold on its one date."""
    zone = ZoneInfo(viewer.club.timezone)
    starts, ends = (datetime.fromisoformat(what[name]).astimezone(zone) for name in ("start", "end"))
    day = starts.date()
    return {
        "weekday": day.isoweekday(), "starts": starts.time(), "ends": ends.time(), "first_day": day, "last_day": day,
    }  # fmt: skip


def _cut_out(rows: Any, what: Any) -> None:
    """Shorten stretches by the one given, or split them round it."""
    hole: Stretch = (datetime.fromisoformat(what["start"]), datetime.fromisoformat(what["end"]))
    for row in rows.filter(ends_at__gt=hole[0], starts_at__lt=hole[1]):
        left = without([(row.starts_at, row.ends_at)], [hole])
        row.delete()
        for starts_at, ends_at in left:
            row.pk, row.starts_at, row.ends_at = uuid4(), starts_at, ends_at
            row.save(force_insert=True)


VERBS: dict[str, Callable[[Viewer, Proposal, Any], Applied | None]] = {
    "add_window": _add_window, "add_available": _add_available, "add_open": _add_open, "move_fixed": _move_fixed,
    "set_demand": _set_demand, "set_policy": _set_policy, "drop_fixed": _drop_fixed,
}  # fmt: skip
