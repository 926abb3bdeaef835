"""What is fixed about the invented club: groups, venues, staff and the shape of a training week.

Days of the week are counted from an anchor, the weekday of the day on which the club is made, so that its sprinters
work on technique on that day. Loads and gaps are common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from typing import Any

CLUB_NAME = "Chalk Lane AC"
ZONE, COUNTRY, EMERGENCY = "Europe/Dublin", "IE", "112"

SPRINT, HURDLES, MIDDLE, LONG, YOUNG, TEENS = "sprint", "hurdles", "middle", "long", "young", "teens"


@dataclass(frozen=True)
class GroupSpec:
    """An event group, its defaults at the trackside, and its policy for the planner."""

    name: str
    discipline: str
    strides: int
    rest_s: int
    run_m: int
    effort_pct: tuple[int, int] | None = None
    effort_words: str = ""
    policy: Mapping[str, Any] = field(default_factory=dict)


GROUPS: Mapping[str, GroupSpec] = {
    SPRINT: GroupSpec("Sprint", "sprint", 8, 240, 60, (80, 90), "", {"rest_days_per_week": 1, "fresh_after_h": 48}),
    HURDLES: GroupSpec("Hurdles", "sprint", 8, 240, 60, (80, 90), "", {"ideal_between_technique_h": 66}),
    MIDDLE: GroupSpec("800 and 1500", "distance", 8, 180, 80, None, "finishing pace, then race pace"),
    LONG: GroupSpec("Longer distance", "distance", 6, 180, 80, None, "race pace", {"fresh_after_h": 40}),
    YOUNG: GroupSpec("Youth 10 to 12", "youth", 6, 120, 50, None, "", {"rest_days_per_week": 2}),
    TEENS: GroupSpec("Youth 13 to 15", "youth", 7, 150, 60, (70, 85), "", {"rest_days_per_week": 2}),
}


@dataclass(frozen=True)
class VenueSpec:
    """A venue; `shut_on` are days from the anchor on which it is not the club's."""

    name: str
    lanes: int
    straight_m: int
    latitude: float
    longitude: float
    has_lights: bool = True
    is_shared: bool = False
    shut_on: tuple[int, ...] = ()


MEADOW, KILN, HERON = "meadow", "kiln", "heron"
VENUES: Mapping[str, VenueSpec] = {
    MEADOW: VenueSpec("Long Meadow straight", 8, 130, 53.4, -7.9),
    KILN: VenueSpec("Kiln Yard track", 6, 120, 53.42, -7.93, is_shared=True, shut_on=(0, 3)),
    HERON: VenueSpec("Heron Field", 6, 140, 53.38, -7.88, has_lights=False),
}


@dataclass(frozen=True)
class StaffSpec:
    """Somebody who works for the club: roles, age, groups assigned to, evenings counted from the anchor."""

    username: str
    given: str
    family: str
    age: int
    roles: tuple[str, ...]
    groups: tuple[str, ...] = ()
    evenings: tuple[int, ...] = ()
    first_aid_days_left: int = 420


HELPER, PARENT_COACH = "piet.marrow", "mette.oxbow"
STAFF: tuple[StaffSpec, ...] = (
    StaffSpec("hedda.vantage", "Hedda", "Vantage", 52, ("head_coach",)),
    StaffSpec("rona.vale", "Rona", "Vale", 38, ("coach",), (SPRINT, TEENS), (0, 1, 3, 4, 5, 6)),
    StaffSpec("bran.holloway-tay", "Bran", "Holloway-Tay", 44, ("coach",), (SPRINT,), (0, 1, 2, 3, 6)),
    StaffSpec(HELPER, "Piet", "Marrow", 16, ("coach",), (SPRINT, TEENS), (0, 3, 5)),
    StaffSpec("sunniva.cole-ash", "Sunniva", "Cole-Ash", 31, ("coach",), (HURDLES, YOUNG), (0, 1, 2, 4, 6)),
    StaffSpec("odo.bramwick", "Odo", "Bramwick", 57, ("coach",), (HURDLES,), (2, 6)),
    StaffSpec(
        "ines.farrow-dell", "Ines", "Farrow-Dell", 35, ("head_coach", "coach"), (MIDDLE, LONG), (1, 2, 3, 4, 5, 6)
    ),
    StaffSpec("lorcan.stile", "Lorcan", "Stile", 48, ("coach",), (MIDDLE, LONG), (0, 1, 2, 4, 5, 6)),
    StaffSpec(PARENT_COACH, "Mette", "Oxbow", 42, ("coach",), (YOUNG, TEENS), (1, 3, 4, 5), 19),
    StaffSpec("ada.inglewick", "Ada", "Inglewick", 61, ("admin",)),
    StaffSpec("wilma.sedge", "Wilma", "Sedge", 55, ("welfare",)),
    StaffSpec("otis.penhallow-ray", "Otis", "Penhallow-Ray", 47, ("welfare",)),
)


