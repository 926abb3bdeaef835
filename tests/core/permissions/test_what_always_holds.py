"""What always holds, shown over the whole product of the facts: no row of it breaks one of these sentences."""

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from typing import Any

import pytest

from athletes.core.permissions import Answer, Facts, Guardian, decide
from athletes.core.permissions.codes import Code
from athletes.core.permissions.facts import (
    OPTIONAL_PURPOSES,
    STOPS,
    Act,
    Authority,
    CopyTo,
    Membership,
    Purpose,
    Role,
    Stance,
    WordOf,
)
from athletes.core.permissions.reading import read_facts
from tests.core.permissions.product import SLICES, Slice

FIELDS = [field.name for field in fields(Facts)]
Sentence = Callable[[Facts, Answer], None]

WEAKER: dict[Act, dict[str, Any]] = {
    Act.USE: {"evidence": 1, "named_recipient": False, "expired": True, "notice_shown": False, "withheld": True},
    Act.MESSAGE: {"copy_to": CopyTo.NONE},
    Act.VIEW_AS_GUARDIAN: {"withheld": True},
    Act.EXPORT: {"withheld": True},
}
"""The weaker value of each fact that an act reads; that the others change nothing is a test of its own."""


def a_no_never_ends_in_yes(facts: Facts, answer: Answer) -> None:
    """In the club's use of an optional purpose, save emergency access, of the athlete or a minor's full guardian."""
    if not _is_optional_use(facts, answer):
        return
    if facts.athlete in STOPS or (_is_minor(facts) and any(_full(guardian, *STOPS) for guardian in facts.guardians)):
        assert not answer.may


def withdrawing_stops_at_once(facts: Facts, answer: Answer) -> None:
    """Each yes turns into a no with the athlete's withdrawal, and a minor's with any full guardian's."""
    if not answer.may or not _is_optional_use(facts, answer):
        return
    assert not decide(replace(facts, athlete=Stance.WITHDRAWN)).may
    if _is_minor(facts):
        for place, guardian in enumerate(facts.guardians):
            if guardian.authority is Authority.FULL:
                others = list(facts.guardians)
                others[place] = Guardian(Stance.WITHDRAWN, Authority.FULL)
                assert not decide(replace(facts, guardians=tuple(others))).may


def restricted_or_left_is_not_used(facts: Facts, answer: Answer) -> None:
    """Save the athlete's own view and the log."""
    if facts.act is Act.USE and (facts.restricted or facts.membership is Membership.LEFT):
        assert not answer.may or answer.code in (Code.OWN_DATA, Code.LOG_REVIEW)


def people_without_a_say_change_nothing(facts: Facts, answer: Answer) -> None:
    """A care, limited or unverified person behind those present; where nobody is, one would be the one who acts."""
    *before, last = facts.guardians or (Guardian(authority=Authority.FULL),)
    if last.authority is not Authority.FULL and (before or not _a_guardian_acts(facts)):
        assert decide(replace(facts, guardians=tuple(before))) == answer


def the_order_of_guardians_changes_no_use(facts: Facts, answer: Answer) -> None:
    if facts.act is Act.USE and not _a_guardian_acts(facts) and len(facts.guardians) > 1:
        assert decide(replace(facts, guardians=facts.guardians[::-1])) == answer


def an_adults_guardians_open_no_use(facts: Facts, answer: Answer) -> None:
    if facts.act is Act.USE and answer.may and not _is_minor(facts) and not _a_guardian_acts(facts):
        assert decide(replace(facts, guardians=())).may


def unknown_age_is_age_nine(facts: Facts, answer: Answer) -> None:
    if facts.age is None:
        assert decide(replace(facts, age=9)) == answer


def weaker_facts_open_nothing(facts: Facts, answer: Answer) -> None:
    if not answer.may:
        known = {name: getattr(facts, name) for name in FIELDS}
        for name, weaker in WEAKER.get(facts.act, {}).items():
            if known[name] != weaker:
                assert not decide(Facts(**known | {name: weaker})).may


def importing_allows_nothing(facts: Facts, answer: Answer) -> None:
    """An imported answer is history; nothing but numbers of many opens to it."""
    if facts.by is Role.IMPORT and facts.act not in (Act.VIEW_AS_GUARDIAN, Act.MESSAGE, Act.KEEP):
        assert not answer.may or answer.code is Code.ANONYMOUS


SENTENCES: tuple[Sentence, ...] = (
    a_no_never_ends_in_yes,
    withdrawing_stops_at_once,
    restricted_or_left_is_not_used,
    people_without_a_say_change_nothing,
    the_order_of_guardians_changes_no_use,
    an_adults_guardians_open_no_use,
    unknown_age_is_age_nine,
    weaker_facts_open_nothing,
    importing_allows_nothing,
)


@pytest.mark.parametrize("part", SLICES, ids=lambda part: part.name)
def test_what_always_holds(part: Slice) -> None:
    for facts in _each(part):
        answer = decide(facts)
        for holds in SENTENCES:
            holds(facts, answer)


def _each(part: Slice) -> Iterator[Facts]:
    for row in part.rows():
        yield read_facts(row)


def _is_optional_use(facts: Facts, answer: Answer) -> bool:
    """By the club: neither the athlete's own view nor emergency access."""
    club = facts.by is not Role.EMERGENCY_ACCESS and answer.code is not Code.OWN_DATA
    return facts.act is Act.USE and facts.purpose in OPTIONAL_PURPOSES and club


def _is_minor(facts: Facts) -> bool:
    return facts.age is None or facts.age < 18


def _full(guardian: Guardian, *stances: Stance) -> bool:
    return guardian.authority is Authority.FULL and guardian.stance in stances


def _a_guardian_acts(facts: Facts) -> bool:
    """Then it is the first of them: in the guardian's view, by a guardian's word or paper, for a guardian's feed."""
    by_paper = facts.by is Role.ADMIN and facts.word_of is WordOf.GUARDIAN and facts.act is not Act.USE
    feed_or_word = facts.by is Role.GUARDIAN and (facts.act is not Act.USE or facts.purpose is Purpose.FEED)
    return facts.act is Act.VIEW_AS_GUARDIAN or by_paper or feed_or_word
