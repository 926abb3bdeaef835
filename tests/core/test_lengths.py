"""Lengths in metres and yards, against the definition of the yard: 0.9144 m (NIST SP 811, appendix B.8)."""

from hypothesis import given
from hypothesis import strategies as some

from sessions.core.running.lengths import METRES, YARDS, length_cm, length_in


def test_a_hundred_yards_are_91_44_metres() -> None:
    assert (length_cm(100, YARDS), length_cm(60, METRES)) == (9144, 6000)
    assert (length_in(9144, YARDS), length_in(9144, METRES)) == (100, 91)


@given(some.integers(1, 100_000), some.sampled_from([METRES, YARDS]))
def test_a_whole_number_comes_back_as_it_was_typed(number: int, unit: str) -> None:
    assert length_in(length_cm(number, unit), unit) == number
