"""The facts that a permission rests on: who asks for what about whom, and who answered what."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from athletes.core import ages


class Act(StrEnum):
    """What somebody wants to do."""

    USE = "use"
    ANSWER = "answer"
    WITHDRAW = "withdraw"
    VIEW_AS_GUARDIAN = "view_as_guardian"
    MESSAGE = "message"
    EXPORT = "export"
    ERASE = "erase"
    KEEP = "keep"
    WITHHOLD = "withhold"


class Purpose(StrEnum):
    """What it is for, or which kind of data it touches."""

    RECORD = "record"
    AVAILABILITY = "availability"
    FEEDBACK = "feedback"
    MESSAGE = "message"
    HEALTH = "health"
    SHARE = "share"
    FEED = "feed"
    STATS = "stats"
    AUDIT = "audit"
    PLAN = "plan"
    ATTENDANCE = "attendance"
    LOG = "log"
    CONSENT_EVIDENCE = "consent_evidence"
    INVITATION = "invitation"
    EXPORT = "export"
    SIGN_IN = "sign_in"
    BACKUP = "backup"
    PUBLICATION = "publication"
    PICTURES = "pictures"
    ADVERTS = "adverts"
    PROFILING = "profiling"
    RANKING = "ranking"
    RESEARCH = "research"
    SALE = "sale"


MEMBERSHIP_PURPOSES = frozenset({Purpose.RECORD, Purpose.AVAILABILITY, Purpose.FEEDBACK, Purpose.MESSAGE})
OPTIONAL_PURPOSES = frozenset({Purpose.HEALTH, Purpose.SHARE, Purpose.FEED})
NEVER_PURPOSES = frozenset(
    {
        Purpose.PUBLICATION,
        Purpose.PICTURES,
        Purpose.ADVERTS,
        Purpose.PROFILING,
        Purpose.RANKING,
        Purpose.RESEARCH,
        Purpose.SALE,
    }
)

_ASKED = MEMBERSHIP_PURPOSES | OPTIONAL_PURPOSES | {Purpose.STATS}
_ERASED = MEMBERSHIP_PURPOSES | {
    Purpose.HEALTH,
    Purpose.PLAN,
    Purpose.ATTENDANCE,
    Purpose.LOG,
    Purpose.CONSENT_EVIDENCE,
    Purpose.AUDIT,
}

PURPOSES_OF_ACT = {
    Act.USE: _ASKED | {Purpose.AUDIT},
    Act.ANSWER: _ASKED,
    Act.WITHDRAW: _ASKED,
    Act.VIEW_AS_GUARDIAN: MEMBERSHIP_PURPOSES | {Purpose.PLAN, Purpose.HEALTH, Purpose.AUDIT},
    Act.ERASE: _ERASED,
    Act.KEEP: _ERASED | {Purpose.INVITATION, Purpose.EXPORT, Purpose.SIGN_IN, Purpose.BACKUP},
}
"""Which purposes go with an act; an act that is not here reads none."""

ACTS_WITHOUT_ROLE = frozenset({Act.VIEW_AS_GUARDIAN, Act.MESSAGE, Act.KEEP})


class Role(StrEnum):
    """In which one role somebody acts in this request."""

    ATHLETE = "athlete"
    GUARDIAN = "guardian"
    COACH = "coach"
    COACH_ENDED = "coach_ended"
    COACH_MINOR = "coach_minor"
    COACH_OTHER = "coach_other"
    HEAD_COACH = "head_coach"
    ADMIN = "admin"
    WELFARE = "welfare"
    EMERGENCY_ACCESS = "emergency_access"
    IMPORT = "import"


class Stance(StrEnum):
    """An answer in force. `assent` is an athlete's alone: a yes said under the digital age, now past."""

    NONE = "none"
    ASSENT = "assent"
    YES = "yes"
    NO = "no"
    WITHDRAWN = "withdrawn"


STOPS = frozenset({Stance.NO, Stance.WITHDRAWN})


class Authority(StrEnum):
    """What a guardian may decide."""

    FULL = "full"
    CARE = "care"
    LIMITED = "limited"
    UNVERIFIED = "unverified"


class Wording(StrEnum):
    """What became of the wording since the answers."""

    SAME = "same"
    MINOR_CHANGE = "minor_change"
    MATERIAL_CHANGE = "material_change"


class Membership(StrEnum):
    MEMBER = "member"
    LEFT = "left"


class Objection(StrEnum):
    NONE = "none"
    UPHELD = "upheld"


class WordOf(StrEnum):
    """Whose signed paper, or spoken stop, an admin enters."""

    NONE = "none"
    ATHLETE = "athlete"
    GUARDIAN = "guardian"


