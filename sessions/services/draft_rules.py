"""A week's draft against the planner's own rules: the same check for a hand's move and for a part of a proposal."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext

from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.other_sports import said_of
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.limits import Code
from sessions.core.planner.reading import read_problem
from sessions.core.planner.rules import Broken, RuleBook
from sessions.core.week_changes import Place
from sessions.models import TrainingSession, WeekPlan
from sessions.selectors.darkness import Darkness
from sessions.selectors.planning_problem import as_session, build_problem
from sessions.selectors.week_draft import demands_of
from sessions.selectors.week_names import week_names
from sessions.week_words import broken_sentence, dark_sentences, data_fault
from teamtrack.common.errors import Refused

OF_ONE_ATHLETE = frozenset(
    {Code.UNAVAILABLE, Code.OVERLAP, Code.TOO_SOON, Code.DAY_FULL, Code.NO_REST_DAY, Code.TOO_MANY_MINUTES}
)


class DraftRules:
    """The rules of one week as it stands now, for whoever plans it."""

    def __init__(self, *, viewer: Viewer, week: WeekPlan, book: RuleBook | None = None) -> None:
        self.viewer, self.week = viewer, week
        self.book = book or rule_book(viewer=viewer, week=week)

    def knows(self, demand: str) -> bool:
        """Whether the demand can still be placed: its session has not begun, and venues and coaches are there."""
        return demand in self.book.problem.demands

    def away(self, demand: str) -> frozenset[str]:
        return frozenset(self.book.attendance.away[demand])

    def broken(self, places: Mapping[str, Place]) -> list[Broken]:
        """What is broken by the places of demands that can still be placed."""
        return self.book.broken(place.as_placement(key) for key, place in places.items() if self.knows(key))

    def hindered(self, demand: str, places: Mapping[str, Place]) -> frozenset[str]:
        """The athletes who cannot come to this demand where it lies in `places`."""
        found = [one for one in self.broken(places) if one.demand == demand and one.code in OF_ONE_ATHLETE]
        return frozenset(athlete for one in found for athlete in one.athletes)

    def breaks_new(self, *, before: Mapping[str, Place], after: Mapping[str, Place]) -> list[Broken]:
        """What is broken by `after` and was not by `before`."""
        known = set(self.broken(before))
        return [one for one in self.broken(after) if one not in known]

    def refuse_new(self, *, before: Mapping[str, Place], after: Mapping[str, Place]) -> None:
        """Refused, in words that name rule and people, where `after` breaks something that `before` did not."""
        broken = self.breaks_new(before=before, after=after)
        if broken:
            raise Refused(
                "RULES_BROKEN",
                gettext("That would break a rule of the plan. Nothing was changed."),
                fields={"rules": self._sentences(broken, after)},
            )

    def _sentences(self, broken: list[Broken], places: Mapping[str, Place]) -> list[str]:
        broken = [replace(found, others=tuple(map(as_session, found.others))) for found in broken]
        people = {one for found in broken for one in (*found.athletes, *found.coaches)}
        others = {one for found in broken for one in found.others}
        sessions = {UUID(one) for one in others if said_of(one) is None}
        around = TrainingSession.objects.filter(club=self.viewer.club_id, pk__in=sessions).prefetch_related("groups")
        names = week_names(
            viewer=self.viewer, demands=demands_of(self.week), around=around, person_ids=people, items=others
        )
        starts = {str(one.pk): one.starts_at for one in around} | {key: one.starts_at for key, one in places.items()}
        told = [broken_sentence(found, names, starts) for found in each_pair_once(broken)]
        shut = [places[found.demand] for found in broken if found.code is Code.VENUE_CLOSED]
        return list(dict.fromkeys([*told, *self._dark(shut)]))

    def _dark(self, places: Collection[Place]) -> list[str]:
        """What darkness takes of the venues' hours on the days of these places, in sentences."""
        if not places:
            return []
        darkness, week = Darkness(self.viewer), IsoWeek(self.week.monday, ZoneInfo(self.viewer.club.timezone))
        found = [
            dark
            for place in places
            for dark in darkness.of_week(week, [UUID(place.venue)])
            if dark.day == place.starts_at.astimezone(week.zone).date()
        ]
        return dark_sentences(found, week.zone)


def rule_book(*, viewer: Viewer, week: WeekPlan) -> RuleBook:
    """The planner's rules for the week's data as they are now; Refused where these do not fit together."""
    document = build_problem(viewer=viewer, week=week).document
    try:
        return RuleBook(read_problem(document))
    except ProblemFaults as faults:
        raise Refused("BAD_DATA", data_fault(faults)) from None


def each_pair_once(broken: Sequence[Broken]) -> list[Broken]:
    """Without the second of two that say the same of two sessions, each from its own side."""
    seen: set[tuple[Code, frozenset[str], frozenset[str]]] = set()
    found = []
    for one in broken:
        key = (one.code, frozenset({one.demand, *one.others}), frozenset(one.athletes + one.coaches))
        if key not in seen:
            found.append(one)
        seen.add(key)
    return found
