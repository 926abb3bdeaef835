"""The season of the invented club: forty weeks of phases, a pattern for each group, meets, weeks with a difference."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from sessions.core.iso_week import monday_of
from sessions.demo.layout import WEEK, SessionSpec

WEEKS = 40
WEEKS_GONE = 14
"""The club is made in the fifteenth week of its season."""


@dataclass(frozen=True)
class PhaseSpec:
    """A phase: its aim and weeks; `softened` says which kinds its pattern trains as another kind."""

    aim: str
    first_week: int
    last_week: int
    softened: tuple[tuple[str, str], ...] = ()
    least_priority: int = 1


PHASES: tuple[PhaseSpec, ...] = (
    PhaseSpec("general", 1, 9, (("hard", "moderate"),)),
    PhaseSpec("specific", 10, 20),
    PhaseSpec("competition", 21, 32),
    PhaseSpec("taper", 33, 35, (("moderate", "easy"),), 2),
    PhaseSpec("transition", 36, 40, (("hard", "easy"), ("moderate", "easy")), 2),
)


@dataclass(frozen=True)
class ModifierSpec:
    """A week that is not like the others, for the club or one squad."""

    week: int
    reason: str
    squad: str = ""
    most_sessions: int | None = None


MODIFIERS: tuple[ModifierSpec, ...] = (
    ModifierSpec(8, "holiday", most_sessions=3),
    ModifierSpec(19, "exam", "Under 18", 2),
    ModifierSpec(20, "exam", "Under 18", 2),
    ModifierSpec(24, "camp"),
    ModifierSpec(28, "travel", "Under 20", 3),
    ModifierSpec(34, "exam", "Under 16", 2),
)


@dataclass(frozen=True)
class MeetSpec:
    """A meet: so many weeks from the week in which the club is made, on a Saturday (5) or Sunday (6)."""

    weeks_ahead: int
    day: int
    title: str
    place: str
    groups: tuple[str, ...]
    importance: str = "ordinary"
    load_min: int = 45


MEETS: tuple[MeetSpec, ...] = (
    MeetSpec(-6, 5, "Autumn relays", "Saltmarsh Park", ("sprint", "hurdles", "teens"), "training"),
    MeetSpec(-3, 6, "Windmill cross-country", "Windmill Common", ("middle", "long"), "ordinary", 30),
    MeetSpec(1, 5, "Lantern open meeting", "Saltmarsh Park", ("teens",)),
    MeetSpec(5, 5, "Frostfield indoor", "Frostfield Hall", ("sprint", "hurdles", "middle"), "ordinary"),
    MeetSpec(9, 6, "Causeway trophy", "Causeway Ring", ("sprint", "hurdles", "middle", "long", "teens"), "main", 60),
    MeetSpec(14, 5, "Three Valleys league", "Saltmarsh Park", ("sprint", "hurdles", "middle", "long"), "main", 60),
)

AGREED_GROUP, AGREED_DAY = "young", 2
"""One technique session of next week is agreed already: an open evening of the youngest, on Wednesday."""


def first_monday(today: date) -> date:
    return monday_of(today) - timedelta(weeks=WEEKS_GONE)


def pattern_of(phase: PhaseSpec) -> Iterator[SessionSpec]:
    """The week's sessions as the phase trains them."""
    softer = dict(phase.softened)
    for spec in WEEK:
        if spec.priority >= phase.least_priority:
            yield replace(spec, kind=softer.get(spec.kind, spec.kind))
