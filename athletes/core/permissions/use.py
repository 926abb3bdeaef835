"""May the club collect, read, change or send this athlete's data, for this purpose, in this role?"""

from __future__ import annotations

from athletes.core.permissions.codes import ALLOWING_CODES, Code
from athletes.core.permissions.facts import (
    MEMBERSHIP_PURPOSES,
    Facts,
    Objection,
    Purpose,
    Role,
    Source,
    Stance,
    Wording,
)
from athletes.core.permissions.view import view_as_guardian

FEWEST_PEOPLE = 5
FEWEST_PEOPLE_HEALTH = 10
DAYS_TO_CONFIRM = 90
"""Days after the digital age during which a guardian's earlier yes goes on (all three: the permissions contract)."""

STRONG_EVIDENCE = 2
"""Met in person by an admin, or two independent channels: what health and the United States rule need."""

NEEDS_OF_ROLE = {
    Role.COACH: frozenset(
        {Purpose.RECORD, Purpose.AVAILABILITY, Purpose.MESSAGE, Purpose.FEEDBACK, Purpose.HEALTH},
    ),
    Role.COACH_MINOR: frozenset({Purpose.RECORD, Purpose.AVAILABILITY, Purpose.FEEDBACK}),
    Role.HEAD_COACH: frozenset({Purpose.RECORD, Purpose.AVAILABILITY, Purpose.MESSAGE, Purpose.SHARE}),
    Role.COACH_OTHER: frozenset({Purpose.SHARE}),
    Role.ADMIN: frozenset({Purpose.RECORD, Purpose.MESSAGE}),
    Role.WELFARE: frozenset({Purpose.RECORD, Purpose.MESSAGE}),
    Role.EMERGENCY_ACCESS: frozenset({Purpose.HEALTH}),
    Role.ATHLETE: frozenset({Purpose.FEED}),
    Role.GUARDIAN: frozenset({Purpose.FEED}),
}
"""What a role needs; a role that is not here needs nothing."""

_NOT_THE_ATHLETES_TO_SEE_FREELY = frozenset({Purpose.FEED, Purpose.STATS})


def use(facts: Facts) -> Code:
    """The order of the decision to use: the first rule that applies answers."""
    if facts.purpose is Purpose.AUDIT:
        return _access_log(facts)
    if facts.by is Role.ATHLETE and facts.purpose not in _NOT_THE_ATHLETES_TO_SEE_FREELY:
        return Code.OWN_DATA
    if facts.restricted:
        return Code.RESTRICTED
    if facts.has_left:
        return Code.MEMBERSHIP_ENDED
    if facts.by is Role.COACH_ENDED:
        return Code.ASSIGNMENT_ENDED
    if facts.purpose is Purpose.STATS:
        return _club_numbers(facts)
    if not _role_needs_it(facts):
        return Code.NOT_NEEDED_FOR_ROLE
    if facts.by is Role.EMERGENCY_ACCESS:
        return Code.VITAL_INTERESTS if facts.athlete_incapable else Code.NOT_AN_EMERGENCY
    if facts.purpose in MEMBERSHIP_PURPOSES:
        return _on_membership(facts)
    return _on_consent(facts)


def _access_log(facts: Facts) -> Code:
    """Who looked: the athlete sees it, the admin and the welfare lead review it."""
    if facts.by is Role.ATHLETE:
        return Code.OWN_DATA
    if facts.by is Role.ADMIN or facts.by is Role.WELFARE:
        return Code.LOG_REVIEW
    return Code.NOT_NEEDED_FOR_ROLE


def _club_numbers(facts: Facts) -> Code:
    """Only while nobody can be singled out, whoever asks."""
    fewest = FEWEST_PEOPLE_HEALTH if facts.source is Source.HEALTH else FEWEST_PEOPLE
    if facts.count < fewest:
        return Code.TOO_FEW
    if facts.differencing:
        return Code.DIFFERENCING
    return Code.ANONYMOUS


def _role_needs_it(facts: Facts) -> bool:
    """The purpose is among the role's needs; a guardian's calendar address also needs the view of the plan."""
    if facts.by is None or facts.purpose not in NEEDS_OF_ROLE.get(facts.by, ()):
        return False
    return facts.by is not Role.GUARDIAN or view_as_guardian(facts, Purpose.PLAN) in ALLOWING_CODES


def _on_membership(facts: Facts) -> Code:
    """What belonging to the club rests on: the notice comes first, no consent is asked."""
    if not facts.notice_shown:
        return Code.NOTICE_FIRST
    if facts.us_rule_bites and not _us_rule_met(facts):
        return Code.PARENT_CONSENT_US
    if facts.purpose is Purpose.FEEDBACK and facts.objection is Objection.UPHELD:
        return Code.OBJECTION_UPHELD
    return Code.MEMBERSHIP_BASIS


def _us_rule_met(facts: Facts) -> bool:
    """A full guardian's yes, well proved, and no full guardian's no."""
    return facts.full_guardian_says_yes and facts.evidence >= STRONG_EVIDENCE and not facts.full_guardian_stops


def _on_consent(facts: Facts) -> Code:
    """What rests on consent alone. Any no stops it first; then it must have been started by those who may."""
    if facts.athlete_stops:
        return Code.ATHLETE_SAYS_NO
    if facts.expired:
        return Code.EXPIRED
    if facts.wording is Wording.MATERIAL_CHANGE:
        return Code.NEW_WORDING
    if not facts.is_adult and facts.full_guardian_stops:
        return Code.GUARDIAN_SAYS_NO
    if _guardian_must_start(facts) and not facts.full_guardian_says_yes:
        return Code.NO_GUARDIAN_CONSENT
    if facts.purpose is Purpose.HEALTH and facts.evidence < STRONG_EVIDENCE:
        return Code.EVIDENCE_TOO_WEAK
    if facts.is_under_digital_age:
        started = _child_beside_guardian(facts)
    elif not facts.athlete_says_yes:
        started = _adult_unanswered(facts) if facts.is_adult else _minor_unanswered(facts)
    else:
        started = Code.CONSENT_OK
    if started in ALLOWING_CODES and not facts.named_recipient:
        return Code.NOT_A_NAMED_RECIPIENT
    return started


def _guardian_must_start(facts: Facts) -> bool:
    """Under the digital age always; for health until 18."""
    return facts.is_under_digital_age or (facts.purpose is Purpose.HEALTH and not facts.is_adult)


def _child_beside_guardian(facts: Facts) -> Code:
    """Under the digital age: the guardian has said yes; where both are asked the child may not be silent."""
    if facts.joint_rule and facts.athlete is Stance.NONE:
        return Code.JOINT_NEEDED
    return Code.CONSENT_OK


def _minor_unanswered(facts: Facts) -> Code:
    """At or over the digital age, without the athlete's yes: a guardian's earlier yes goes on for a while."""
    if not facts.full_guardian_says_yes or facts.days_since_digital_age is None:
        return Code.NO_CONSENT
    if facts.joint_rule and facts.athlete is Stance.NONE:
        return Code.JOINT_NEEDED
    if facts.days_since_digital_age > DAYS_TO_CONFIRM:
        return Code.CONFIRM_OVERDUE
    return Code.CONTINUES_PENDING


def _adult_unanswered(facts: Facts) -> Code:
    """From 18, without the athlete's yes: hidden until the adult answers."""
    if facts.turned_18_since_answer and facts.full_guardian_says_yes:
        return Code.SUSPENDED_AT_18
    return Code.NO_CONSENT
