"""What the Week page shows: the draft drawn and listed, the proposal beside it as moves with reasons."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import prefetch_related_objects
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from athletes.models import EventGroup
from athletes.viewer import Viewer
from sessions.core.iso_week import IsoWeek
from sessions.core.week_changes import Change
from sessions.models import Demand, DraftStep, Proposal, Publishing
from sessions.selectors.darkness import Darkness
from sessions.selectors.draft_week import DraftWeek
from sessions.selectors.other_sports import PersonsSports, other_sports_between
from sessions.selectors.planning_problem import LeftOut
from sessions.selectors.proposals import Standing, Trouble, standing_of
from sessions.selectors.publication import publication_of
from sessions.selectors.publishings import newest_publishing
from sessions.selectors.reported_efforts import hard_days
from sessions.selectors.season_week import policies_in_force, season_week
from sessions.selectors.week_adults import TooFewAdults, too_few_adults
from sessions.selectors.week_items import WeekItem, groups_of_club, published_items
from sessions.web.beside_season import BesideView, beside_view
from sessions.web.hard_sessions import no_longer_fresh
from sessions.web.week_picture import Elsewhere, WeekPicture, freshness, week_picture
from sessions.week_words import LEFT_OUT, WeekNames, change_sentence, dark_sentences, sport_time_words, when

TROUBLE: dict[Trouble, str | Promise] = {
    Trouble.NO_WORKER: _("No worker answers at the moment. The work begins by itself as soon as one does."),
    Trouble.WORKER_LOST: _("The worker was lost. Another one begins anew; the week is as it was."),
    Trouble.GIVEN_UP: _("The worker was lost three times, so this was given up. The week is as it was; ask again."),
}

SPORTS_ROUND = timedelta(days=4)
"""How far round the week another sport can be why somebody stays away: the longest usual separation and a day."""


@dataclass(frozen=True)
class WeekHead:
    """The week's name, its days, and the weeks beside it."""

    week: IsoWeek

    @property
    def label(self) -> str:
        return self.week.label

    @property
    def number(self) -> int:
        return self.week.number

    @property
    def span(self) -> str:
        """ "1 Mar – 7 Mar 2027"."""
        return f"{date_format(self.week.monday, 'j M')} – {date_format(self.week.sunday, 'j M Y')}"

    @property
    def before(self) -> str:
        return self._beside(-7)

    @property
    def after(self) -> str:
        return self._beside(7)

    def _beside(self, days: int) -> str:
        return IsoWeek(self.week.monday + timedelta(days=days), self.week.zone).label


@dataclass(frozen=True)
class Move:
    """One line of the proposal: a session, what changes, and why there."""

    demand: str
    name: str
    sentence: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Unplaced:
    """A demand without a place: what blocks it, and the single changes that would make it fit."""

    demand: str
    name: str
    because: tuple[str, ...]
    fits_if: tuple[str, ...] = ()


class PublishedView:
    """The published week as a coach reads it."""

    def __init__(self, viewer: Viewer, monday: date) -> None:
        self.viewer = viewer
        self.head = WeekHead(IsoWeek(monday, ZoneInfo(viewer.club.timezone)))

    @property
    def label(self) -> str:
        return self.head.label

    @cached_property
    def items(self) -> list[WeekItem]:
        return published_items(viewer=self.viewer, week=self.head.week)

    @cached_property
    def groups(self) -> list[EventGroup]:
        """Those of the club that train."""
        shown = {group for item in self.items for group in item.groups}
        return [group for group in groups_of_club(self.viewer) if group.pk in shown]

    @cached_property
    def lacks_adults(self) -> list[tuple[str, TooFewAdults]]:
        """The published sessions that would have too few adults, each with when it is."""
        return _lacking(self.viewer, self.head.week, self.items)

    @cached_property
    def sports(self) -> list[tuple[str, str]]:
        """Whose other sport lies in the week, and when, as far as the coach may know."""
        return _sports_in(_sports_around(self.viewer, self.head.week), self.head.week)

    @cached_property
    def picture(self) -> WeekPicture:
        week = self.head.week
        return week_picture(
            week=week, items=self.items, groups=self.groups, names=WeekNames(week.zone), now=self.viewer.now
        )