@dataclass(frozen=True)
class SessionSpec:
    """One session of a group's week: day from the anchor, kind, length, lanes, how many lead, venues by preference."""

    group: str
    day: int
    kind: str
    minutes: int
    venues: tuple[str, ...]
    lanes: int = 2
    observers: int = 1
    also: tuple[str, ...] = ()
    with_helper: bool = False
    priority: int = 2


TRACK, BOTH, ANY = (MEADOW,), (MEADOW, KILN), (MEADOW, KILN, HERON)

# Hard days stand 46 h before technique at least where both are evenings; technique is at least two days from technique.
WEEK: tuple[SessionSpec, ...] = (
    SessionSpec(SPRINT, 0, "technique", 75, TRACK, 3, 3, with_helper=True, priority=3),
    SessionSpec(SPRINT, 1, "hard", 75, TRACK, 4, 2),
    SessionSpec(SPRINT, 3, "technique", 75, BOTH, 3, 3, also=("easy",), with_helper=True, priority=3),
    SessionSpec(SPRINT, 4, "hard", 75, BOTH, 3),
    SessionSpec(SPRINT, 6, "easy", 60, TRACK, priority=1),
    SessionSpec(HURDLES, 2, "technique", 75, BOTH, 3, 2, priority=3),
    SessionSpec(HURDLES, 4, "hard", 75, BOTH, 3),
    SessionSpec(HURDLES, 6, "technique", 60, BOTH, 3, 2, priority=3),
    SessionSpec(MIDDLE, 1, "technique", 60, BOTH, 3, 2, priority=3),
    SessionSpec(MIDDLE, 2, "easy", 60, ANY),
    SessionSpec(MIDDLE, 3, "hard", 75, BOTH, 3),
    SessionSpec(MIDDLE, 5, "technique", 60, BOTH, 3, 2, also=("easy",), priority=3),
    SessionSpec(MIDDLE, 6, "moderate", 75, (KILN, MEADOW)),
    SessionSpec(LONG, 0, "easy", 60, TRACK, priority=1),
    SessionSpec(LONG, 2, "hard", 75, ANY, 2),
    SessionSpec(LONG, 4, "technique", 60, BOTH, 2, 2, priority=3),
    SessionSpec(LONG, 6, "hard", 75, ANY, 2),
    SessionSpec(YOUNG, 1, "technique", 60, (KILN, MEADOW), 2, 2, priority=3),
    SessionSpec(YOUNG, 4, "moderate", 60, (KILN, MEADOW)),
    SessionSpec(TEENS, 3, "moderate", 60, BOTH),
    SessionSpec(TEENS, 5, "technique", 60, (KILN, MEADOW), 2, 3, with_helper=True, priority=3),
)

WEEKDAY_OPEN, WEEKEND_OPEN = (time(17), time(21)), (time(9), time(13))
SATURDAY = 6


def weekday_of(day: int, anchor: int) -> int:
    """ISO weekday (1 to 7) of a day counted from the anchor's ISO weekday."""
    return (anchor - 1 + day) % 7 + 1


def hours_of(weekday: int) -> tuple[time, time]:
    """When training happens: evenings, and mornings at the weekend."""
    return WEEKEND_OPEN if weekday >= SATURDAY else WEEKDAY_OPEN


def usual_start(spec: SessionSpec, weekday: int) -> time:
    """Younger groups begin earlier."""
    if weekday >= SATURDAY:
        return time(9, 30) if spec.group == YOUNG else time(10)
    return time(17, 30) if spec.group in (YOUNG, TEENS) else time(18)