class Sender(StrEnum):
    """Who writes; `minor` is the athlete."""

    ADULT = "adult"
    MINOR = "minor"


class CopyTo(StrEnum):
    """Where a copy goes that counts: to a guardian (full or care, not withheld) or an adult who is not the sender."""

    NONE = "none"
    GUARDIAN = "guardian"
    SECOND_ADULT = "second_adult"


class Source(StrEnum):
    """What club numbers are counted from; `health` also where it is availability."""

    OTHER = "other"
    HEALTH = "health"


DIGITAL_AGE_WHEN_UNSAID = (16,)


class FactError(ValueError):
    """A fact that is unknown, missing, or does not go with the others; `field` names it."""

    def __init__(self, field: str, problem: str) -> None:
        super().__init__(f"field {field}: {problem}")
        self.field = field
        self.problem = problem


@dataclass(frozen=True, slots=True)
class Guardian:
    """One guardian: the answer to this purpose, and the right to give one."""

    stance: Stance = Stance.NONE
    authority: Authority = Authority.UNVERIFIED


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that one decision rests on, in the order of the permissions contract.

    An act reads only the facts it needs; the others change nothing. Raises FactError where the purpose does not
    go with the act, or a role or number of days that the act needs is missing.
    """

    act: Act
    purpose: Purpose | None = None
    by: Role | None = None
    age: int | None = None
    digital_age: tuple[int, ...] = DIGITAL_AGE_WHEN_UNSAID
    athlete: Stance = Stance.NONE
    guardians: tuple[Guardian, ...] = ()
    evidence: int = 2
    named_recipient: bool = True
    wording: Wording = Wording.SAME
    expired: bool = False
    joint_rule: bool = False
    us_under_13: bool = False
    days_since_digital_age: int | None = None
    turned_18_since_answer: bool = False
    membership: Membership = Membership.MEMBER
    restricted: bool = False
    notice_shown: bool = True
    objection: Objection = Objection.NONE
    athlete_incapable: bool = False
    withheld: bool = False
    signed_in_as_giver: bool = True
    own_case: bool = False
    word_of: WordOf = WordOf.NONE
    sender: Sender = Sender.ADULT
    copy_to: CopyTo = CopyTo.NONE
    hour: int | None = None
    emergency: bool = False
    opted_out: bool = False
    count: int = 0
    source: Source = Source.OTHER
    differencing: bool = False
    days_kept: int | None = None
    days_stopped: int | None = None
    club_days: int | None = None
    reason_shown: bool = False
    legal_hold: bool = False

    def __post_init__(self) -> None:
        if self.purpose in NEVER_PURPOSES:
            return
        if self.act in PURPOSES_OF_ACT:
            if self.purpose is None:
                raise FactError("purpose", "is missing")
            if self.purpose not in PURPOSES_OF_ACT[self.act]:
                raise FactError("purpose", f"{self.purpose} does not go with the act {self.act}")
        if self.by is None and self.act not in ACTS_WITHOUT_ROLE and not self._is_use_of_stats:
            raise FactError("by", "is missing")
        if self.days_kept is None and self.act is Act.KEEP:
            raise FactError("days_kept", "is missing")

    @property
    def _is_use_of_stats(self) -> bool:
        return self.act is Act.USE and self.purpose is Purpose.STATS

    @property
    def has_left(self) -> bool:
        return self.membership is Membership.LEFT

    @property
    def is_adult(self) -> bool:
        return not ages.is_minor(self.age)

    @property
    def is_under_digital_age(self) -> bool:
        return ages.counted_age(self.age) < ages.highest_digital_age(self.digital_age)

    @property
    def us_rule_bites(self) -> bool:
        return self.us_under_13 and ages.is_under_13(self.age)

    @property
    def athlete_says_yes(self) -> bool:
        return self.athlete is Stance.YES

    @property
    def athlete_stops(self) -> bool:
        return self.athlete in STOPS

    @property
    def full_guardian_says_yes(self) -> bool:
        return any(guardian.stance is Stance.YES for guardian in self._full_guardians)

    @property
    def full_guardian_stops(self) -> bool:
        return any(guardian.stance in STOPS for guardian in self._full_guardians)

    @property
    def _full_guardians(self) -> list[Guardian]:
        """Those whose word grants or blocks."""
        return [guardian for guardian in self.guardians if guardian.authority is Authority.FULL]

    @property
    def acting_authority(self) -> Authority:
        """Of the guardian who acts: the first; unverified where nobody is linked."""
        return self.guardians[0].authority if self.guardians else Authority.UNVERIFIED
