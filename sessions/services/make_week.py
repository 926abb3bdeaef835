"""Makes a week's demands from the season's pattern; a second time it adds only what is missing."""

from datetime import date
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.models import Demand, DraftStep, WeekPlan
from sessions.selectors.pattern_demands import PatternDemand, pattern_demands
from sessions.selectors.season_week import SeasonWeek, season_week
from teamtrack.common.errors import NotFound, Refused


@transaction.atomic
def make_week(*, viewer: Viewer, monday: date) -> WeekPlan:
    """The week of the club that begins on `monday`, with a demand for each session of its pattern.

    What is there already stays as it is, moved or not. Raises Refused where the season plan says nothing of that week.
    """
    if viewer.role != Role.HEAD_COACH:
        raise NotFound()
    found = season_week(viewer=viewer, monday=monday)
    if found is None or found.phase is None:
        raise Refused("NO_SEASON", str(_("The season plan has no phase for this week. Nothing was changed.")))
    WeekPlan.objects.get_or_create(club_id=viewer.club_id, monday=monday)
    week = WeekPlan.objects.select_for_update().get(club=viewer.club_id, monday=monday)
    missing = _missing(viewer, week, found)
    for wanted in missing:
        add_demand(week, wanted)
    if missing:
        _note_step(viewer, week)
    return week


def _missing(viewer: Viewer, week: WeekPlan, found: SeasonWeek) -> list[PatternDemand]:
    """The pattern's sessions of this week that have no demand yet."""
    made = set(week.demands.values_list("pattern_item_id", flat=True))
    iso_week = IsoWeek(week.monday, ZoneInfo(viewer.club.timezone))
    wanted = pattern_demands(viewer=viewer, found=found, week=iso_week)
    return [demand for demand in wanted if demand.pk not in made]


def add_demand(week: WeekPlan, wanted: PatternDemand) -> None:
    """A demand of the week for one session of the pattern."""
    item = wanted.item
    demand = Demand.objects.create(
        club_id=week.club_id,
        week=week,
        pattern_item=item,
        group_id=item.group_id,
        kind=item.kind,
        also=item.also,
        duration_min=item.duration_min,
        priority=item.priority,
        lanes=item.lanes,
        observers=item.observers,
        preferred=wanted.preferred,
        order=item.order,
    )
    demand.venues.set(item.venues.all())
    demand.coaches.set(item.coaches.all())
    demand.qualified.set(item.qualified.all())


def _note_step(viewer: Viewer, week: WeekPlan) -> None:
    week.revision += 1
    week.changed_by_id, week.changed_at = viewer.person_id, viewer.now
    week.save(update_fields=["revision", "changed_by", "changed_at"])
    DraftStep.objects.create(
        club_id=week.club_id,
        week=week,
        revision=week.revision,
        what=DraftStep.What.MADE,
        by_id=viewer.person_id,
        at=viewer.now,
    )
    log_acts(viewer=viewer, acts=[Act(DraftStep.What.MADE.value, "week", None, ("demands",))])
