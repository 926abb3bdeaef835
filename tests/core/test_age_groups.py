"""Age groups by a dated rule: by year of birth or by age on a day; applied twice, nobody moves."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from athletes.core.age_groups import EVERYBODY_OLDER, AgeSquad, Placed, SquadMove, roll_over, squad_at

SQUADS = [AgeSquad("u14", 14), AgeSquad("u16", 16), AgeSquad("u18", 18), AgeSquad("open", EVERYBODY_OLDER)]


def test_by_year_of_birth_everybody_of_a_year_moves_together():
    """Counted on 31 December: born in 2013 is under 14 in 2026 and under 16 from 2027 on (common practice)."""
    for born in (date(2013, 1, 1), date(2013, 12, 31)):
        assert squad_at(born, date(2026, 12, 31), SQUADS) == "u14"
        assert squad_at(born, date(2027, 12, 31), SQUADS) == "u16"


def test_by_age_on_the_day_birthdays_part_a_year():
    """Counted on 1 September: 14 that day is no longer under 14 (common practice)."""
    assert squad_at(date(2012, 9, 1), date(2026, 9, 1), SQUADS) == "u16"
    assert squad_at(date(2012, 9, 2), date(2026, 9, 1), SQUADS) == "u14"


def test_who_moves_and_of_whom_nothing_is_guessed():
    athletes = [
        Placed("moves", date(2012, 5, 1), "u14"), Placed("stays", date(2013, 5, 1), "u14"),
        Placed("new", date(2010, 5, 1), None), Placed("undated", None, "u14"),
        Placed("level", date(2012, 5, 1), "performance"), Placed("old", date(1990, 5, 1), "u18"),
    ]  # fmt: skip
    found = roll_over(athletes, squads=SQUADS, counted_on=date(2026, 12, 31))
    assert found.moves == (
        SquadMove("moves", "u14", "u16"), SquadMove("new", None, "u18"), SquadMove("old", "u18", "open"),
    )  # fmt: skip
    assert found.without_birth_date == ("undated",)
    without_open = roll_over(athletes, squads=SQUADS[:3], counted_on=date(2026, 12, 31))
    assert without_open.without_squad == ("old",)


@given(
    st.lists(
        st.tuples(
            st.none() | st.dates(date(1950, 1, 1), date(2022, 1, 1)),
            st.sampled_from([None, "u14", "u16", "u18", "open", "performance"]),
        )
    ),
    st.dates(date(2024, 1, 1), date(2030, 12, 31)),
)
def test_applied_once_it_moves_nobody_again(people, counted_on):
    athletes = [Placed(str(number), born, squad) for number, (born, squad) in enumerate(people)]
    moved = {move.athlete: move.after for move in roll_over(athletes, squads=SQUADS, counted_on=counted_on).moves}
    after = [Placed(one.id, one.born, moved.get(one.id, one.squad)) for one in athletes]
    assert roll_over(after, squads=SQUADS, counted_on=counted_on).moves == ()
