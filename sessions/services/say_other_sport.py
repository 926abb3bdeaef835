"""Keeps that an athlete trains or plays another sport then, and takes it back; which sport is never asked."""

from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from athletes.access import get_athlete_and_answers
from athletes.models import Person
from athletes.models.accounts import Role
from athletes.services.access_log import Act, log_acts
from athletes.viewer import Viewer
from sessions.core.other_sports import HOURS
from sessions.models import OtherSport
from sessions.selectors.other_sports import said_other_sports
from teamtrack.common import words
from teamtrack.common.errors import Refused

WEEK = timedelta(weeks=1)
MOST_SAID = 40
"""How much may stand of one athlete at a time."""
MOST_WEEKS = 60
"""How long something may go on every week, and how far ahead it may begin."""


@dataclass(frozen=True)
class Sport:
    """What is said: on `first_day` and weekly up to `last_day`; a `part` of the day with about how many `minutes`, or
    the wall hours from `starts` to `ends`."""

    effort: str
    first_day: date
    last_day: date
    part: str = ""
    starts: time | None = None
    ends: time | None = None
    minutes: int = 0

    @property
    def hours(self) -> tuple[time, time]:
        """Its wall hours; a part of the day is kept free whole."""
        if self.part:
            return HOURS[self.part]
        assert self.starts is not None and self.ends is not None
        return self.starts, self.ends

    @property
    def length_min(self) -> int:
        if self.part:
            return self.minutes
        starts, ends = self.hours
        return 60 * (ends.hour - starts.hour) + ends.minute - starts.minute


@dataclass(frozen=True)
class SportSaid:
    """The row that stands now; what it said before, None where it is new; whether anything changed."""

    row: OtherSport
    before: Sport | None
    is_changed: bool


@transaction.atomic
def say_other_sport(*, viewer: Viewer, athlete_id: UUID, sport: Sport) -> SportSaid:
    """Keep it; said again of the same days and hours, the latest word about how hard and how long counts.

    Raises NotFound where the athlete is not the viewer's, Refused for a day that is past or too far ahead, an end
    before the start, and where too much stands already.
    """
    viewer.must_be(Role.ATHLETE, Role.GUARDIAN)
    athlete, code = _athlete(viewer, athlete_id)
    _check(viewer, sport)
    sport = replace(sport, last_day=sport.first_day + (sport.last_day - sport.first_day) // WEEK * WEEK)
    starts, ends = sport.hours
    same = OtherSport.objects.filter(
        athlete=athlete, first_day=sport.first_day, last_day=sport.last_day, starts=starts, ends=ends
    ).first()
    before = as_said(same) if same is not None else None
    if same is not None and before == sport:
        return SportSaid(same, before, False)
    if same is None and len(said_other_sports(viewer=viewer, athlete=athlete)) >= MOST_SAID:
        raise Refused("TOO_MANY", str(_("A lot stands here already. Take something back first; nothing was changed.")))
    row = same or OtherSport(
        club_id=viewer.club_id, athlete=athlete, first_day=sport.first_day, last_day=sport.last_day, starts=starts,
        ends=ends,
    )  # fmt: skip
    row.effort, row.part, row.minutes = sport.effort, sport.part, sport.length_min
    row.said_by, row.said_as, row.said_at = viewer.person, viewer.role, viewer.now
    row.save()
    log_acts(viewer=viewer, acts=[Act("record", "other_sport", athlete.pk, ("effort", "days", "hours"), code)])
    return SportSaid(row, before, True)


@transaction.atomic
def take_back_other_sport(*, viewer: Viewer, athlete_id: UUID, sport_id: UUID) -> Sport | None:
    """It is not so after all; what was said, None where it is gone already."""
    viewer.must_be(Role.ATHLETE, Role.GUARDIAN)
    athlete, code = _athlete(viewer, athlete_id)
    row = OtherSport.objects.filter(club=viewer.club_id, athlete=athlete, pk=sport_id).first()
    if row is None:
        return None
    OtherSport.objects.filter(pk=row.pk).delete()
    log_acts(viewer=viewer, acts=[Act("take_back", "other_sport", athlete.pk, ("effort", "days", "hours"), code)])
    return as_said(row)


def as_said(row: OtherSport) -> Sport:
    """A row as it was said."""
    if row.part:
        return Sport(row.effort, row.first_day, row.last_day, part=row.part, minutes=row.minutes)
    return Sport(row.effort, row.first_day, row.last_day, starts=row.starts, ends=row.ends)


def _athlete(viewer: Viewer, athlete_id: UUID) -> tuple[Person, str]:
    """The athlete, held until the end: two who say the same thing at once say it once."""
    athlete, answers = get_athlete_and_answers(viewer, athlete_id, ["availability"])
    Person.objects.select_for_update(no_key=True).get(pk=athlete.pk)
    return athlete, str(answers.answer(athlete.pk, "availability").code)


def _check(viewer: Viewer, sport: Sport) -> None:
    latest = viewer.today + timedelta(weeks=MOST_WEEKS)
    starts, ends = sport.hours
    wrong = {
        "first_day": _("That day is past.") if sport.first_day < viewer.today else "",
        "last_day": _("The last day has to be the first one or later.") if sport.last_day < sport.first_day else "",
        "ends": _("The end has to be after the start.") if ends <= starts else "",
    }
    if sport.last_day > latest:
        wrong["last_day"] = _("That is too far ahead: about a year at most.")
    told = {field: [str(text)] for field, text in wrong.items() if text}
    if told:
        raise Refused("CHECK_FIELDS", str(words.CHECK_FIELDS), fields=told)
