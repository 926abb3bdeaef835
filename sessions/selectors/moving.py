"""Whether a published session could really begin at another time, in the week that is planned or one beside it."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek, monday_of
from sessions.core.planner.moving import can_begin
from sessions.core.planner.problem import Problem, Span
from sessions.core.stretches import Stretch
from sessions.selectors.planned_places import planned_coaches, planned_venues
from sessions.selectors.planning_problem import as_session


def can_session_begin(*, viewer: Viewer, problem: Problem, item: str, starts_at: datetime) -> bool:
    """Whether the session that a fixed item of a week's problem stands for could begin then: by the rules that the
    planner asks of a placed session, with the hours of the week in which it would lie. False where it is there no more.
    """
    parts = [name for name in problem.fixed if as_session(name) == as_session(item)]
    minute = _minute(starts_at)
    return bool(parts) and can_begin(_with_hours_of_week(viewer, problem, minute), parts, minute)


def _with_hours_of_week(viewer: Viewer, problem: Problem, minute: int) -> Problem:
    """The problem with venues' and coaches' hours of the week in which the minute lies: it knows its own week alone."""
    local = problem.local.moment(minute)
    monday = monday_of(local.date())
    if monday == problem.first_day:
        return problem
    week = IsoWeek(monday, local.tzinfo)
    coaches = planned_coaches(viewer=viewer, week=week, coach_ids=map(UUID, problem.coaches))
    return replace(
        problem,
        venues={
            name: replace(problem.venues[name], open=_spans(one.open))
            for one in planned_venues(viewer=viewer, week=week).values()
            if (name := str(one.venue.pk)) in problem.venues
        },
        coaches={
            name: replace(problem.coaches[name], available=_spans(one.available))
            for one in coaches.values()
            if (name := str(one.coach.pk)) in problem.coaches
        },
    )


def _spans(stretches: Iterable[Stretch]) -> tuple[Span, ...]:
    return tuple(Span(_minute(starts), _minute(ends)) for starts, ends in stretches)


def _minute(moment: datetime) -> int:
    return int(moment.timestamp()) // 60
