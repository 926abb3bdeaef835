"""What the week's plan says in sentences: sessions, what changed, which rule is broken and for whom."""

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.text import get_text_list
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sessions.core.other_sports import SportTime
from sessions.core.planner.faults import ProblemFaults
from sessions.core.planner.limits import Code
from sessions.core.planner.rules import Broken
from sessions.core.week_changes import Aspect, Change, Place
from sessions.models.season import Kind
from sessions.selectors.darkness import Dark
from teamtrack.common.by_language import by_language

Label = str | Promise
MOST_NAMES = 6
ID = re.compile(r"([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})(?:-hard|-min\d+)?")
"""An id as the planner's sentences hold it; a session of which some attend a part of their own keeps its name."""

RULES: dict[Code, Label] = {
    Code.PLACED_TWICE: _("it stands in the week twice"),
    Code.OFF_GRID: _("starts lie on full quarters of an hour"),
    Code.OUTSIDE_WINDOWS: _("outside the hours in which it may lie"),
    Code.VENUE_NOT_LISTED: _("not at one of its venues"),
    Code.VENUE_CLOSED: _("the venue is not open, or without light, for all of it"),
    Code.COACH_NOT_LISTED: _("not one of its coaches"),
    Code.COACH_NOT_AVAILABLE: _("the coach cannot come then"),
    Code.OBSERVERS_COUNT: _("another number of coaches than it needs"),
    Code.NONE_QUALIFIED: _("nobody among the coaches may lead it alone"),
    Code.COACH_BUSY: _("the coach leads something else then"),
    Code.COACH_TRAVELS: _("too little time for the coach to get from one venue to the other"),
    Code.COACH_DAY_FULL: _("more sessions on one day than the coach takes on"),
    Code.LANES_FULL: _("not enough lanes"),
    Code.ALL_AWAY: _("nobody of the group can come"),
    Code.EXCUSED_WITHOUT_PLACE: _("excused, but not among those who could come"),
    Code.TOO_MANY_EXCUSED: _("more excused than the group's rule allows"),
    Code.EXCUSALS_USED_UP: _("excused too often this week"),
    Code.UNAVAILABLE: _("not coming at that time"),
    Code.OVERLAP: _("two sessions at once"),
    Code.TOO_SOON: _("too few hours after the session before, or before the next one"),
    Code.DAY_FULL: _("more sessions on one day than the rule allows"),
    Code.NO_REST_DAY: _("no rest day would be left"),
    Code.TOO_MANY_MINUTES: _("more minutes in the week than the athlete's limit"),
}
LEFT_OUT: dict[str, Label] = {
    "over": _("its days of this week have passed"),
    "no_venue": _("none of its venues is open long enough"),
    "no_leader": _("nobody who may lead it: no adult coach with a check that holds all week"),
    "too_few_coaches": _("fewer coaches may lead it than it needs"),
    "too_short": _("none of its straights is long enough for the group's strides with roll-in and run-out"),
}


@dataclass(frozen=True)
class WeekNames:
    """What ids are called; an athlete whom the viewer may not know by name is missing and only counted."""

    zone: ZoneInfo
    sessions: Mapping[str, str] = field(default_factory=dict)
    venues: Mapping[str, str] = field(default_factory=dict)
    coaches: Mapping[str, str] = field(default_factory=dict)
    athletes: Mapping[str, str] = field(default_factory=dict)
    groups: Mapping[str, str] = field(default_factory=dict)

    def told(self, sentence: str) -> str:
        """A sentence of the planner, which knows ids alone, with names in their place."""
        return ID.sub(lambda found: self._named(found.group(1)), sentence)

    def _named(self, one: str) -> str:
        for names in (self.sessions, self.venues, self.coaches, self.groups, self.athletes):
            if one in names:
                return names[one]
        return gettext("somebody")

    def session(self, session_id: str) -> str:
        return self.sessions.get(session_id, gettext("another session"))

    def people(self, ids: Iterable[str], why: Mapping[str, str] | None = None) -> str:
        """Coaches and athletes by name, each with what `why` says of the id."""
        wanted = list(ids)
        named = ((one, self.athletes.get(one) or self.coaches.get(one)) for one in wanted)
        known = [f"{name} ({why[one]})" if why and one in why else name for one, name in named if name]
        shown = sorted(known)[:MOST_NAMES]
        more = len(wanted) - len(shown)
        rest = [ngettext("%(count)d more", "%(count)d more", more) % {"count": more}] if more and shown else []
        if not shown:
            return ngettext("%(count)d person", "%(count)d people", more) % {"count": more}
        return joined([*shown, *rest])


def joined(words: Sequence[str]) -> str:
    """ "a, b and c"."""
    return str(get_text_list(list(words), gettext("and")))


def kind_words(kind: str, also: Sequence[str]) -> str:
    """ "technique, then moderate"."""
    return _kind_words(kind, tuple(also))


@by_language
def _kind_words(kind: str, also: tuple[str, ...]) -> str:
    words = [str(Kind(one).label) for one in (kind, *also)]
    return gettext(", then ").join(words)


