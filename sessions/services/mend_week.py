"""Mends a week: a venue is closed, or a coach cannot come, for a day; the planner is asked for the fewest moves."""

from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from athletes.models import Person
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_week
from sessions.models import CoachAbsence, Proposal, Venue, VenueClosing, WeekPlan
from sessions.services.accept_proposal import accept_proposal
from sessions.services.propose_week import propose_week
from sessions.services.publish_week import Published, publish_week
from teamtrack.common.errors import NotFound


@transaction.atomic
def close_venue(*, viewer: Viewer, monday: date, venue_id: UUID, day: date, is_closed: bool) -> Proposal:
    """Shut a venue for that day, or open it again, and ask the planner; said twice it is shut once."""
    week = _week_with(viewer, monday, day)
    venue = Venue.objects.filter(pk=venue_id, club=viewer.club_id).first()
    if venue is None:
        raise NotFound()
    whole = _whole_day(viewer, day)
    VenueClosing.objects.filter(venue=venue, **whole).delete()
    if is_closed:
        VenueClosing.objects.create(club_id=viewer.club_id, venue=venue, **whole)
    return _asked(viewer, week, "venue")


@transaction.atomic
def excuse_coach(*, viewer: Viewer, monday: date, coach_id: UUID, day: date, is_away: bool) -> Proposal:
    """A coach cannot come that day, or can after all, and the planner is asked; no reason is kept."""
    week = _week_with(viewer, monday, day)
    coach = Person.objects.filter(pk=coach_id, club=viewer.club_id, staff_roles__role="coach").first()
    if coach is None:
        raise NotFound()
    whole = _whole_day(viewer, day)
    CoachAbsence.objects.filter(coach=coach, **whole).delete()
    if is_away:
        CoachAbsence.objects.create(club_id=viewer.club_id, coach=coach, **whole)
    return _asked(viewer, week, "coach")


@transaction.atomic
def accept_and_publish(*, viewer: Viewer, proposal_id: UUID, revision: int) -> Published:
    """Take the whole proposal over and publish the week: both, or neither."""
    step = accept_proposal(viewer=viewer, proposal_id=proposal_id, revision=revision)
    return publish_week(viewer=viewer, monday=step.week.monday, revision=step.revision)


def _week_with(viewer: Viewer, monday: date, day: date) -> WeekPlan:
    if not monday <= day < monday + timedelta(days=7):
        raise NotFound()
    return get_week(viewer, monday)


def _whole_day(viewer: Viewer, day: date) -> dict[str, datetime]:
    zone = ZoneInfo(viewer.club.timezone)
    starts, ends = (datetime.combine(one, time(), zone) for one in (day, day + timedelta(days=1)))
    return {"starts_at": starts, "ends_at": ends}


def _asked(viewer: Viewer, week: WeekPlan, field: str) -> Proposal:
    log_acts(viewer=viewer, acts=[Act("mend", "week", None, (field,))])
    return propose_week(viewer=viewer, monday=week.monday)
