"""How long a sign-in holds: by the roles held, and shortest on a phone that is not one's own.

The times are common practice, no source, but the longest of an athlete's: 30 days, as NIST SP 800-63B rev. 4 allows
for its first level.
"""

from collections.abc import Collection
from dataclasses import dataclass

MINUTE_S, HOUR_S, DAY_S = 60, 3600, 24 * 3600


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds without a sign of life after which a sign-in ends (None: never by that), and at most since it began."""

    idle_s: int | None
    longest_s: int


SHARED = Times(5 * MINUTE_S, HOUR_S)
OWN_PHONE = Times(14 * DAY_S, 30 * DAY_S)
GUARDIAN = Times(HOUR_S, DAY_S)
OFFICE = Times(15 * MINUTE_S, 8 * HOUR_S)
BESIDE_THE_STRAIGHT = Times(None, 12 * HOUR_S)


def times_for(roles: Collection[str], *, is_shared: bool) -> Times:
    """The times of somebody who holds `roles` (codes as in the permissions contract).

    Whoever coaches is never signed out for resting the phone: no entry is lost beside the straight; with an office
    too, the whole is as short as the office's, and its acts ask for a proof of their own.
    """
    if is_shared:
        return SHARED
    coaches, office = {"coach", "head_coach"} & set(roles), {"admin", "welfare"} & set(roles)
    if coaches:
        return Times(None, OFFICE.longest_s) if office else BESIDE_THE_STRAIGHT
    if office:
        return OFFICE
    return GUARDIAN if "guardian" in roles else OWN_PHONE


def asks_second_factor(roles: Collection[str], *, age: int | None) -> bool:
    """Whether these roles ask for a second factor: they open other people's rows. A helper under 18 needs none; of
    unknown age counts as grown up here, for that is the careful answer."""
    if {"head_coach", "admin", "welfare"} & set(roles):
        return True
    return "coach" in roles and (age is None or age >= 18)
