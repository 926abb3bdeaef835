"""Builds the planning contract's problem of one week from the rows of one club."""

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.models import EventGroup
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.season import minutes_of_sessions, squad_limits
from sessions.core.stretches import Stretch, merged, within
from sessions.models import Demand, GroupSettings, Placement, SessionAthlete, TrainingSession, WeekPlan
from sessions.models.season import Kind
from sessions.selectors.around_week import published_around
from sessions.selectors.meets import own_minutes
from sessions.selectors.other_sports import other_sports_of
from sessions.selectors.pattern_demands import PatternDemand
from sessions.selectors.planned_people import PlannedPeople, planned_people
from sessions.selectors.planned_places import PlannedCoach, PlannedVenue, planned_coaches, planned_venues
from sessions.selectors.reported_efforts import reported_hard
from sessions.selectors.season_week import policies_in_force, season_week
from sessions.selectors.week_draft import demands_to_plan, placement_of

Asked = Demand | PatternDemand
GRID_MIN = 15
USUAL_RUN_CM = GroupSettings._meta.get_field("run_cm").default
OWN_HARD = "-hard"
"""Ends the id of a session as those alone attend it who reported it as hard."""
OWN_MINUTES = "-min"
"""With the minutes, ends the id of a meet as those attend it whose events are other minutes of work than most's."""
_OWN = re.compile(rf"(?:{OWN_HARD}|{OWN_MINUTES}\d+)$")
WHOLE = SessionAthlete.Comes.WHOLE
AROUND = timedelta(days=7)
"""How far before and after the week published sessions count; no default separation is longer (common practice)."""


class LeftOut(StrEnum):
    """Why a demand cannot even be asked for."""

    OVER = "over"
    NO_VENUE = "no_venue"
    NO_LEADER = "no_leader"
    TOO_FEW_COACHES = "too_few_coaches"
    TOO_SHORT = "too_short"


@dataclass(frozen=True)
class BuiltProblem:
    """The contract's document, and the demands that it could not state."""

    document: dict[str, Any]
    left_out: dict[UUID, LeftOut]


def iso_week_of(week: WeekPlan, viewer: Viewer) -> IsoWeek:
    """The week on the club's clock."""
    return IsoWeek(week.monday, ZoneInfo(viewer.club.timezone))


def build_problem(*, viewer: Viewer, week: WeekPlan) -> BuiltProblem:
    """The problem of the week as it stands now, for whoever asks; a fixed number of queries."""
    return build_asked(viewer=viewer, week=iso_week_of(week, viewer), asked=demands_to_plan(week))


def build_asked(*, viewer: Viewer, week: IsoWeek, asked: Sequence[Asked]) -> BuiltProblem:
    """The problem of a week in which these demands are asked for, whether they have a row or not."""
    return _Building(viewer, week, asked).built()


