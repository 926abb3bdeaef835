"""The drawn week: true to the scale of hours."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from teamtrack.common.web.week_drawing import DAY_PADDING, DAY_WIDTH, Block, Gap, GroupRow, week_drawing
from tests.sizes import examples

DAYS = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]


def a_block(day: int, starts_min: int, ends_min: int, kind: str = "hard") -> Block:
    return Block(day=day, starts_min=starts_min, ends_min=ends_min, kind=kind, word=kind, time="then")


blocks = st.builds(
    lambda day, start, length: a_block(day, start, start + length),
    st.integers(0, 6),
    st.integers(6 * 60, 20 * 60),
    st.integers(60, 180),
)


@settings(max_examples=examples(200), deadline=None)
@given(st.lists(blocks, min_size=1, max_size=8))
def test_lengths_are_in_proportion_to_minutes(sessions: list[Block]) -> None:
    opens = min(block.starts_min for block in sessions) // 60 * 60
    closes = max(-(-max(block.ends_min for block in sessions) // 60) * 60, opens + 240)
    width_of_a_minute = (DAY_WIDTH - 2 * DAY_PADDING) / (closes - opens)
    drawn = week_drawing(days=DAYS, rows=[GroupRow(name="Sprint", blocks=sessions, gaps=[])]).rows[0].blocks
    for block, place in zip(sessions, drawn, strict=True):
        minutes = block.ends_min - block.starts_min
        assert place.width == pytest.approx(max(12, minutes * width_of_a_minute), abs=0.2)


@settings(max_examples=examples(200), deadline=None)
@given(st.lists(blocks, min_size=1, max_size=8))
def test_blocks_and_words_start_in_their_days_column(sessions: list[Block]) -> None:
    week = week_drawing(days=DAYS, rows=[GroupRow(name="Sprint", blocks=sessions, gaps=[])])
    for block, place in zip(sessions, week.rows[0].blocks, strict=True):
        line = week.days[block.day].line_x
        assert line <= place.x < line + DAY_WIDTH
        assert line <= place.text_x <= place.x


def test_a_gap_runs_from_the_end_to_the_next_start() -> None:
    first, second = a_block(1, 18 * 60, 20 * 60), a_block(3, 18 * 60, 19 * 60)
    gap = Gap(from_day=1, from_min=20 * 60, till_day=3, till_min=18 * 60, text="46 h")
    row = week_drawing(days=DAYS, rows=[GroupRow(name="Sprint", blocks=[first, second], gaps=[gap])]).rows[0]
    end, start = row.blocks[0].x + row.blocks[0].width, row.blocks[1].x
    assert row.gaps[0].path.startswith(f"M{end:g} ")
    assert f"H{start:g}" in row.gaps[0].path
    assert [block.gap_after for block in row.blocks] == ["46 h", ""]


def test_two_sessions_of_a_day_share_the_lines() -> None:
    early, late = a_block(2, 16 * 60, 17 * 60, "technique"), a_block(2, 17 * 60, 18 * 60, "moderate")
    row = week_drawing(days=DAYS, rows=[GroupRow(name="Youth", blocks=[early, late], gaps=[])]).rows[0]
    assert [[line.text for line in block.lines] for block in row.blocks] == [["technique then"], ["moderate then"]]
    assert row.blocks[0].lines[0].y < row.blocks[1].lines[0].y


def test_words_end_in_their_days_column_and_a_long_name_is_told_in_lines() -> None:
    """The eleven signs of a time are some 82 units wide, as Chromium drew them in the widest letters at hand."""
    late = Block(day=0, starts_min=20 * 60, ends_min=21 * 60, kind="technique", word="technique", time="20:00–21:00")
    early = a_block(1, 9 * 60, 10 * 60)
    row = week_drawing(
        days=DAYS, rows=[GroupRow(name="Longer distance and walks", blocks=[late, early], gaps=[])]
    ).rows[0]
    assert row.blocks[0].text_x + 82 <= row.blocks[1].x
    assert [line.text for line in row.name_lines] == ["Longer distance", "and walks"]


def test_an_empty_week_is_drawn() -> None:
    week = week_drawing(days=DAYS, rows=[])
    assert (len(week.days), week.rows) == (7, ())