class DraftView:
    """The draft of the week, for the head coach."""

    def __init__(self, viewer: Viewer, monday: date) -> None:
        self.draft = DraftWeek(viewer, monday)
        self.head = WeekHead(self.draft.week)

    @property
    def viewer(self) -> Viewer:
        return self.draft.viewer

    @property
    def label(self) -> str:
        return self.draft.week.label

    @property
    def revision(self) -> int:
        return self.draft.revision

    @property
    def dates(self) -> str:
        """The week's days, as the script that moves sessions takes them."""
        return " ".join(day.isoformat() for day in self.draft.week.days)

    @property
    def published_when(self) -> str:
        return when(self.publishing.at, self.draft.week.zone) if self.publishing else ""

    @cached_property
    def groups(self) -> list[EventGroup]:
        return groups_of_club(self.viewer)

    @cached_property
    def items(self) -> list[WeekItem]:
        return self.draft.items_with(self.draft.places)

    @cached_property
    def picture(self) -> WeekPicture:
        return self.picture_of(self.items)

    def picture_of(self, items: Sequence[WeekItem]) -> WeekPicture:
        return week_picture(
            week=self.draft.week, items=items, groups=self.groups, names=self.draft.names, now=self.viewer.now,
            elsewhere=self.elsewhere,
        )  # fmt: skip

    @cached_property
    def elsewhere(self) -> Elsewhere:
        """Why somebody stays away; the rules in force are read only where anybody does another sport."""
        if not self.sports_around:
            return Elsewhere((), {})
        found = season_week(viewer=self.viewer, monday=self.draft.week.monday)
        policies = policies_in_force(phase=found.phase if found else None, groups=self.groups)
        return Elsewhere(self.sports_around, policies)

    @cached_property
    def sports_around(self) -> list[PersonsSports]:
        """What athletes do elsewhere in the week and in the days round it."""
        return _sports_around(self.viewer, self.draft.week)

    @property
    def sports(self) -> list[tuple[str, str]]:
        """Whose other sport lies in the week, and when."""
        return _sports_in(self.sports_around, self.draft.week)

    @cached_property
    def lacks_adults(self) -> list[tuple[str, TooFewAdults]]:
        """The sessions of the draft that would have too few adults, each with when it is."""
        return _lacking(self.viewer, self.draft.week, self.items)

    @cached_property
    def no_longer_fresh(self) -> list[str]:
        """What turned out hard, and the technique that now comes too soon after it."""
        days = hard_days(viewer=self.viewer, week=self.draft.week)
        return no_longer_fresh(days, self.items, self.groups, self.draft.week.zone) if days else []

    @cached_property
    def beside(self) -> BesideView | None:
        """What a change of the season left behind in the week."""
        return beside_view(self.viewer, self.draft.plan) if self.draft.demands and self.draft.plan else None

    @cached_property
    def steps(self) -> list[tuple[DraftStep, str]]:
        """What was done last, each with its day and time."""
        return [(step, when(step.at, self.draft.week.zone)) for step in self.draft.latest_steps]

    @cached_property
    def proposal(self) -> "ProposalView | None":
        found = self.draft.latest
        is_over = found is None or (found.state == Proposal.State.ACCEPTED and self.draft.solution is None)
        return ProposalView(self, found) if found is not None and not is_over else None

    @cached_property
    def publishing(self) -> Publishing | None:
        """The last publishing that stands; whether somebody acted on it is looked at when it is to be undone."""
        return newest_publishing(week=self.draft.plan) if self.draft.plan else None

    def demand(self, demand_id: UUID) -> Demand | None:
        """One demand of the week."""
        return next((demand for demand in self.draft.demands if demand.pk == demand_id), None)