class _Building:
    """Reads each kind of row once, then states the document's lists one after the other.

    A demand whose published session has begun is not planned again.
    """

    def __init__(self, viewer: Viewer, week: IsoWeek, asked: Sequence[Asked]) -> None:
        self.viewer, self.week = viewer, week
        self.people: PlannedPeople = planned_people(viewer=viewer, week=self.week)
        self.venues: dict[UUID, PlannedVenue] = planned_venues(viewer=viewer, week=self.week)
        self.around: list[TrainingSession] = published_around(
            viewer=viewer, span=(self.week.starts_at - AROUND, self.week.ends_at + AROUND)
        )
        begun = {item.demand_id for item in self.around if item.starts_at <= viewer.now}
        self.demands = [demand for demand in asked if demand.pk not in begun]
        self.coaches: dict[UUID, PlannedCoach] = planned_coaches(
            viewer=viewer, week=self.week, coach_ids=self._coach_ids()
        )
        self.groups = list(EventGroup.objects.filter(club=viewer.club_id).select_related("settings"))
        self.runs_cm = {group.pk: group.settings.run_cm for group in self.groups if hasattr(group, "settings")}
        self.minors = {group.pk: self.people.has_minors(group.pk, self.week) for group in self.groups}
        self.hard = reported_hard(viewer=viewer, training_sessions=self.around, athletes=self.people.athletes)
        self.minutes = own_minutes(self.around)
        first, last = self.week.monday - AROUND, self.week.sunday + AROUND
        self.sports = other_sports_of(viewer=viewer, athlete_ids=self.people.heard, first=first, last=last)
        self.season = season_week(viewer=viewer, monday=self.week.monday)
        phase = self.season.phase if self.season else None
        self.policies = policies_in_force(phase=phase, groups=self.groups)
        self.left_out: dict[UUID, LeftOut] = {}

    def built(self) -> BuiltProblem:
        stated = [row for demand in self.demands if (row := self._demand(demand)) is not None]
        movable = {row["id"] for row in stated}
        document = {
            "version": 1,
            "timezone": self.viewer.club.timezone,
            "horizon": {"first_day": self.week.monday.isoformat(), "days": len(self.week.days)},
            "grid_min": GRID_MIN,
            "athletes": self._athletes(),
            "groups": [self._group(group) for group in self.groups],
            "coaches": [self._coach(planned) for planned in self.coaches.values()],
            "venues": [self._venue(planned) for planned in self.venues.values()],
            "fixed": [*self._calendar(movable), *self._other_sports()],
            "demands": stated,
            "current": self._current(movable),
        }
        return BuiltProblem(document, self.left_out)

    def _coach_ids(self) -> set[UUID]:
        found = {coach.pk for demand in self.demands for coach in demand.coaches.all()}
        found |= {row.coach_id for item in self.around for row in item.session_coaches.all()}
        placements = [placement for demand in self.demands if (placement := placement_of(demand))]
        return found | {coach.pk for placement in placements for coach in placement.coaches.all()}

    def _athletes(self) -> list[dict[str, Any]]:
        caps, whole_week = self._limits()
        rows = []
        for athlete_id in self.people.athletes:
            taken = whole_week.get(athlete_id, []) + self.people.unavailable.get(athlete_id, [])
            row: dict[str, Any] = {"id": str(athlete_id), "unavailable": self._spans(merged(taken))}
            if athlete_id in caps:
                row["weekly_minutes_cap"] = caps[athlete_id]
            rows.append(row)
        return rows

    def _limits(self) -> tuple[dict[UUID, int], dict[UUID, list[Stretch]]]:
        """Caps with the squads' exam weeks in them; who is away all week because the squad trains not at all."""
        caps, whole_week = dict(self.people.caps), {}
        limits = squad_limits(self.season.limits) if self.season else {}
        for athlete_id in self.people.athletes:
            most = min(
                (limits[squad] for squad in self.people.squads.get(athlete_id, ()) if squad in limits), default=None
            )
            if most == 0:
                whole_week[athlete_id] = [(self.week.starts_at, self.week.ends_at)]
            elif most is not None:
                groups = set(self.people.groups_of(athlete_id))
                lengths = [demand.duration_min for demand in self.demands if demand.group_id in groups]
                cap = minutes_of_sessions(lengths, most) + self._sport_minutes(athlete_id)
                caps[athlete_id] = min(cap, caps.get(athlete_id, cap))
        return caps, whole_week

    def _sport_minutes(self, athlete_id: UUID) -> int:
        """Minutes of other sports in the week: they take nothing of what an exam week leaves of the club's sessions."""
        own = self.sports.get(athlete_id, ())
        return sum(one.minutes for one in own if self.week.starts_at <= one.starts_at < self.week.ends_at)

    def _group(self, group: EventGroup) -> dict[str, Any]:
        row: dict[str, Any] = {"id": str(group.pk), "athletes": _texts(self.people.members.get(group.pk, ()))}
        policy = self.policies[group.pk]
        return row | ({"policy": policy} if policy else {})

    def _coach(self, planned: PlannedCoach) -> dict[str, Any]:
        return {
            "id": str(planned.coach.pk),
            "available": self._spans(planned.available),
            "max_sessions_per_day": planned.most_sessions_a_day,
        }

    def _venue(self, planned: PlannedVenue) -> dict[str, Any]:
        return {"id": str(planned.venue.pk), "lanes": planned.venue.lanes, "open": self._spans(planned.open)}

    def _calendar(self, movable: set[str]) -> list[dict[str, Any]]:
        """What is published round the week and stays."""
        return [row for item in self.around if str(item.demand_id) not in movable for row in self._fixed(item)]

    def _other_sports(self) -> list[dict[str, Any]]:
        """What each athlete does elsewhere: an item of that athlete alone, of no group, venue or coach."""
        return [
            {
                "id": one.id,
                "kind": one.effort,
                "start": self._text(one.starts_at),
                "end": self._text(one.ends_at),
                "groups": [],
                "athletes": [str(athlete_id)],
                "load_min": one.minutes,
            }
            for athlete_id, times in sorted(self.sports.items())
            for one in times
        ]

    def _fixed(self, training_session: TrainingSession) -> list[dict[str, Any]]:
        """The session as it stands, and apart for those alone who reported it hard, or who run other minutes."""
        row = self._standing(training_session)
        if training_session.pk in self.minutes:
            return self._by_minutes(row, self.minutes[training_session.pk])
        hard = self.hard.get(training_session.pk)
        if hard is None:
            return [row]
        as_hard = {"kind": Kind.HARD.value, "also": [row["kind"], *row["also"]]}
        alone = sorted(hard.alone - set(row["absent"]))
        if hard.is_group_hard:
            return [row | as_hard]
        if not alone:
            return [row]
        times = {name: row[name] for name in ("start", "end", "load_min") if name in row}
        own = {"id": f"{row['id']}{OWN_HARD}", "groups": [], "athletes": alone} | as_hard | times
        others = [one for one in row["athletes"] if one not in hard.alone]
        absent = sorted({*row["absent"], *alone} - {*row["athletes"]})
        return [row | {"athletes": others, "absent": absent}, own]

    def _by_minutes(self, row: dict[str, Any], minutes: dict[UUID, int]) -> list[dict[str, Any]]:
        """The meet as most attend it, and once for each other number of minutes as those attend it whose events it is.

        Only those on the roster are there; the group's own row stays, so that the group's days are known.
        """
        members = {str(one) for group in row["groups"] for one in self.people.members.get(UUID(group), ())}
        there = (members - set(row["absent"])) | set(row["athletes"])
        apart: dict[int, list[str]] = defaultdict(list)
        for athlete, own in sorted(minutes.items()):
            if str(athlete) in there and own != row.get("load_min"):
                apart[own].append(str(athlete))
        moved = {one for athletes in apart.values() for one in athletes}
        times = {name: row[name] for name in ("kind", "also", "start", "end")}
        rest = {
            "athletes": [one for one in row["athletes"] if one not in moved],
            "absent": sorted({*row["absent"], *(moved & members)}),
        }
        rows = [
            times | {"id": f"{row['id']}{OWN_MINUTES}{own}", "groups": [], "athletes": athletes, "load_min": own}
            for own, athletes in sorted(apart.items())
        ]
        return [row | rest, *rows]

    def _standing(self, training_session: TrainingSession) -> dict[str, Any]:
        groups = [group.pk for group in training_session.groups.all()]
        roster = {row.athlete_id: row.comes for row in training_session.session_athletes.all()}
        members = {athlete for group in groups for athlete in self.people.members.get(group, ())}
        comes = {athlete for athlete, how in roster.items() if how == WHOLE} & self.people.athletes.keys()
        row: dict[str, Any] = {
            "id": str(training_session.pk),
            "kind": training_session.kind,
            "also": list(training_session.also),
            "start": self._text(training_session.starts_at),
            "end": self._text(training_session.ends_at),
            "groups": _texts(groups),
            "athletes": _texts(sorted(comes - members)),
            "absent": _texts(sorted(members - comes)) if roster else [],
            "coaches": _texts(sorted(row.coach_id for row in training_session.session_coaches.all())),
        }
        if training_session.venue_id in self.venues:
            row["venue"] = str(training_session.venue_id)
            if training_session.lanes:
                row["lanes"] = training_session.lanes
        if training_session.load_min is not None:
            row["load_min"] = training_session.load_min
        return row

    def _demand(self, demand: Asked) -> dict[str, Any] | None:
        """The demand as the contract writes it; None, with the reason noted, where that is not possible."""
        placement = placement_of(demand)
        pinned = placement if demand.is_pinned else None
        listed_venues = [venue.pk for venue in demand.venues.all() if venue.pk in self.venues]
        venues = [venue for venue in listed_venues if self._has_room(demand, venue)]
        listed = {coach.pk for coach in demand.coaches.all()}
        coaches = [coach for coach in self.coaches if coach in listed and self._may_lead(demand, coach)]
        wanted = {coach.pk for coach in demand.qualified.all()} or set(coaches)
        qualified = [coach for coach in coaches if coach in wanted and not self.coaches[coach].is_helper]
        hours = self._hours(demand, venues)
        if pinned is not None:
            hours, venues = [(pinned.starts_at, pinned.ends_at)], [pinned.venue_id]
            coaches, qualified = _as_pinned(pinned, coaches, qualified, demand.observers)
        length = timedelta(minutes=demand.duration_min)
        windows = [stretch for stretch in within(hours, self._bounds()) if stretch[1] - stretch[0] >= length]
        reason = _staffing(demand, coaches, qualified) or self._nowhere(hours, windows)
        if listed_venues and not venues:
            reason = LeftOut.TOO_SHORT
        if reason is not None:
            self.left_out[demand.pk] = reason
            return None
        return {
            "id": str(demand.pk),
            "kind": demand.kind,
            "also": list(demand.also),
            "group": str(demand.group_id),
            "duration_min": demand.duration_min,
            "priority": demand.priority,
            "windows": self._spans(windows),
            "preferred": list(demand.preferred),
            "venues": _texts(venues),
            "lanes": demand.lanes,
            "coaches": _texts(coaches),
            "observers": demand.observers,
            "qualified": _texts(qualified),
        }

    def _has_room(self, demand: Asked, venue_id: UUID) -> bool:
        """Whether the group's strides fit on the straight, with roll-in and run-out; asked of technique alone."""
        if Kind.TECHNIQUE not in (demand.kind, *demand.also):
            return True
        return self.runs_cm.get(demand.group_id, USUAL_RUN_CM) <= self.venues[venue_id].venue.longest_run_cm

    def _may_lead(self, demand: Asked, coach_id: UUID) -> bool:
        return self.coaches[coach_id].may_lead(demand.group_id, has_minors=self.minors[demand.group_id])

    def _bounds(self) -> Stretch:
        """The week, as far as it is still to come."""
        return max(self.week.starts_at, _next_minute(self.viewer.now)), self.week.ends_at

    def _hours(self, demand: Asked, venues: Sequence[UUID]) -> list[Stretch]:
        """The demand's own windows, or the opening hours of its venues."""
        own = [(datetime.fromisoformat(row["start"]), datetime.fromisoformat(row["end"])) for row in demand.windows]
        return (own if venues else []) or [stretch for venue in venues for stretch in self.venues[venue].hours]

    def _nowhere(self, hours: Sequence[Stretch], windows: Sequence[Stretch]) -> LeftOut | None:
        """Why no stretch of time is left: the week goes on already, or no venue opens long enough."""
        if windows:
            return None
        return LeftOut.OVER if hours and self.viewer.now > self.week.starts_at else LeftOut.NO_VENUE

    def _current(self, stated: set[str]) -> list[dict[str, Any]]:
        placed = [(demand, placement_of(demand)) for demand in self.demands if str(demand.pk) in stated]
        return [
            {
                "demand": str(demand.pk),
                "start": self._text(placement.starts_at),
                "venue": str(placement.venue_id),
                "coaches": _texts(sorted(coach.pk for coach in placement.coaches.all())),
            }
            for demand, placement in placed
            if placement is not None
        ]

    def _spans(self, stretches: Iterable[Stretch]) -> list[dict[str, str]]:
        texts = ((self._text(start), self._text(end)) for start, end in stretches)
        return [{"start": start, "end": end} for start, end in texts if start != end]

    def _text(self, moment: datetime) -> str:
        return moment.astimezone(self.week.zone).isoformat(timespec="minutes")


def _as_pinned(
    pinned: Placement, coaches: list[UUID], qualified: list[UUID], observers: int
) -> tuple[list[UUID], list[UUID]]:
    """The pinned coaches alone where they may lead it together; else all who may."""
    listed = {coach.pk for coach in pinned.coaches.all()}
    chosen = [coach for coach in coaches if coach in listed]
    able = [coach for coach in chosen if coach in qualified]
    return (chosen, able) if len(chosen) == observers and able else (coaches, qualified)


def _staffing(demand: Asked, coaches: Sequence[UUID], qualified: Sequence[UUID]) -> LeftOut | None:
    if not qualified:
        return LeftOut.NO_LEADER
    return LeftOut.TOO_FEW_COACHES if len(coaches) < demand.observers else None


def _texts(ids: Iterable[UUID]) -> list[str]:
    return [str(row_id) for row_id in ids]


def as_session(item: str) -> str:
    """The id of the session that an item of the document stands for: the item's own, but for a part of one."""
    return _OWN.sub("", item)


def _next_minute(moment: datetime) -> datetime:
    whole = moment.replace(second=0, microsecond=0)
    return whole if whole == moment else whole + timedelta(minutes=1)
