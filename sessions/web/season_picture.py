"""The season drawn as a strip: weeks from left to right, phases as boxes, main meets, special weeks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.formats import date_format

from sessions.selectors.season_strip import SeasonStrip

WIDTH, TOP, HEIGHT = 1000.0, 24.0, 40.0
WIDTH_A_LETTER, ROOM_FOR_A_MONTH, BESIDE_MEET = 8.0, 36.0, 14.0


@dataclass(frozen=True)
class Box:
    """A phase: where it lies, and how far its end can be stretched; a name that is too long for it stays away."""

    id: str
    aim: str
    name: str
    own_name: str
    shown: str
    x: float
    width: float
    text_x: float
    end_x: float
    first_week: int
    last_week: int
    most_week: int


@dataclass(frozen=True)
class Mark:
    """Something in one week: the first of a month, a main meet, a special week, this week."""

    x: float
    text: str


@dataclass(frozen=True)
class MeetMark:
    """A main meet; its name stands on the side that has room for it, else it stays away."""

    x: float
    shown: str
    text_x: float
    anchor: str


@dataclass(frozen=True)
class SeasonPicture:
    """The whole strip, in units of its own."""

    boxes: tuple[Box, ...]
    months: tuple[Mark, ...]
    meets: tuple[MeetMark, ...]
    special: tuple[Mark, ...]
    now: float | None
    week_width: float
    weeks: int


def season_picture(strip: SeasonStrip) -> SeasonPicture:
    """Where everything lies."""
    width = WIDTH / strip.season.weeks
    weeks = strip.weeks
    months = [
        Mark((week.number - 1) * width, date_format(week.week.monday, "M"))
        for number, week in enumerate(weeks)
        if number == 0 or week.week.monday.month != weeks[number - 1].week.monday.month
        if WIDTH - number * width > ROOM_FOR_A_MONTH
    ]
    return SeasonPicture(
        boxes=tuple(_boxes(strip, width)),
        months=tuple(months),
        meets=tuple(_meets([((one.number - 0.5) * width, meet.title) for one in weeks for meet in one.meets])),
        special=tuple(
            Mark((one.number - 0.5) * width, one.modifiers[0].get_reason_display()) for one in weeks if one.modifiers
        ),
        now=next(((one.number - 1) * width for one in weeks if one.is_now), None),
        week_width=round(width, 3),
        weeks=strip.season.weeks,
    )


def _meets(found: Sequence[tuple[float, str]]) -> Iterator[MeetMark]:
    """Names are written to the right, before the next meet or the end of the season; else to the left."""
    taken = 0.0
    for number, (x, name) in enumerate(found):
        ends = found[number + 1][0] - BESIDE_MEET if number + 1 < len(found) else WIDTH
        wide = len(name) * WIDTH_A_LETTER
        right, left = x + BESIDE_MEET, x - BESIDE_MEET
        if right + wide <= ends:
            yield MeetMark(x, name, round(right, 2), "start")
            taken = right + wide
        elif left - wide >= taken:
            yield MeetMark(x, name, round(left, 2), "end")
            taken = right
        else:
            yield MeetMark(x, "", 0, "start")
            taken = right


def _boxes(strip: SeasonStrip, width: float) -> list[Box]:
    phases = [pattern.phase for pattern in strip.patterns]
    found = []
    for number, phase in enumerate(phases):
        after = phases[number + 1] if number + 1 < len(phases) else None
        x, wide = (phase.first_week - 1) * width, (phase.last_week - phase.first_week + 1) * width
        name = str(phase)
        found.append(
            Box(
                id=str(phase.pk),
                aim=phase.aim,
                name=name,
                own_name=phase.name,
                shown=name if len(name) * WIDTH_A_LETTER < wide else "",
                x=round(x, 2),
                width=round(wide, 2),
                text_x=round(x + wide / 2, 2),
                end_x=round(x + wide, 2),
                first_week=phase.first_week,
                last_week=phase.last_week,
                most_week=after.last_week - 1 if after else strip.season.weeks,
            )
        )
    return found