class ProposalView:
    """The latest proposal beside the draft."""

    def __init__(self, view: DraftView, proposal: Proposal) -> None:
        self.view, self.draft, self.proposal = view, view.draft, proposal

    @cached_property
    def standing(self) -> Standing:
        return standing_of(self.proposal)

    @property
    def trouble(self) -> str:
        return str(TROUBLE[self.standing.trouble]) if self.standing.trouble else ""

    @property
    def is_ready(self) -> bool:
        return self.draft.solution is not None

    @property
    def is_proved(self) -> bool:
        return self.draft.solution is not None and self.draft.solution["status"] == "optimal"

    @property
    def figures(self) -> str:
        """What the best plan costs, and below which cost there is none, as far as is known; empty without a plan."""
        solved, told = self.draft.solution, self.proposal.progress
        cost, least = (solved["objective"], solved["bound"]) if solved else (told.get("best"), told.get("bound"))
        if cost is None:
            return ""
        if least is None:
            return gettext("The best plan so far costs %(cost)d.") % {"cost": cost}
        text = gettext("The best plan costs %(cost)d; there is none below %(least)d.")
        return text % {"cost": cost, "least": least}

    @cached_property
    def items(self) -> list[WeekItem]:
        return self.draft.items_with(self.draft.proposed)

    @cached_property
    def picture(self) -> WeekPicture:
        return self.view.picture_of(self.items)

    @cached_property
    def moves(self) -> list[Move]:
        return [self._move(change) for change in self.draft.proposed_changes]

    def _move(self, change: Change) -> Move:
        own = change.after.reasons if change.after else ()
        item = next((item for item in self.items if item.id == change.demand), None)
        fresh = freshness(item, self.items, self.draft.week.zone) if item else ""
        return Move(
            demand=change.demand,
            name=self.draft.names.session(change.demand),
            sentence=change_sentence(change, self.draft.names),
            reasons=tuple(map(self.draft.names.told, own)) or ((fresh,) if fresh else ()),
        )

    @cached_property
    def reach(self) -> int:
        """How many people taking it all over and publishing would tell."""
        assert self.draft.plan is not None
        found = publication_of(viewer=self.view.viewer, week=self.draft.plan, places=self.draft.proposed)
        return len(found.people)

    @cached_property
    def unplaced(self) -> list[Unplaced]:
        """What the plan leaves out, with its reasons, and what could not even be asked for."""
        if self.draft.solution is None:
            return []
        names, rows = self.draft.names, self.draft.solution["unplaced"]
        left_out = self.proposal.progress.get("left_out", {})
        shut = {row["demand"] for row in rows if any(one["rule"] == "window" for one in row["because"])}
        dark = self._dark(shut | {one for one, reason in left_out.items() if reason == LeftOut.NO_VENUE})
        told = [
            Unplaced(
                row["demand"],
                names.session(row["demand"]),
                (*_texts(names, row["because"]), *dark.get(row["demand"], ())),
                _texts(names, row["would_fit_if"]),
            )
            for row in rows
        ]
        return told + [
            Unplaced(one, names.session(one), (str(LEFT_OUT[reason]), *dark.get(one, ())))
            for one, reason in left_out.items()
        ]

    def _dark(self, wanted: Collection[str]) -> dict[str, list[str]]:
        """By demand that finds no open venue what darkness takes of its venues' hours, in sentences."""
        demands = [demand for demand in self.draft.demands if str(demand.pk) in wanted]
        if not demands:
            return {}
        prefetch_related_objects(demands, "venues")
        darkness, week = Darkness(self.view.viewer), self.draft.week
        return {
            str(demand.pk): dark_sentences(
                darkness.of_week(week, [venue.pk for venue in demand.venues.all()], demand.windows), week.zone
            )
            for demand in demands
        }


def _lacking(viewer: Viewer, week: IsoWeek, items: Sequence[WeekItem]) -> list[tuple[str, TooFewAdults]]:
    rows = too_few_adults(viewer=viewer, week=week, items=items)
    return [(when(one.item.starts_at, week.zone), one) for one in rows]


def _sports_around(viewer: Viewer, week: IsoWeek) -> list[PersonsSports]:
    return other_sports_between(viewer=viewer, first=week.monday - SPORTS_ROUND, last=week.sunday + SPORTS_ROUND)


def _sports_in(found: Sequence[PersonsSports], week: IsoWeek) -> list[tuple[str, str]]:
    """Each athlete's name with "Wed 17:00–18:30 hard, about 90 min"; those of the week alone."""
    told = []
    for one in found:
        own = [time for time in one.times if week.starts_at <= time.starts_at < week.ends_at]
        if own:
            told.append((one.athlete.full_name, "; ".join(sport_time_words(time, week.zone) for time in own)))
    return told


def _texts(names: WeekNames, rows: Sequence[Mapping[str, str]]) -> tuple[str, ...]:
    return tuple(names.told(row["text"]) for row in rows)
