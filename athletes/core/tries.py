"""How long to wait after wrong tries: a delay, never a lock, and never longer than a quarter of an hour."""

from collections.abc import Sequence
from dataclasses import dataclass

DELAY_S = 15 * 60
"""Seconds after the last counted try for which no other is taken; tries refused meanwhile do not count."""


@dataclass(frozen=True, slots=True)
class Limit:
    """At most `most` wrong tries within `within_s` seconds, and at most `most_a_day` within a day, without a wait of
    `delay_s` seconds."""

    most: int
    within_s: int
    most_a_day: int
    delay_s: int = DELAY_S


DAY_S, HOUR_S = 24 * 3600, 3600

PASSWORD = Limit(10, HOUR_S, 20)
"""A password typed in a browser in which this name has signed in before (common practice, no source)."""

PASSWORD_ELSEWHERE = Limit(5, DAY_S, 5)
"""A password typed in any other browser, for each name: five, then one in a quarter of an hour, so never over the 100
in a row of NIST SP 800-63B rev. 4 in a day. A right one forgets the wrong ones."""

SECOND_CODE = Limit(5, DAY_S, 5)
"""A code of six digits typed in any browser in which its owner has not signed in before, for each account, in the same
way: 100 a day guess one of a million, three of which hold at a time, with odds below 1 in 3,000; and whoever guesses
has the password already."""

SECOND_CODE_KNOWN = Limit(10, HOUR_S, 20)
"""The same for each browser in which the owner has signed in before, so that whoever guesses elsewhere keeps nobody
out: below 120 a day; one such browser and those from elsewhere together have odds below 1 in 1,500 (common practice, no
source)."""

PLACE = Limit(60, HOUR_S, 600)
"""From one place: a whole club may sit behind one address (common practice, no source)."""

REQUESTS_A_BLOCK = 60
REQUESTS = Limit(60, 600, 700, delay_s=60)
"""Blocks of 60 requests to the API, reads and writes counted apart: 3,600 in ten minutes, 42,000 a day; over that a
block a minute. A finger taps at most about three times a second, and what waited without signal goes 500 entries a
request (common practice, no source)."""


def wait_s(failed_at: Sequence[float], now: float, limit: Limit) -> float:
    """Seconds to wait before the next try is taken; 0 where it is taken at once.

    `failed_at` are the instants of wrong tries and `now` that of this one, all in seconds. Over a limit the wait runs
    from the newest wrong try: whoever is refused meanwhile adds nothing, so it ends after `delay_s` seconds at the
    latest.
    """
    within = sum(1 for at in failed_at if now - at < limit.within_s)
    in_a_day = sum(1 for at in failed_at if now - at < DAY_S)
    if within < limit.most and in_a_day < limit.most_a_day:
        return 0.0
    return max(0.0, max(failed_at) + limit.delay_s - now)


def still_counting(failed_at: Sequence[float], now: float) -> list[float]:
    """The wrong tries that still count for anything: those of the last day."""
    return [at for at in failed_at if now - at < DAY_S]