def session_words(group: str, kind: str, also: Sequence[str]) -> str:
    """What a demand is called: its group and kind."""
    return f"{group} {kind_words(kind, also)}"


def other_sport_words(day: date) -> str:
    """ "other sport Wed"."""
    return gettext("other sport %(day)s") % {"day": date_format(day, "D")}


def sport_time_words(one: SportTime, zone: ZoneInfo) -> str:
    """ "Wed 17:00–18:30, hard, about 90 min"."""
    told = {
        "when": when(one.starts_at, zone),
        "until": f"{one.ends_at.astimezone(zone):%H:%M}",
        "effort": Kind(one.effort).label,
        "minutes": one.minutes,
    }
    return gettext("%(when)s–%(until)s, %(effort)s, about %(minutes)d min") % told


@by_language
def when(moment: datetime, zone: ZoneInfo) -> str:
    """Day and time on the club's clock: "Tue 18:00"."""
    return str(date_format(moment.astimezone(zone), "D H:i"))


def change_sentence(change: Change, names: WeekNames) -> str:
    """One session's change in words, without its name."""
    if change.before is None:
        assert change.after is not None
        place = gettext("new: %(place)s") % {"place": _whole(change.after, names)}
        return "; ".join([place, *_who(None, change.after, names)])
    if change.after is None:
        return gettext("taken out: was %(place)s") % {"place": _whole(change.before, names)}
    return "; ".join(_parts(change.aspects, change.before, change.after, names))


def _whole(place: Place, names: WeekNames) -> str:
    venue = names.venues.get(place.venue, "")
    return gettext("%(when)s at %(venue)s with %(coaches)s") % {
        "when": when(place.starts_at, names.zone),
        "venue": venue,
        "coaches": names.people(place.coaches),
    }


def _parts(aspects: Collection[Aspect], before: Place, after: Place, names: WeekNames) -> Iterable[str]:
    if Aspect.DAY in aspects or Aspect.TIME in aspects:
        yield gettext("%(old)s to %(new)s") % {
            "old": when(before.starts_at, names.zone),
            "new": when(after.starts_at, names.zone),
        }
    if Aspect.VENUE in aspects:
        yield gettext("now at %(venue)s") % {"venue": names.venues.get(after.venue, "")}
    if Aspect.COACHES in aspects:
        yield gettext("now with %(coaches)s") % {"coaches": names.people(after.coaches)}
    if Aspect.WHO in aspects:
        yield from _who(before, after, names)


def _who(before: Place | None, after: Place, names: WeekNames) -> Iterable[str]:
    absent, easier = (before.absent, before.easier) if before else (frozenset(), frozenset())
    for text, people in (
        (gettext("stays away: %(people)s"), (after.absent - after.easier) - (absent - easier)),
        (gettext("easier version: %(people)s"), after.easier - easier),
        (gettext("comes after all: %(people)s"), absent - after.absent),
    ):
        if people:
            yield text % {"people": names.people(people)}


def broken_sentence(broken: Broken, names: WeekNames, starts: Mapping[str, datetime]) -> str:
    """Which session breaks which rule, for whom, because of what on which day; `starts`: when the others begin."""
    text = f"{names.session(broken.demand)}: {RULES[broken.code]}"
    people = broken.athletes or broken.coaches
    if people:
        text = gettext("%(text)s (%(people)s)") % {"text": text, "people": names.people(people)}
    if broken.others:
        days = {one: date_format(starts[one].astimezone(names.zone), "D") for one in broken.others if one in starts}
        others = joined(sorted({f"{names.session(one)} {days.get(one, '')}".strip() for one in broken.others}))
        text = gettext("%(text)s, because of %(others)s") % {"text": text, "others": others}
    return f"{text}."


def dark_sentences(found: Sequence[Dark], zone: ZoneInfo) -> list[str]:
    """By venue on which days it is dark from or until when: "Straight B has no lights: dark from 16:32 on Tue." """
    by_venue: dict[str, list[str]] = defaultdict(list)
    for one in found:
        by_venue[one.venue].append(_dark_words(one, zone))
    text = gettext("%(venue)s has no lights: dark %(times)s.")
    return [text % {"venue": venue, "times": ", ".join(times)} for venue, times in by_venue.items()]


def _dark_words(dark: Dark, zone: ZoneInfo) -> str:
    said = {"day": date_format(dark.day, "D")} | {
        name: date_format(moment.astimezone(zone), "H:i")
        for name, moment in (("until", dark.until), ("since", dark.since))
        if moment is not None
    }
    if dark.until and dark.since:
        return gettext("until %(until)s and from %(since)s on %(day)s") % said
    if dark.until:
        return gettext("until %(until)s on %(day)s") % said
    return (gettext("from %(since)s on %(day)s") if dark.since else gettext("all of %(day)s")) % said


def data_fault(faults: ProblemFaults) -> str:
    """What does not fit together in a week's data: the first fault."""
    return gettext("The week's data do not fit together: %(fault)s") % {"fault": faults.faults[0]}
