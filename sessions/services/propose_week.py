"""Asks the planner for a proposal: a row and a job; asking twice for the same solves once."""

from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_proposal, get_week
from sessions.models import Proposal, WeekPlan
from sessions.selectors.planning_problem import build_problem
from sessions.selectors.proposals import OPEN, has_worker_left
from sessions.services.worked_rows import wish_to_stop
from teamtrack.common.errors import Refused
from teamtrack.common.jobs import add_job

TASK = "training.solve_proposal"


@transaction.atomic
def propose_week(*, viewer: Viewer, monday: date) -> Proposal:
    """The proposal for the week as it stands: the one being worked on, or the proved answer to the same problem, or a
    new one. Raises NotFound for a week that is not the viewer's, Refused for one without demands."""
    week = get_week(viewer, monday)
    WeekPlan.objects.select_for_update().get(pk=week.pk)
    if not week.demands.exists():
        raise Refused("NO_DEMANDS", str(_("Nothing is asked of this week yet: make it from the season first.")))
    return _same_request(viewer, week) or _new_proposal(viewer, week)


@transaction.atomic
def stop_proposal(*, viewer: Viewer, proposal_id: UUID) -> Proposal:
    """Wish the planner to stop: the best plan so far is kept; what has not begun never begins."""
    proposal = get_proposal(viewer, proposal_id)
    wish_to_stop(viewer=viewer, row=proposal, kind="proposal")
    return proposal


def _same_request(viewer: Viewer, week: WeekPlan) -> Proposal | None:
    latest = Proposal.objects.filter(week=week, based_on_revision=week.revision).first()
    if latest is None or latest.stop_wanted:
        return None
    if latest.state in OPEN:
        return None if has_worker_left(latest) else latest
    is_proved = latest.state == Proposal.State.READY and latest.plan is not None and latest.plan["status"] == "optimal"
    return latest if is_proved and latest.problem == build_problem(viewer=viewer, week=week).document else None


def _new_proposal(viewer: Viewer, week: WeekPlan) -> Proposal:
    """Older work on the same week is stopped, so that nobody waits for it."""
    Proposal.objects.filter(week=week, state=Proposal.State.RUNNING).update(stop_wanted=True)
    Proposal.objects.filter(week=week, state=Proposal.State.WAITING).update(state=Proposal.State.STOPPED)
    proposal = Proposal.objects.create(
        club_id=viewer.club_id,
        week=week,
        asked_by_id=viewer.person_id,
        asked_at=viewer.now,
        based_on_revision=week.revision,
    )
    add_job(club_id=viewer.club_id, task=TASK, target_id=proposal.pk)
    log_acts(viewer=viewer, acts=[Act("ask", "proposal")])
    return proposal
