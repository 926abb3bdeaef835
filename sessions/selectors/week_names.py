"""What the ids in a week's plan are called, as far as the viewer may know."""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from athletes.access import answers_for
from athletes.models import Club, Person
from athletes.viewer import Viewer
from sessions.models import Demand, TrainingSession, Venue
from sessions.selectors.other_sports import days_of_items
from sessions.week_words import WeekNames, other_sport_words, session_words
from sessions.words import session_name
from teamtrack.common.composed import ComposedValues, Given

_VENUES = ComposedValues(lambda: Venue.objects.filter(club=Given("club", Club._meta.pk)).values_list("pk", "name"))


def week_names(
    *,
    viewer: Viewer,
    demands: Iterable[Demand],
    around: Iterable[TrainingSession] = (),
    person_ids: Iterable[str] = (),
    items: Iterable[str] = (),
) -> WeekNames:
    """Names of the week's sessions, all venues, and the given people; three queries beside the decision's own.

    Coaches and helpers of the sessions are named to whoever plans; athletes only where `record` and `availability`
    may be used. Of `items` those that are another sport of such an athlete are named by their day.
    """
    listed = list(demands)
    sessions = {str(demand.pk): session_words(demand.group.name, demand.kind, demand.also) for demand in listed}
    groups = {str(demand.group.pk): demand.group.name for demand in listed}
    coaches = {str(coach.pk): coach.full_name for demand in listed for coach in demand.coaches.all()}
    people = list(Person.objects.filter(club=viewer.club_id, pk__in={one for one in person_ids if one not in coaches}))
    answers = answers_for(viewer=viewer, athletes=people, purposes=["record", "availability"])
    known = answers.allowed_ids("record") & answers.allowed_ids("availability")
    sports = {item: other_sport_words(day) for item, day in days_of_items(viewer=viewer, items=items).items()}
    return WeekNames(
        zone=ZoneInfo(viewer.club.timezone),
        sessions=sessions | {str(one.pk): session_name(one) for one in around} | sports,
        venues={str(pk): name for pk, name in _VENUES.rows(club=viewer.club_id)},
        coaches=coaches,
        groups=groups,
        athletes={str(person.pk): person.full_name for person in people if person.pk in known},
    )
