"""How long may something be kept?"""

from __future__ import annotations

from athletes.core.permissions.codes import Code
from athletes.core.permissions.facts import Facts, Purpose

PERIOD_DAYS = {
    Purpose.HEALTH: 365,
    Purpose.FEEDBACK: 730,
    Purpose.PLAN: 730,
    Purpose.ATTENDANCE: 730,
    Purpose.LOG: 730,
    Purpose.AVAILABILITY: 14,
    Purpose.MESSAGE: 365,
    Purpose.CONSENT_EVIDENCE: 1096,
    Purpose.AUDIT: 731,
    Purpose.INVITATION: 14,
    Purpose.EXPORT: 7,
    Purpose.SIGN_IN: 180,
    Purpose.BACKUP: 35,
}
"""Days that a kind of data is kept (the permissions contract); the record has no period while one is a member."""

DAYS_AFTER_STOP = 30
"""Days that health still stays once permission ended, and the record once somebody left (the permissions contract)."""

NOT_HELD = frozenset({Purpose.INVITATION, Purpose.EXPORT, Purpose.BACKUP})
ENDS_AFTER_STOP = frozenset({Purpose.HEALTH, Purpose.RECORD})
NEVER_SHORTER = frozenset({Purpose.CONSENT_EVIDENCE, Purpose.AUDIT, Purpose.MESSAGE})


def keep(facts: Facts) -> Code:
    """May it stay? The first rule that applies answers."""
    if facts.legal_hold and facts.purpose not in NOT_HELD:
        return Code.LEGAL_HOLD
    if _is_over_period(facts) or _is_over_stop(facts):
        return Code.PERIOD_OVER
    return Code.WITHIN_PERIOD


def period_days(purpose: Purpose, *, club_days: int | None, reason_shown: bool) -> int | None:
    """Days that `purpose` may be kept in this club; none where there is no period.

    The club's own period counts where it is longer only if its reason stands in the notice, and where it is shorter
    not for what is proof.
    """
    usual = PERIOD_DAYS.get(purpose)
    if usual is None or club_days is None:
        return usual
    if club_days > usual:
        return club_days if reason_shown else usual
    return usual if purpose in NEVER_SHORTER else club_days


def _is_over_period(facts: Facts) -> bool:
    assert facts.purpose is not None and facts.days_kept is not None  # facts of keeping are never without
    period = period_days(facts.purpose, club_days=facts.club_days, reason_shown=facts.reason_shown)
    return period is not None and facts.days_kept > period


def _is_over_stop(facts: Facts) -> bool:
    stopped = facts.days_stopped
    return facts.purpose in ENDS_AFTER_STOP and stopped is not None and stopped > DAYS_AFTER_STOP
