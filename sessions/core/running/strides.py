"""How many strides, and whether an effort band is given: by age, from the group's default."""

from athletes.core import ages

UNDER_13_MOST = 8
UNDER_16_MOST = 10
"""4 to 8 strides under 13, 5 to 10 at 13 to 15: common practice, no source."""


def strides_wanted(*, group_default: int, age: int | None) -> int:
    """Strides for one athlete: the group's default, for children no more than common practice; age in full years."""
    if ages.is_under_13(age):
        return min(group_default, UNDER_13_MOST)
    return min(group_default, UNDER_16_MOST) if ages.counted_age(age) < 16 else group_default


def has_effort_band(age: int | None) -> bool:
    """Under 13 no band of effort is given (common practice, no source)."""
    return not ages.is_under_13(age)
