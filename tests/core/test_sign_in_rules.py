"""Waits after wrong tries, times of a sign-in, what a password needs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from athletes.core.passwords import as_typed, made_of_known
from athletes.core.sign_in_times import SHARED, asks_second_factor, times_for
from athletes.core.tries import (
    DAY_S,
    DELAY_S,
    PASSWORD,
    PASSWORD_ELSEWHERE,
    PLACE,
    SECOND_CODE,
    SECOND_CODE_KNOWN,
    still_counting,
    wait_s,
)

NOW = 1_800_000_000.0


@pytest.mark.parametrize("limit", [PASSWORD, PASSWORD_ELSEWHERE, PLACE, SECOND_CODE, SECOND_CODE_KNOWN])
def test_up_to_the_limit_nobody_waits_and_at_it_a_quarter_of_an_hour(limit):
    failed = [NOW - 1] * (limit.most - 1)
    assert wait_s(failed, NOW, limit) == 0
    assert wait_s([*failed, NOW - 1], NOW, limit) == DELAY_S - 1
    assert wait_s([NOW - limit.within_s] * limit.most, NOW, limit) == 0
    spread = [NOW - DAY_S + 60 + number * (DAY_S - 120) / limit.most_a_day for number in range(limit.most_a_day)]
    assert wait_s(spread, NOW, limit) == max(0, max(spread) + DELAY_S - NOW)
    assert wait_s([*spread, NOW - 10], NOW, limit) == DELAY_S - 10


@given(st.lists(st.floats(0, 3 * DAY_S), max_size=40), st.floats(0, 3 * DAY_S))
def test_nobody_waits_for_longer_than_a_quarter_of_an_hour(ages, _):
    failed = sorted(NOW - age for age in ages)
    for limit in (PASSWORD, PASSWORD_ELSEWHERE, SECOND_CODE, SECOND_CODE_KNOWN):
        waits = wait_s(failed, NOW, limit)
        assert 0 <= waits <= DELAY_S
        assert wait_s(failed, NOW + waits + 0.001, limit) == 0
        assert wait_s(still_counting(failed, NOW), NOW, limit) == waits


def test_a_day_of_guessing_one_name_from_elsewhere_is_never_over_a_hundred():
    """NIST SP 800-63B rev. 4: at most 100 wrong ones in a row. Here a delay, never a lock: no child is shut out."""
    most = 100
    for limit in (PASSWORD_ELSEWHERE, SECOND_CODE):
        assert tries_in_a_day(limit) == most
    assert 3 * most / 1_000_000 < 1 / 3000


def test_a_day_of_guessing_codes_in_a_known_browser_and_elsewhere_finds_one_in_fewer_than_1_of_1500_days():
    """Three codes of a million hold at a time (RFC 6238 section 5.2: one step of 30 seconds to either side)."""
    known = tries_in_a_day(SECOND_CODE_KNOWN)
    assert known < 120
    assert 3 * (known + tries_in_a_day(SECOND_CODE)) / 1_000_000 < 1 / 1500


def tries_in_a_day(limit):
    """How many wrong tries somebody gets in who makes each as soon as it is taken."""
    failed, at = [], NOW
    while at < NOW + DAY_S:
        waits = wait_s(failed, at, limit)
        if waits == 0:
            failed.append(at)
        at += waits or 1
    return len(failed)


@pytest.mark.parametrize(
    ("roles", "idle_s", "longest_s"),
    [
        (("athlete",), 14 * 86400, 30 * 86400),
        (("guardian",), 3600, 86400),
        (("athlete", "guardian"), 3600, 86400),
        (("coach",), None, 12 * 3600),
        (("coach", "guardian"), None, 12 * 3600),
        (("head_coach", "admin"), None, 8 * 3600),
        (("admin",), 900, 8 * 3600),
        (("guardian", "welfare"), 900, 8 * 3600),
    ],
)
def test_how_long_a_sign_in_holds(roles, idle_s, longest_s):
    """As the security baseline's table has it; several roles: the shorter whole, no rest for whoever coaches."""
    times = times_for(roles, is_shared=False)
    assert (times.idle_s, times.longest_s) == (idle_s, longest_s)
    assert times_for(roles, is_shared=True) == SHARED
    assert (SHARED.idle_s, SHARED.longest_s) == (300, 3600)


@pytest.mark.parametrize(
    ("roles", "age", "expected"),
    [
        (("head_coach",), 40, True), (("admin",), None, True), (("welfare",), 60, True), (("coach",), 18, True),
        (("coach",), 17, False), (("coach",), None, True), (("athlete", "guardian"), 40, False),
        (("athlete", "coach"), 17, False), (("coach", "admin"), 17, True),
    ],
)  # fmt: skip
def test_who_needs_a_second_factor(roles, age, expected):
    assert asks_second_factor(roles, age=age) is expected


def test_one_text_on_the_screen_is_one_password():
    assert as_typed("Zürich läuft") == as_typed("Zu\u0308rich la\u0308uft")
    assert as_typed("  two spaces at each end  ") == "  two spaces at each end  "


@pytest.mark.parametrize(
    ("password", "is_guessed"),
    [
        ("ChalkLaneAC2026!!", True), ("chalk lane noela", True), ("noela.tester.2011", True),
        ("SprintSprint2026", True),
        ("chalk on quiet pewter", False), ("four words of mine", False), ("😀 ocean 😀 kettle", False),
    ],
)  # fmt: skip
def test_the_club_s_own_words_make_no_password(password, is_guessed):
    assert made_of_known(password, ["Chalk Lane AC", "Sprint", "Noela", "Tester"]) is is_guessed
