"""Writes what some athletes of the invented club do in other sports, from the middle of next week on."""

from datetime import time, timedelta

from athletes.models import Person
from sessions.core.iso_week import monday_of
from sessions.core.other_sports import HOURS
from sessions.demo.weeks import Filling
from sessions.models import OtherSport

FIRST = 4
"""So many athletes, by name, are away on an evening of next week; those after them do another sport."""
WEDNESDAY, FRIDAY, SATURDAY = 2, 4, 5


def write_other_sports(filling: Filling) -> None:
    """A hard evening every week, a match on one Saturday, an easy afternoon every week: each of another athlete."""
    viewer = filling.viewer
    people = Person.objects.filter(club=viewer.club_id, account__isnull=False, memberships__isnull=False)
    ordered = people.order_by("family_name", "given_name")[FIRST : FIRST + 3]
    said = (
        (WEDNESDAY, 8, "hard", "evening", HOURS["evening"], 90),
        (SATURDAY, 0, "moderate", "", (time(10), time(11, 30)), 90),
        (FRIDAY, 8, "easy", "afternoon", HOURS["afternoon"], 60),
    )
    monday = monday_of(viewer.today) + timedelta(weeks=1)
    midnight = filling.week(monday_of(viewer.today)).at(viewer.today, time())
    OtherSport.objects.bulk_create(
        OtherSport(
            club_id=viewer.club_id,
            athlete=person,
            effort=effort,
            first_day=monday + timedelta(days=day),
            last_day=monday + timedelta(days=day, weeks=weeks),
            part=part,
            starts=hours[0],
            ends=hours[1],
            minutes=minutes,
            said_by=person,
            said_as="athlete",
            said_at=midnight - timedelta(hours=4),
        )
        for person, (day, weeks, effort, part, hours, minutes) in zip(ordered, said, strict=False)
    )
