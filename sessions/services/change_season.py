"""Makes, copies and changes season plans: whole documents, one revision at a time, each step remembered for undo."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import F
from django.utils.formats import date_format
from django.utils.translation import gettext

from athletes.models import EventGroup, Person, Squad
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.access import get_season, seasons_planned_by
from sessions.core.season_document import Document, copied
from sessions.core.season_starters import STARTERS, pattern_row, phases_of, sessions_of
from sessions.models import Demand, PatternItem, Phase, PhasePolicy, SeasonPlan, SeasonStep, Venue, WeekModifier
from sessions.selectors.season_documents import (
    STATED,
    coaches_by_group,
    groups_to_plan,
    season_document,
    steps_since,
    undoable_season_step,
    venues_to_plan,
)
from sessions.services.move_meets import days_of_meets, move_meets
from teamtrack.common.errors import Conflict, NotFound, Refused

_VERBS = {SeasonStep.What.MADE: "made", SeasonStep.What.CHANGED: "set", SeasonStep.What.UNDONE: "undone"}
LINKS = ("venues", "coaches", "qualified")
FOLLOWED = "followed"
"""Where a step keeps, by row of the pattern that it took out, the sessions of weeks that followed from it."""


def new_id() -> str:
    """An id for a row that a document adds."""
    return str(uuid4())


def starter_document(*, viewer: Viewer, starter: str, name: str, first_monday: date, weeks: int) -> Document:
    """A season after one of the starters: every group's pattern, at all venues, with the coaches assigned to it."""
    kind = next(one for one in STARTERS if one.key == starter)
    phases = [
        {"id": new_id(), "aim": aim, "name": "", "first_week": first, "last_week": last}
        for aim, first, last in phases_of(kind, weeks)
    ]
    venues = sorted(str(venue.pk) for venue in venues_to_plan(viewer=viewer))
    coaches = coaches_by_group(viewer=viewer)
    patterns = [
        pattern_row(new_id(), phase["id"], str(group.pk), session, order, venues, coaches.get(group.pk, []))
        for phase in phases
        for group in groups_to_plan(viewer=viewer)
        for order, session in enumerate(sessions_of(group.discipline, phase["aim"]), start=1)
    ]
    head = {"name": name, "first_monday": first_monday.isoformat(), "weeks": weeks}
    return head | {"phases": phases, "patterns": patterns, "modifiers": [], "policies": [], "meets": []}


def copied_document(*, season: SeasonPlan, name: str, first_monday: date) -> Document:
    """A season once more, from another Monday on."""
    return copied(season_document(season=season), name=name, first_monday=first_monday.isoformat(), new_id=new_id)


@transaction.atomic
def make_season(*, viewer: Viewer, document: Document) -> SeasonPlan:
    """A new season; one that begins on the same Monday is refused, so that a second press makes no second one."""
    if viewer.role != Role.HEAD_COACH:
        raise NotFound()
    monday = date.fromisoformat(document["first_monday"])
    if seasons_planned_by(viewer).filter(first_monday=monday).exists():
        raise Refused("SAME_MONDAY", gettext("A season begins on that Monday already. Nothing was changed."))
    season = SeasonPlan.objects.create(
        club_id=viewer.club_id, name=document["name"], first_monday=monday, weeks=document["weeks"], revision=1
    )
    write_document(season, document)
    _note(viewer, season, 1, SeasonStep.What.MADE, None, document)
    return season


@transaction.atomic
def change_season(*, viewer: Viewer, season_id: UUID, revision: int, wanted: Document) -> SeasonStep:
    """Write the season as it is wanted, if it still is at `revision`; else Conflict, with who changed it."""
    season = take_season(viewer, season_id, revision)
    before = season_document(season=season) | {"meets": days_of_meets(viewer, wanted["meets"])}
    if before == wanted:
        raise Refused("NOTHING_NEW", gettext("The season is like that already. Nothing was changed."))
    before |= {FOLLOWED: _followed(before, wanted)}
    write_document(season, wanted)
    move_meets(viewer, wanted["meets"])
    return _note(viewer, season, revision + 1, SeasonStep.What.CHANGED, before, wanted)


@transaction.atomic
def undo_season(*, viewer: Viewer, season_id: UUID, step_id: UUID, revision: int) -> SeasonStep:
    """Put the season back as it was before the newest change that stands."""
    season = take_season(viewer, season_id, revision)
    newest = undoable_season_step(season=season)
    if newest is None or newest.pk != step_id:
        raise Refused("NOT_THE_LAST", gettext("Only the last change can be undone. Nothing was changed."))
    before = season_document(season=season)
    write_document(season, newest.before)
    _tie_again(season, newest.before.get(FOLLOWED, {}))
    move_meets(viewer, newest.before["meets"])
    SeasonStep.objects.filter(pk=newest.pk).update(undone_at=viewer.now)
    return _note(viewer, season, revision + 1, SeasonStep.What.UNDONE, before, newest.before)


@transaction.atomic
def remove_season(*, viewer: Viewer, season_id: UUID, revision: int) -> None:
    """Take away a season just made: one that nobody changed since."""
    season = take_season(viewer, season_id, revision)
    steps = SeasonStep.objects.filter(season=season).values_list("what", flat=True)
    if list(steps) != [SeasonStep.What.MADE]:
        raise Refused("CHANGED_SINCE", gettext("The season was changed since it was made. Nothing was changed."))
    season.delete()
    log_acts(viewer=viewer, acts=[Act("removed", "season")])


def take_season(viewer: Viewer, season_id: UUID, revision: int) -> SeasonPlan:
    """Move the season on by one revision if it still is at `revision`; from here on nobody else changes it."""
    season = get_season(viewer, season_id)
    moved = SeasonPlan.objects.filter(pk=season.pk, revision=revision).update(revision=F("revision") + 1)
    if moved != 1:
        raise _conflict(viewer, season, revision)
    season.refresh_from_db()
    return season


