"""What a page shows of a rehearsal: how far it is, the weeks that cannot hold, and the one change that helps most."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.season_document import Document
from sessions.models import Rehearsal
from sessions.season_words import (
    VERDICTS,
    help_sentence,
    helped_words,
    lost_sentences,
    pattern_names,
    week_name,
    weeks_words,
)
from sessions.selectors.darkness import Darkness
from sessions.selectors.planning_problem import LeftOut
from sessions.selectors.rehearsals import RehearsalStanding, standing_of_rehearsal
from sessions.selectors.season_documents import coaches_to_plan, groups_to_plan, venues_to_plan
from sessions.web.week_view import TROUBLE
from sessions.week_words import WeekNames, dark_sentences


@dataclass(frozen=True)
class WeekLine:
    """One week of a rehearsal in words."""

    name: str
    label: str
    verdict: str
    is_well: bool
    added: tuple[str, ...] = ()
    dropped: tuple[str, ...] = ()
    lost: tuple[tuple[str, tuple[str, ...]], ...] = ()


class RehearsalView:
    """One rehearsal; `documents` are the season as it is, and as it is wanted."""

    def __init__(self, viewer: Viewer, rehearsal: Rehearsal, documents: list[Document]) -> None:
        self.viewer, self.rehearsal, self.documents = viewer, rehearsal, documents

    @cached_property
    def standing(self) -> RehearsalStanding:
        return standing_of_rehearsal(self.rehearsal)

    @property
    def is_open(self) -> bool:
        return self.standing.is_open

    @property
    def trouble(self) -> str:
        return str(TROUBLE[self.standing.trouble]) if self.standing.trouble else ""

    @property
    def progress(self) -> Mapping[str, Any]:
        return self.rehearsal.progress

    @property
    def result(self) -> Mapping[str, Any]:
        return self.rehearsal.result or {}

    @cached_property
    def names(self) -> WeekNames:
        groups = {str(group.pk): group.name for group in groups_to_plan(viewer=self.viewer)}
        return WeekNames(
            zone=ZoneInfo(self.viewer.club.timezone),
            sessions=pattern_names(self.documents, groups),
            venues={str(venue.pk): venue.name for venue in venues_to_plan(viewer=self.viewer)},
            coaches={str(coach.pk): coach.full_name for coach in coaches_to_plan(viewer=self.viewer)},
            groups=groups,
        )

    @cached_property
    def lines(self) -> list[WeekLine]:
        """Of a change the weeks that it touches; of a whole season those that do not hold."""
        found = {row["monday"]: row for row in self.result.get("weeks", ())}
        changes = self.result.get("changes") or self.progress.get("changes")
        if changes is None:
            return [self._line(monday, row, {}) for monday, row in found.items() if row["verdict"] != "holds"]
        return [self._line(change["monday"], found.get(change["monday"]), change) for change in changes]

    @property
    def holding(self) -> int:
        """How many weeks hold."""
        return sum(row["verdict"] == "holds" for row in self.result.get("weeks", ()))

    @property
    def failing(self) -> int:
        """How many weeks do not hold, or no longer."""
        return sum(not line.is_well for line in self.lines)

    @property
    def help(self) -> tuple[str, str, str] | None:
        """The change, how many weeks hold with it, and which."""
        found = self.result.get("help")
        if not found:
            return None
        mondays = list(found["in_weeks"])
        return help_sentence(found["change"], self.names), helped_words(len(mondays)), weeks_words(mondays)

    def _line(self, monday: str, row: Mapping[str, Any] | None, change: Mapping[str, Any]) -> WeekLine:
        day, verdict = date.fromisoformat(monday), self._verdict(monday, row)
        named = {key: tuple(map(self.names.session, change.get(key, ()))) for key in ("added", "dropped")}
        return WeekLine(
            name=week_name(day),
            label=IsoWeek(day, self.names.zone).label,
            verdict=str(VERDICTS[verdict]),
            is_well=verdict in ("holds", "empty", "waits"),
            lost=tuple(
                (self.names.session(one["pattern"]), (*lost_sentences(one, self.names), *self._dark(one, day)))
                for one in (row["lost"] if row else ())
            ),
            **named,
        )

    @cached_property
    def darkness(self) -> Darkness:
        return Darkness(self.viewer)

    def _dark(self, lost: Mapping[str, Any], monday: date) -> list[str]:
        """Of a session that finds no open venue in a week, what darkness takes of its venues' hours."""
        if lost.get("left_out") != LeftOut.NO_VENUE and all(one["rule"] != "window" for one in lost.get("because", ())):
            return []
        rows = [row for document in self.documents for row in document["patterns"] if row["id"] == lost["pattern"]]
        venues = {UUID(one) for row in rows for one in row["venues"]}
        return dark_sentences(self.darkness.of_week(IsoWeek(monday, self.names.zone), venues), self.names.zone)

    def _verdict(self, monday: str, row: Mapping[str, Any] | None) -> str:
        if row is None:
            return "waits" if self.is_open or not self.result.get("is_whole") else "empty"
        was_well = monday in self.result.get("held_before", ())
        return "lost" if row["verdict"] == "cannot" and was_well else row["verdict"]
