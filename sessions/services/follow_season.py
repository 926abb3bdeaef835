"""Takes over into a week's draft what the season asks for now; a published week stays as it was told."""

from datetime import date

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.viewer import Viewer
from sessions.access import get_week
from sessions.models import Demand, DraftStep, Placement, WeekPlan
from sessions.selectors.week_beside_season import LINKS, SAID, BesideSeason, Pair, beside_season
from sessions.selectors.week_draft import placement_of
from sessions.services.make_week import add_demand
from sessions.services.week_draft import Turn, take_turn, write_turn
from teamtrack.common.errors import Refused

OF_THE_PLACE = frozenset({"kind", "also", "duration_min", "lanes", "observers"})


@transaction.atomic
def follow_season(*, viewer: Viewer, monday: date, revision: int) -> BesideSeason:
    """Give the week the sessions that the season asks for; who keeps a place that still fits keeps it, pinned or not.

    Raises NotFound for a week that is not the viewer's, Conflict where the draft has moved on, Refused for a week that
    was published or has nothing to take over.
    """
    week = get_week(viewer, monday)
    take_turn(viewer=viewer, week=week, revision=revision)
    if week.published_at is not None:
        raise Refused("PUBLISHED", str(_("This week is published: change it by hand. Nothing was changed.")))
    found = beside_season(viewer=viewer, week=week)
    if found is None:
        raise Refused("NOTHING_NEW", str(_("The week is like that already. Nothing was changed.")))
    Demand.objects.filter(week=week, pk__in=[demand.pk for demand in found.dropped]).delete()
    for pair in (*found.changed, *found.kept):
        _become(week, pair)
    for wanted in found.added:
        add_demand(week, wanted)
    write_turn(Turn(viewer, week, DraftStep.What.MADE, {}, {}), revision=revision)
    return found


def _become(week: WeekPlan, pair: Pair) -> None:
    """The week's session as the season asks for it; its place goes where it no longer fits."""
    held, asked = pair.held, pair.asked
    values = {name: getattr(asked, name) for name in SAID}
    Demand.objects.filter(pk=held.pk, week=week).update(pattern_item=asked.item, order=asked.item.order, **values)
    if not _keeps_place(pair):
        Placement.objects.filter(demand=held.pk).delete()
        Demand.objects.filter(pk=held.pk).update(is_pinned=False)
    for name in LINKS:
        getattr(held, name).set(getattr(asked, name).all())


def _keeps_place(pair: Pair) -> bool:
    placement = placement_of(pair.held)
    if placement is None or pair.differs & OF_THE_PLACE:
        return False
    coaches = {coach.pk for coach in pair.asked.coaches.all()}
    venues = {venue.pk for venue in pair.asked.venues.all()}
    return placement.venue_id in venues and {coach.pk for coach in placement.coaches.all()} <= coaches
