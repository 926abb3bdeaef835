"""Changing a week's draft: whose turn it is, what is written, what is remembered; used by the services of the week."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from django.db.models import F
from django.utils.formats import date_format
from django.utils.translation import gettext

from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.core.week_changes import Place
from sessions.models import Demand, DraftStep, Placement, WeekPlan
from sessions.selectors.week_steps import step_sentences, steps_since
from teamtrack.common.errors import Conflict


@dataclass(frozen=True)
class Turn:
    """One change of a draft by one viewer: what it does and to which sessions."""

    viewer: Viewer
    week: WeekPlan
    what: DraftStep.What
    before: Mapping[str, Place]
    after: Mapping[str, Place]

    @property
    def touched(self) -> list[str]:
        return sorted(key for key in {**self.before, **self.after} if self.before.get(key) != self.after.get(key))


def take_turn(*, viewer: Viewer, week: WeekPlan, revision: int) -> None:
    """Move the week on by one revision if it still is at `revision`; Conflict, with what changed, where it is not.

    From here to the end of the transaction nobody else changes this draft.
    """
    moved = WeekPlan.objects.filter(pk=week.pk, revision=revision).update(
        revision=F("revision") + 1, changed_by=viewer.person_id, changed_at=viewer.now
    )
    if moved != 1:
        raise week_conflict(viewer=viewer, week=week, revision=revision)


def week_conflict(*, viewer: Viewer, week: WeekPlan, revision: int) -> Conflict:
    """Who changed the week since `revision`, when, and which sessions."""
    steps = steps_since(week=week, revision=revision)
    if not steps:
        detail = gettext("This page is out of date. Nothing was changed; look at the week again and repeat the step.")
        return Conflict("WEEK_CHANGED", detail)
    detail = gettext(
        "%(who)s changed this week at %(when)s. Nothing of yours was saved: see what changed and go on from there."
    ) % {"who": steps[0].by.full_name, "when": date_format(steps[0].at.astimezone(viewer.now.tzinfo), "H:i")}
    return Conflict("WEEK_CHANGED", detail, fields={"changed": step_sentences(viewer=viewer, steps=steps)})


def write_turn(turn: Turn, *, revision: int) -> DraftStep:
    """Write the places that differ and remember the step, for the revision that `take_turn` moved on from."""
    touched = turn.touched
    for demand_id in touched:
        put_place(turn.week, demand_id, turn.after.get(demand_id))
    step = DraftStep.objects.create(
        club_id=turn.week.club_id,
        week=turn.week,
        revision=revision + 1,
        what=turn.what,
        by_id=turn.viewer.person_id,
        at=turn.viewer.now,
        before={key: _document(turn.before.get(key)) for key in touched},
        after={key: _document(turn.after.get(key)) for key in touched},
    )
    log_acts(viewer=turn.viewer, acts=[Act(turn.what.value, "week", None, ("placements",))])
    return step


def put_place(week: WeekPlan, demand_id: str, place: Place | None) -> None:
    """Give one demand of the week its place, or take it away."""
    if place is None:
        Placement.objects.filter(demand=demand_id, demand__week=week).delete()
        return
    demand = Demand.objects.get(pk=demand_id, week=week)
    values = {
        "club_id": week.club_id,
        "starts_at": place.starts_at,
        "ends_at": place.ends_at,
        "venue_id": UUID(place.venue),
        "reasons": list(place.reasons),
    }
    placement, _made = Placement.objects.update_or_create(demand=demand, defaults=values)
    placement.coaches.set(place.coaches)
    placement.excused.set(place.excused)
    placement.away.set(place.away)
    placement.easier.set(place.easier)


def _document(place: Place | None) -> dict[str, object] | None:
    return None if place is None else place.as_document()
