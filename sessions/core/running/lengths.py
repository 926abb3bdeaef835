"""Lengths in the club's unit: kept in whole centimetres, so that a whole number of yards comes back as it was typed."""

METRES, YARDS = "m", "yd"
CM_A_UNIT = {METRES: 100.0, YARDS: 91.44}
"""1 yd = 0.9144 m exactly (the yard of the agreement of 1959; NIST Special Publication 811, appendix B)."""


def length_cm(number: int, unit: str) -> int:
    """A whole number of metres (`m`) or yards (`yd`) in centimetres. Raises KeyError for another unit."""
    return round(number * CM_A_UNIT[unit])


def longest_run_cm(*, straight_cm: int, roll_in_cm: int, run_out_cm: int) -> int:
    """The longest run for which a straight leaves room before and after it, in centimetres; 0 where there is none.

    A run fits only if roll-in, run and run-out do (common practice, no source).
    """
    return max(0, straight_cm - roll_in_cm - run_out_cm)


def length_in(cm: int, unit: str) -> int:
    """Centimetres as the nearest whole number of the unit. Raises KeyError for another unit."""
    return round(cm / CM_A_UNIT[unit])
