"""A season's rows as one document, and what of it somebody changed meanwhile."""

from typing import Any
from uuid import UUID

from athletes.core.ages import age_on
from athletes.models import CoachAssignment, EventGroup, GroupMembership, Person, Squad, StaffRole
from athletes.models.accounts import Role
from athletes.viewer import Viewer, in_force
from sessions.access import seasons_planned_by
from sessions.core.load_advice import may_taper
from sessions.core.season_document import Document
from sessions.models import GroupSettings, PatternItem, Phase, PhasePolicy, SeasonPlan, SeasonStep, Venue, WeekModifier

STATED = (
    "kind", "also", "duration_min", "priority", "lanes", "observers", "order", "usual_weekday", "usual_from",
    "usual_until",
)  # fmt: skip


def season_document(*, season: SeasonPlan) -> Document:
    """The season as it stands; seven queries."""
    phases = Phase.objects.filter(season=season).order_by("first_week", "pk")
    items = PatternItem.objects.filter(phase__season=season).prefetch_related("venues", "coaches", "qualified")
    policies = PhasePolicy.objects.filter(phase__season=season).order_by("pk")
    modifiers = WeekModifier.objects.filter(season=season).order_by("week", "pk")
    return {
        "name": season.name,
        "first_monday": season.first_monday.isoformat(),
        "weeks": season.weeks,
        "phases": [
            {"id": str(row.pk)} | {name: getattr(row, name) for name in ("aim", "name", "first_week", "last_week")}
            for row in phases
        ],
        "patterns": [_pattern(row) for row in items.order_by("group__order", "group_id", "order", "pk")],
        "modifiers": [_modifier(row) for row in modifiers],
        "policies": [
            {
                "id": str(row.pk), "phase": str(row.phase_id), "group": str(row.group_id), "style": row.style,
                "policy": row.policy,
            }
            for row in policies
        ],
        "meets": [],
    }  # fmt: skip


def _pattern(row: PatternItem) -> dict[str, Any]:
    told = {name: getattr(row, name) for name in STATED}
    times = {name: told[name].isoformat("minutes") if told[name] else None for name in ("usual_from", "usual_until")}
    people = {
        name: sorted(str(one.pk) for one in getattr(row, name).all()) for name in ("venues", "coaches", "qualified")
    }
    return {"id": str(row.pk), "phase": str(row.phase_id), "group": str(row.group_id)} | told | times | people


def _modifier(row: WeekModifier) -> dict[str, Any]:
    return {
        "id": str(row.pk), "week": row.week, "reason": row.reason, "squad": str(row.squad_id) if row.squad_id else None,
        "born_from": row.born_from and row.born_from.isoformat(),
        "born_until": row.born_until and row.born_until.isoformat(), "most_sessions": row.most_sessions,
    }  # fmt: skip


def seasons_of(*, viewer: Viewer) -> list[SeasonPlan]:
    """The club's seasons, the latest first."""
    return list(seasons_planned_by(viewer))


def undoable_season_step(*, season: SeasonPlan) -> SeasonStep | None:
    """The newest change that still stands and has something before it."""
    rows = SeasonStep.objects.filter(season=season, undone_at__isnull=True, before__isnull=False)
    return rows.exclude(what=SeasonStep.What.UNDONE).first()


def steps_since(*, season: SeasonPlan, revision: int) -> list[SeasonStep]:
    """What was done to the season since a revision, the newest first."""
    return list(SeasonStep.objects.filter(season=season, revision__gt=revision).select_related("by"))


def steps_of(*, season: SeasonPlan, most: int = 6) -> list[SeasonStep]:
    """The newest changes."""
    return list(SeasonStep.objects.filter(season=season).select_related("by")[:most])


def groups_to_plan(*, viewer: Viewer) -> list[EventGroup]:
    """The club's event groups."""
    return list(EventGroup.objects.filter(club=viewer.club_id))


def venues_to_plan(*, viewer: Viewer) -> list[Venue]:
    """The club's venues."""
    return list(Venue.objects.filter(club=viewer.club_id))


def coaches_to_plan(*, viewer: Viewer) -> list[Person]:
    """Who coaches today."""
    held = StaffRole.objects.filter(in_force(viewer.today), club=viewer.club_id, role=Role.COACH)
    people = Person.objects.filter(pk__in=held.values("person_id"))
    return list(people.order_by("family_name", "given_name", "pk"))


def coaches_by_group(*, viewer: Viewer) -> dict[UUID, list[str]]:
    """By event group who is assigned to it today."""
    found: dict[UUID, list[str]] = {}
    rows = CoachAssignment.objects.filter(in_force(viewer.today), club=viewer.club_id).order_by("coach_id")
    for row in rows:
        found.setdefault(row.group_id, []).append(str(row.coach_id))
    return found


def squads_to_plan(*, viewer: Viewer) -> list[Squad]:
    """The club's squads."""
    return list(Squad.objects.filter(club=viewer.club_id))


def usual_policy(*, viewer: Viewer, group: EventGroup) -> dict[str, Any]:
    """The group's rules in every phase that has none of its own."""
    found = GroupSettings.objects.filter(club=viewer.club_id, group=group).first()
    return dict(found.policy) if found else {}


def has_somebody_to_taper(*, viewer: Viewer, group: EventGroup) -> bool:
    """Whether the group holds an athlete of an age at which the published reduction is offered."""
    members = GroupMembership.objects.filter(in_force(viewer.today), group=group, club=viewer.club_id)
    births = members.exclude(athlete__birth_date=None).values_list("athlete__birth_date", flat=True)
    return any(may_taper(age_on(birth, viewer.today)) for birth in births)
