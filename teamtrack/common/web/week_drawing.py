"""Geometry of the drawn week: groups by days to the scale of hours, with the gaps written."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext

NAME_WIDTH, DAY_WIDTH, DAY_PADDING = 124, 128, 4
HEAD_HEIGHT, ROW_HEIGHT = 26, 92
BLOCK_TOP, BLOCK_HEIGHT, BLOCK_MIN_WIDTH, NOTCH, INSET = 8, 28, 12, 6, 3
FIRST_LINE, LINE_STEP, GAP_TOP, TICK = 50, 14, 78, 4
GAP_TEXT_HALF, LETTER_WIDTH, GROUND_HEIGHT = 22, 7.6, 16
MOST_LETTERS, MOST_NAME_LINES = 15, 3
MINUTES_PER_HOUR = 60


@dataclass(frozen=True)
class Block:
    """One session: day 0 is the first column; minutes are of that day, by the club's clock. With a `handle` it can be
    taken hold of and moved; `name` is read out then."""

    day: int
    starts_min: int
    ends_min: int
    kind: str
    word: str
    time: str
    handle: str = ""
    name: str = ""


@dataclass(frozen=True)
class Gap:
    """The recovery from one session's end to the next one's start; `text` says it, as in "46 h"."""

    from_day: int
    from_min: int
    till_day: int
    till_min: int
    text: str


@dataclass(frozen=True)
class GroupRow:
    """An event group's sessions and gaps, in order of time."""

    name: str
    blocks: Sequence[Block]
    gaps: Sequence[Gap]


@dataclass(frozen=True)
class DrawnDay:
    """A column's head and its line."""

    label: str
    x: int
    line_x: int


@dataclass(frozen=True)
class Line:
    """A line of text under a block."""

    text: str
    y: int


@dataclass(frozen=True)
class DrawnBlock:
    """A block with its place; `points` is its outline where the edge is notched."""

    kind: str
    word: str
    time: str
    day_label: str
    gap_after: str
    x: float
    y: int
    width: float
    lines: tuple[Line, ...]
    text_x: float
    height: int = BLOCK_HEIGHT
    handle: str = ""
    name: str = ""
    day: int = 0
    starts_min: int = 0

    @property
    def spoken(self) -> str:
        """What it is and how it is moved, where it can be taken hold of."""
        text = gettext(
            "%(name)s, %(day)s %(time)s. Arrows: a quarter of an hour; with shift: a day. Enter asks, Escape leaves."
        )
        return text % {"name": self.name, "day": self.day_label, "time": self.time}

    @property
    def box(self) -> SafeString:
        """Its rectangle as the drawing's attributes."""
        return _box(self.x, self.y, self.width, self.height)

    @property
    def inner_box(self) -> SafeString:
        """The inner line of a double edge."""
        return _box(self.x + INSET, self.y + INSET, self.width - 2 * INSET, self.height - 2 * INSET)

    @property
    def points(self) -> str:
        """A pennant: both short sides notched."""
        right, middle, bottom = self.x + self.width, self.y + self.height / 2, self.y + self.height
        corners = [
            (self.x, middle),
            (self.x + NOTCH, self.y),
            (right, self.y),
            (right - NOTCH, middle),
            (right, bottom),
            (self.x + NOTCH, bottom),
        ]
        return " ".join(f"{x:g},{y:g}" for x, y in corners)


@dataclass(frozen=True)
class DrawnGap:
    """A gap's line with a tick at either end, and its text in the middle."""

    text: str
    path: str
    text_x: float
    text_y: int
    ground_x: float
    ground_y: int
    ground_width: int = 2 * GAP_TEXT_HALF

    @property
    def ground_box(self) -> SafeString:
        """What keeps the line from running through its text."""
        return _box(self.ground_x, self.ground_y, self.ground_width, GROUND_HEIGHT)


@dataclass(frozen=True)
class DrawnRow:
    """A group's band."""

    name_lines: tuple[Line, ...]
    name: str
    y: int
    blocks: tuple[DrawnBlock, ...]
    gaps: tuple[DrawnGap, ...]


@dataclass(frozen=True)
class DrawnWeek:
    """All that the template needs."""

    width: int
    height: int
    days: tuple[DrawnDay, ...]
    rows: tuple[DrawnRow, ...]
    opens_min: int
    closes_min: int
    first_column: int = NAME_WIDTH
    column: int = DAY_WIDTH
    padding: int = DAY_PADDING

    @property
    def is_movable(self) -> bool:
        """Whether any session can be taken hold of."""
        return any(block.handle for row in self.rows for block in row.blocks)


@dataclass(frozen=True)
class _Scale:
    """From a minute of a day to a place: each column shows the same hours of its day."""

    opens_min: int
    closes_min: int

    def x(self, day: int, minute: int) -> float:
        share = (minute - self.opens_min) / (self.closes_min - self.opens_min)
        inner = DAY_WIDTH - 2 * DAY_PADDING
        return round(_column(day) + DAY_PADDING + share * inner, 1)


