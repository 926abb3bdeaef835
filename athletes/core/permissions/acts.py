"""The acts beside use: to answer, withdraw, take a copy, erase, withhold, write a message."""

from __future__ import annotations

from athletes.core.permissions.codes import Code
from athletes.core.permissions.facts import (
    OPTIONAL_PURPOSES,
    Act,
    Authority,
    CopyTo,
    Facts,
    Purpose,
    Role,
    Sender,
    WordOf,
)

KEPT_AS_PROOF = frozenset({Purpose.CONSENT_EVIDENCE, Purpose.AUDIT, Purpose.MESSAGE})
NEEDED_WHILE_A_MEMBER = frozenset(
    {Purpose.RECORD, Purpose.PLAN, Purpose.ATTENDANCE, Purpose.LOG, Purpose.AVAILABILITY},
)
DAY_STARTS_HOUR = 8
NIGHT_STARTS_HOUR = 21
"""Hours of the club's local day between which messages go out (both: the permissions contract)."""


def answer(facts: Facts) -> Code:
    """Say yes or no to a purpose."""
    refusal = _not_heard(facts)
    if refusal is not None:
        return refusal
    if not _is_asked(facts):
        return Code.NOT_ASKED
    if _athlete_speaks(facts) and facts.is_under_digital_age:
        return Code.ASSENT_ONLY
    if facts.by is Role.ADMIN:
        return Code.PAPER_RECORDED
    return Code.ATHLETE_PART if _athlete_speaks(facts) else Code.GUARDIAN_PART


def withdraw(facts: Facts) -> Code:
    """Stop what was allowed: as easy as giving."""
    refusal = _not_heard(facts)
    if refusal is not None:
        return refusal
    return Code.STOP_NOW if _is_asked(facts) else Code.OBJECTION_ROUTE


def export(facts: Facts) -> Code:
    """Take a copy of what is kept."""
    refusal = _not_heard(facts)
    if refusal is not None:
        return refusal
    if _athlete_speaks(facts):
        return Code.OWN_DATA
    if facts.is_adult:
        return Code.ON_BEHALF if facts.athlete_says_yes else Code.ADULT_DECIDES
    if facts.withheld:
        return Code.WITHHELD_FOR_CHILD
    if facts.is_under_digital_age or facts.athlete_says_yes:
        return Code.ON_BEHALF
    return Code.HUMAN_DECIDES


def erase(facts: Facts) -> Code:
    """Have something taken away for good."""
    refusal = _not_heard(facts)
    if refusal is not None:
        return refusal
    if facts.purpose in KEPT_AS_PROOF:
        return Code.PROOF_KEPT
    if facts.legal_hold:
        return Code.LEGAL_HOLD
    if _guardian_speaks(facts) and not facts.is_under_digital_age and not facts.athlete_says_yes:
        return Code.ATHLETE_MUST_AGREE
    if facts.purpose in NEEDED_WHILE_A_MEMBER and not facts.has_left:
        return Code.OBJECTION_ROUTE
    return Code.ERASE


def withhold(facts: Facts) -> Code:
    """Keep things from a guardian, or lift that: the welfare lead alone, never in the own case."""
    if facts.by is not Role.WELFARE or facts.own_case:
        return Code.NOT_ENTITLED
    if facts.is_adult:
        return Code.ADULT_DECIDES
    return Code.WELFARE_LEAD


def message(facts: Facts) -> Code:
    """Write to the athlete, or as the athlete: never one adult and one minor alone, never at night."""
    if facts.has_left:
        return Code.MEMBERSHIP_ENDED
    if facts.by is Role.COACH_ENDED:
        return Code.ASSIGNMENT_ENDED
    if facts.by is Role.COACH_OTHER:
        return Code.NOT_NEEDED_FOR_ROLE
    writes_as_an_adult_to_a_minor = facts.by is Role.COACH_MINOR
    if facts.sender is Sender.MINOR and not writes_as_an_adult_to_a_minor:
        return Code.REPLY_ADDS_COPY
    if facts.is_adult and not writes_as_an_adult_to_a_minor:
        return Code.ADULTS
    if facts.emergency:
        return Code.COPY_AFTERWARDS
    if facts.copy_to is CopyTo.NONE:
        return Code.OPEN_COPY_NEEDED
    if facts.opted_out:
        return Code.GUARDIAN_OPTED_OUT
    return Code.QUIET_HOURS if _is_night(facts) else Code.OPEN_COPY


def _is_night(facts: Facts) -> bool:
    """From 21:00 to 07:59, and where the hour is unknown."""
    return facts.hour is None or not DAY_STARTS_HOUR <= facts.hour < NIGHT_STARTS_HOUR


def _athlete_speaks(facts: Facts) -> bool:
    """In person, or by a paper (to stop: or spoken word) that an admin enters."""
    return facts.by is Role.ATHLETE or (facts.by is Role.ADMIN and facts.word_of is WordOf.ATHLETE)


def _guardian_speaks(facts: Facts) -> bool:
    """In person, or by a paper (to stop: or spoken word) that an admin enters."""
    return facts.by is Role.GUARDIAN or (facts.by is Role.ADMIN and facts.word_of is WordOf.GUARDIAN)


def _not_heard(facts: Facts) -> Code | None:
    """Who speaks: why this voice does not count, or nothing where it does."""
    if facts.by is Role.IMPORT and (facts.act is Act.ANSWER or facts.act is Act.WITHDRAW):
        return Code.OTHER_CONTROLLER
    if facts.by is Role.ADMIN and facts.own_case:
        return Code.NOT_ENTITLED
    if not _athlete_speaks(facts) and not _guardian_speaks(facts):
        return Code.NOT_ENTITLED
    if facts.by is not Role.ADMIN and not facts.signed_in_as_giver and facts.act is not Act.WITHDRAW:
        return Code.WRONG_SESSION
    return _guardian_not_heard(facts) if _guardian_speaks(facts) else None


def _guardian_not_heard(facts: Facts) -> Code | None:
    """Why a guardian's word does not count, also by paper; a wish to stop is recorded all the same."""
    authority = facts.acting_authority
    if authority is Authority.UNVERIFIED:
        return Code.GUARDIAN_UNVERIFIED
    if authority is not Authority.FULL:
        return Code.GUARDIAN_NO_AUTHORITY
    if facts.is_adult and facts.act is not Act.EXPORT:
        return Code.ADULT_DECIDES
    return None


def _is_asked(facts: Facts) -> bool:
    """An optional purpose, or the guardian's one question on the record where the United States rule bites."""
    if facts.purpose in OPTIONAL_PURPOSES:
        return True
    return facts.purpose is Purpose.RECORD and _guardian_speaks(facts) and facts.us_rule_bites