def write_document(season: SeasonPlan, wanted: Document) -> None:
    """Make the rows of the season what the document says; rows that stay keep their ids, and what hangs on them."""
    wanted = _still_there(season, wanted)
    monday = date.fromisoformat(wanted["first_monday"])
    SeasonPlan.objects.filter(pk=season.pk).update(name=wanted["name"], first_monday=monday, weeks=wanted["weeks"])
    now = season_document(season=season)
    gone = {name: _ids(now[name]) - _ids(wanted[name]) for name in ("phases", "patterns", "modifiers", "policies")}
    PhasePolicy.objects.filter(phase__season=season, pk__in=gone["policies"]).delete()
    PatternItem.objects.filter(phase__season=season, pk__in=gone["patterns"]).delete()
    WeekModifier.objects.filter(season=season, pk__in=gone["modifiers"]).delete()
    for row in _new(now["phases"], wanted["phases"]):
        _put(Phase, season, row, {"season": season} | _but(row, "id"))
    for row in _new(now["patterns"], wanted["patterns"]):
        _put_pattern(season, row)
    for row in _new(now["modifiers"], wanted["modifiers"]):
        _put(WeekModifier, season, row, {"season": season, "squad_id": row["squad"]} | _but(row, "id", "squad"))
    for row in _new(now["policies"], wanted["policies"]):
        links = {"phase_id": row["phase"], "group_id": row["group"]}
        _put(PhasePolicy, season, row, links | _but(row, "id", "phase", "group"))
    Phase.objects.filter(season=season, pk__in=gone["phases"]).delete()


def _followed(before: Document, wanted: Document) -> dict[str, list[str]]:
    gone = _ids(before["patterns"]) - _ids(wanted["patterns"])
    found: dict[str, list[str]] = {}
    for demand, row in Demand.objects.filter(pattern_item__in=gone).values_list("pk", "pattern_item_id"):
        found.setdefault(str(row), []).append(str(demand))
    return found


def _tie_again(season: SeasonPlan, followed: Mapping[str, Iterable[str]]) -> None:
    """What followed from a row that came back follows from it again, unless it follows from another by now."""
    there = PatternItem.objects.filter(phase__season=season, pk__in=followed).values_list("pk", flat=True)
    for row in there:
        loose = Demand.objects.filter(club=season.club_id, pk__in=followed[str(row)], pattern_item=None)
        loose.update(pattern_item=row)


def _still_there(season: SeasonPlan, wanted: Document) -> Document:
    """The document without groups, squads, venues and people that the club no longer has: an undo may be late."""
    club = season.club_id
    there = {
        str(pk)
        for model in (EventGroup, Squad, Venue)
        for pk in model.objects.filter(club=club).values_list("pk", flat=True)
    }
    named = {one for row in wanted["patterns"] for name in ("coaches", "qualified") for one in row[name]}
    there |= {str(pk) for pk in Person.objects.filter(club=club, pk__in=named).values_list("pk", flat=True)}
    patterns = [
        row | {name: [one for one in row[name] if one in there] for name in LINKS}
        for row in wanted["patterns"]
        if row["group"] in there
    ]
    modifiers = [row for row in wanted["modifiers"] if row["squad"] is None or row["squad"] in there]
    policies = [row for row in wanted["policies"] if row["group"] in there]
    return wanted | {"patterns": patterns, "modifiers": modifiers, "policies": policies}


def _put_pattern(season: SeasonPlan, row: Mapping[str, Any]) -> None:
    links = {"phase_id": row["phase"], "group_id": row["group"]}
    item = _put(PatternItem, season, row, links | {name: row[name] for name in STATED})
    for name in LINKS:
        getattr(item, name).set(row[name])


def _put(model: Any, season: SeasonPlan, row: Mapping[str, Any], values: Mapping[str, Any]) -> Any:
    found, _made = model.objects.update_or_create(pk=row["id"], club_id=season.club_id, defaults=values)
    return found


def _new(now: Iterable[Mapping[str, Any]], wanted: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The wanted rows that do not stand there as they are."""
    there = {row["id"]: row for row in now}
    return [row for row in wanted if there.get(row["id"]) != row]


def _ids(rows: Iterable[Mapping[str, Any]]) -> set[str]:
    return {row["id"] for row in rows}


def _but(row: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in names}


def _note(
    viewer: Viewer, season: SeasonPlan, revision: int, what: SeasonStep.What, before: Document | None, after: Document
) -> SeasonStep:
    step = SeasonStep.objects.create(
        club_id=viewer.club_id, season=season, revision=revision, what=what, by_id=viewer.person_id, at=viewer.now,
        before=before, after=after,
    )  # fmt: skip
    parts = ("name", "first_monday", "weeks", "phases", "patterns", "modifiers", "policies")
    changed = tuple(name for name in parts if before is None or before[name] != after[name])
    log_acts(viewer=viewer, acts=[Act(_VERBS[what], "season", None, changed)])
    return step


def _conflict(viewer: Viewer, season: SeasonPlan, revision: int) -> Conflict:
    steps = steps_since(season=season, revision=revision)
    if not steps:
        detail = gettext("This page is out of date. Nothing was changed; look at the season again and repeat the step.")
        return Conflict("SEASON_CHANGED", detail)
    told = {"who": steps[0].by.full_name, "when": date_format(steps[0].at.astimezone(viewer.now.tzinfo), "H:i")}
    detail = gettext(
        "%(who)s changed this season at %(when)s. Nothing of yours was saved: look at it and go on from there."
    )
    return Conflict("SEASON_CHANGED", detail % told)
