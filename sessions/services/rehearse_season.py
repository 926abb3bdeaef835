"""Asks for a rehearsal of a season: a row and a job; asking twice while one is open answers the open one."""

from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_rehearsal, get_season
from sessions.core.season_document import Document, is_same_but_for_new_ids
from sessions.models import PatternItem, Rehearsal, SeasonPlan
from sessions.selectors.proposals import OPEN, has_worker_left
from sessions.selectors.season_documents import season_document
from sessions.services.worked_rows import wish_to_stop
from teamtrack.common.errors import Refused
from teamtrack.common.jobs import add_job

TASK = "training.rehearse_season"


@transaction.atomic
def rehearse_season(*, viewer: Viewer, season: SeasonPlan) -> Rehearsal:
    """The rehearsal of the season that is being worked on, or a new one. Raises NotFound for a season that the viewer
    does not plan, Refused for one without a pattern."""
    SeasonPlan.objects.select_for_update().get(pk=get_season(viewer, season.pk).pk)
    if not PatternItem.objects.filter(phase__season=season).exists():
        raise Refused("NO_PATTERN", str(_("The season has no weekly pattern yet: there is nothing to rehearse.")))
    latest = Rehearsal.objects.filter(season=season, wanted__isnull=True).first()
    if latest is not None and latest.state in OPEN and not latest.stop_wanted and not has_worker_left(latest):
        return latest
    return _new_rehearsal(viewer, season)


@transaction.atomic
def stop_rehearsal(*, viewer: Viewer, rehearsal_id: UUID) -> Rehearsal:
    """Wish the rehearsal to stop: what was found so far is kept; what has not begun never begins."""
    rehearsal = get_rehearsal(viewer, rehearsal_id)
    wish_to_stop(viewer=viewer, row=rehearsal, kind="rehearsal")
    return rehearsal


@transaction.atomic
def rehearse_change(*, viewer: Viewer, season_id: UUID, revision: int, wanted: Document) -> Rehearsal:
    """What a change would do to every week, before it is saved: the same work on the season as it is wanted.

    Raises NotFound for a season that the viewer does not plan. What the viewer asked before about the season is left.
    """
    season = get_season(viewer, season_id)
    mine = Rehearsal.objects.filter(
        season=season, asked_by=viewer.person_id, state__in=OPEN, stop_wanted=False, wanted__isnull=False
    )
    for one in mine:
        is_same = is_same_but_for_new_ids(one.wanted, wanted, season_document(season=season))
        if is_same and one.revision == revision and not has_worker_left(one):
            return one
        wish_to_stop(viewer=viewer, row=one, kind="rehearsal")
    asked = Rehearsal.objects.create(
        club_id=viewer.club_id, season=season, asked_by_id=viewer.person_id, asked_at=viewer.now, wanted=wanted,
        revision=revision,
    )  # fmt: skip
    add_job(club_id=viewer.club_id, task=TASK, target_id=asked.pk)
    log_acts(viewer=viewer, acts=[Act("ask", "season")])
    return asked


def _new_rehearsal(viewer: Viewer, season: SeasonPlan) -> Rehearsal:
    """One that nobody will finish is closed."""
    failure = _("No worker finished it. Ask for it again.")
    rows = Rehearsal.objects.filter(season=season, state__in=OPEN, stop_wanted=False, wanted__isnull=True)
    rows.update(state=Rehearsal.State.FAILED, failure=str(failure), ended_at=viewer.now)
    rehearsal = Rehearsal.objects.create(
        club_id=viewer.club_id, season=season, asked_by_id=viewer.person_id, asked_at=viewer.now
    )
    add_job(club_id=viewer.club_id, task=TASK, target_id=rehearsal.pk)
    log_acts(viewer=viewer, acts=[Act("ask", "rehearsal")])
    return rehearsal
