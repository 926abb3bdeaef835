"""What may a guardian see of a young athlete? When and where a child trains is a safety fact."""

from __future__ import annotations

from athletes.core.permissions.codes import Code
from athletes.core.permissions.facts import Authority, Facts, Purpose

CARERS_SEE = frozenset({Purpose.PLAN, Purpose.AVAILABILITY, Purpose.MESSAGE})
CLOSED_UNTIL_AGREED = frozenset({Purpose.HEALTH, Purpose.AUDIT})
"""What a guardian sees of an athlete at or over the digital age only with the athlete's yes."""


def view_as_guardian(facts: Facts, purpose: Purpose | None) -> Code:
    """May the first guardian see `purpose` of this athlete? The first rule that applies answers."""
    authority = facts.acting_authority
    if authority is Authority.UNVERIFIED:
        return Code.GUARDIAN_UNVERIFIED
    if authority is Authority.LIMITED:
        return Code.GUARDIAN_NO_AUTHORITY
    if facts.is_adult:
        return Code.ATHLETE_SHARES if facts.athlete_says_yes else Code.ADULT_DECIDES
    if facts.withheld:
        return Code.WITHHELD_FOR_CHILD
    if authority is Authority.CARE:
        return Code.CARER_VIEW if purpose in CARERS_SEE else Code.GUARDIAN_NO_AUTHORITY
    if facts.is_under_digital_age:
        return Code.PARENTAL_VIEW
    if purpose is Purpose.FEEDBACK and facts.athlete_stops:
        return Code.ATHLETE_SAYS_NO
    if purpose in CLOSED_UNTIL_AGREED and not facts.athlete_says_yes:
        return Code.ATHLETE_MUST_AGREE
    return Code.PARENTAL_VIEW