def _box(x: float, y: float, width: float, height: float) -> SafeString:
    return format_html('x="{}" y="{}" width="{}" height="{}"', f"{x:g}", f"{y:g}", f"{width:g}", f"{height:g}")


def _column(day: int) -> int:
    """The left line of a day's column."""
    return NAME_WIDTH + day * DAY_WIDTH


def week_drawing(*, days: Sequence[str], rows: Sequence[GroupRow]) -> DrawnWeek:
    """The week's drawing. `days`: labels of the columns; every block and gap lies in one of them."""
    scale = _scale(rows)
    return DrawnWeek(
        width=NAME_WIDTH + len(days) * DAY_WIDTH,
        height=HEAD_HEIGHT + len(rows) * ROW_HEIGHT,
        days=tuple(
            DrawnDay(label=label, x=_column(number) + DAY_PADDING, line_x=_column(number))
            for number, label in enumerate(days)
        ),
        rows=tuple(_drawn_row(row, HEAD_HEIGHT + number * ROW_HEIGHT, days, scale) for number, row in enumerate(rows)),
        opens_min=scale.opens_min,
        closes_min=scale.closes_min,
    )


def _scale(rows: Sequence[GroupRow]) -> _Scale:
    """Whole hours from the earliest start to the latest end; four hours at least."""
    starts = [block.starts_min for row in rows for block in row.blocks] or [17 * MINUTES_PER_HOUR]
    ends = [block.ends_min for row in rows for block in row.blocks] or [21 * MINUTES_PER_HOUR]
    opens = min(starts) // MINUTES_PER_HOUR * MINUTES_PER_HOUR
    closes = -(-max(ends) // MINUTES_PER_HOUR) * MINUTES_PER_HOUR
    return _Scale(opens_min=opens, closes_min=max(closes, opens + 4 * MINUTES_PER_HOUR))


def _drawn_row(row: GroupRow, y: int, days: Sequence[str], scale: _Scale) -> DrawnRow:
    return DrawnRow(
        name_lines=_name_lines(row.name, y + BLOCK_TOP + BLOCK_HEIGHT // 2 + 5),
        name=row.name,
        y=y,
        blocks=tuple(_drawn_block(block, row, y, days, scale) for block in row.blocks),
        gaps=tuple(_drawn_gap(gap, y, scale) for gap in row.gaps),
    )


def _name_lines(name: str, y: int) -> tuple[Line, ...]:
    """A name in lines that fit beside the days."""
    lines = textwrap.wrap(name, MOST_LETTERS, max_lines=MOST_NAME_LINES, placeholder=" …")
    return tuple(Line(text, y + number * LINE_STEP) for number, text in enumerate(lines))


def _drawn_block(block: Block, row: GroupRow, y: int, days: Sequence[str], scale: _Scale) -> DrawnBlock:
    left, right = scale.x(block.day, block.starts_min), scale.x(block.day, block.ends_min)
    lines = _lines(block, [other for other in row.blocks if other.day == block.day], y)
    after = [gap.text for gap in row.gaps if (gap.from_day, gap.from_min) == (block.day, block.ends_min)]
    return DrawnBlock(
        kind=block.kind,
        word=block.word,
        time=block.time,
        day_label=days[block.day],
        gap_after=after[0] if after else "",
        x=left,
        y=y + BLOCK_TOP,
        width=max(round(right - left, 1), BLOCK_MIN_WIDTH),
        lines=lines,
        text_x=_text_x(block.day, left, lines),
        handle=block.handle,
        name=block.name,
        day=block.day,
        starts_min=block.starts_min,
    )


def _text_x(day: int, left: float, lines: Sequence[Line]) -> float:
    """Words start below their block, further left where they would leave the day's column."""
    column = _column(day) + DAY_PADDING
    longest = max(len(line.text) for line in lines) * LETTER_WIDTH
    return max(column, min(left, column + DAY_WIDTH - DAY_PADDING - longest))


def _lines(block: Block, same_day: Sequence[Block], y: int) -> tuple[Line, ...]:
    """Alone on its day: word, then time below; several share the lines, one each with when it starts."""
    first = y + FIRST_LINE
    if len(same_day) == 1:
        return Line(block.word, first), Line(block.time, first + LINE_STEP)
    starts = block.time.partition("–")[0]
    return (Line(f"{block.word} {starts}", first + same_day.index(block) * LINE_STEP),)


def _drawn_gap(gap: Gap, y: int, scale: _Scale) -> DrawnGap:
    left, right = scale.x(gap.from_day, gap.from_min), scale.x(gap.till_day, gap.till_min)
    middle, level = round((left + right) / 2, 1), y + GAP_TOP
    return DrawnGap(
        text=gap.text,
        path=f"M{left:g} {level - TICK}v{2 * TICK}M{left:g} {level}H{right:g}M{right:g} {level - TICK}v{2 * TICK}",
        text_x=middle,
        text_y=level + 5,
        ground_x=round(middle - GAP_TEXT_HALF, 1),
        ground_y=level - 8,
    )
