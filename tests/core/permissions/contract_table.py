"""A second reading of the permissions contract, as tables of rules over plain rows: the first that applies answers.

Written from the contract's text alone; it shares nothing with the core, not even the names of values.
"""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

DEFAULTS: dict[str, Any] = {
    "purpose": None,
    "by": None,
    "age": None,
    "digital_age": [16],
    "athlete": "none",
    "guardians": [],
    "evidence": 2,
    "named_recipient": True,
    "wording": "same",
    "expired": False,
    "joint_rule": False,
    "us_under_13": False,
    "days_since_digital_age": None,
    "turned_18_since_answer": False,
    "membership": "member",
    "restricted": False,
    "notice_shown": True,
    "objection": "none",
    "athlete_incapable": False,
    "withheld": False,
    "signed_in_as_giver": True,
    "own_case": False,
    "word_of": "none",
    "sender": "adult",
    "copy_to": "none",
    "hour": None,
    "emergency": False,
    "opted_out": False,
    "count": 0,
    "source": "other",
    "differencing": False,
    "days_kept": None,
    "days_stopped": None,
    "club_days": None,
    "reason_shown": False,
    "legal_hold": False,
}


def words(text: str) -> frozenset[str]:
    return frozenset(text.split())


MAY = words(
    """OWN_DATA LOG_REVIEW ANONYMOUS VITAL_INTERESTS MEMBERSHIP_BASIS CONSENT_OK CONTINUES_PENDING ATHLETE_PART
    ASSENT_ONLY GUARDIAN_PART PAPER_RECORDED STOP_NOW ON_BEHALF ERASE PARENTAL_VIEW CARER_VIEW ATHLETE_SHARES
    WELFARE_LEAD REPLY_ADDS_COPY ADULTS COPY_AFTERWARDS OPEN_COPY WITHIN_PERIOD"""
)
NEVER = words("publication pictures adverts profiling ranking research sale")
MEMBERSHIP = words("record availability feedback message")
# The table of purposes: who starts it, in class A (minor under the digital age), B (minor at or over it), C (adult).
TO_START = {
    "health": {"A": "guardian", "B": "athlete and guardian", "C": "athlete"},
    "share": {"A": "guardian", "B": "athlete", "C": "athlete"},
    "feed": {"A": "guardian", "B": "athlete", "C": "athlete"},
}
EVIDENCE = {"health": 2, "share": 1, "feed": 1}
NEEDS = {
    "coach": words("record availability message feedback health"),
    "coach_minor": words("record availability feedback"),
    "head_coach": words("record availability message share"),
    "coach_other": words("share"),
    "admin": words("record message"),
    "welfare": words("record message"),
    "emergency_access": words("health"),
    "athlete": words("feed"),
    "guardian": words("feed"),
}
NEEDED_BY_MEMBERS = words("record plan attendance log availability")
PERIODS = {
    "health": 365,
    "feedback": 730,
    "plan": 730,
    "attendance": 730,
    "log": 730,
    "availability": 14,
    "message": 365,
    "consent_evidence": 1096,
    "audit": 731,
    "invitation": 14,
    "export": 7,
    "sign_in": 180,
    "backup": 35,
}

Rule = tuple[str, Callable[["View"], Any]]


class View(SimpleNamespace):
    """One row with its defaults, and the few words that the contract defines once."""

    def __init__(self, row: dict[str, Any]) -> None:
        super().__init__(**(DEFAULTS | row))
        years = 9 if self.age is None else self.age
        self.kind = "C" if years >= 18 else "B" if years >= max(self.digital_age) else "A"
        people = [(p.get("stance", "none"), p.get("authority", "unverified")) for p in self.guardians]
        self.full = {stance for stance, authority in people if authority == "full"}
        self.first = people[0][1] if people else "unverified"
        self.us = self.us_under_13 and years <= 12
        self.yes = self.athlete == "yes"
        self.says_no = self.athlete in ("no", "withdrawn")


def always(_: View) -> bool:
    return True


def speaker(f: View) -> str:
    return f.word_of if f.by == "admin" else f.by


# --- use -------------------------------------------------------------------------------------------------------------
USE: list[Rule] = [
    ("OWN_DATA", lambda f: (f.purpose, f.by) == ("audit", "athlete")),
    ("LOG_REVIEW", lambda f: f.purpose == "audit" and f.by in ("admin", "welfare")),
    ("NOT_NEEDED_FOR_ROLE", lambda f: f.purpose == "audit"),
    ("OWN_DATA", lambda f: f.by == "athlete" and f.purpose not in ("feed", "stats")),
    ("RESTRICTED", lambda f: f.restricted),
    ("MEMBERSHIP_ENDED", lambda f: f.membership == "left"),
    ("ASSIGNMENT_ENDED", lambda f: f.by == "coach_ended"),
    ("TOO_FEW", lambda f: f.purpose == "stats" and f.count <= {"other": 4, "health": 9}[f.source]),
    ("DIFFERENCING", lambda f: f.purpose == "stats" and f.differencing),
    ("ANONYMOUS", lambda f: f.purpose == "stats"),
    ("NOT_NEEDED_FOR_ROLE", lambda f: f.purpose not in NEEDS.get(f.by, ())),
    ("NOT_NEEDED_FOR_ROLE", lambda f: f.by == "guardian" and first_code(VIEW, f, purpose="plan") not in MAY),
    ("VITAL_INTERESTS", lambda f: f.by == "emergency_access" and f.athlete_incapable),
    ("NOT_AN_EMERGENCY", lambda f: f.by == "emergency_access"),
    ("NOTICE_FIRST", lambda f: f.purpose in MEMBERSHIP and not f.notice_shown),
    ("PARENT_CONSENT_US", lambda f: f.purpose in MEMBERSHIP and f.us and not us_rule_met(f)),
    ("OBJECTION_UPHELD", lambda f: f.purpose == "feedback" and f.objection == "upheld"),
    ("MEMBERSHIP_BASIS", lambda f: f.purpose in MEMBERSHIP),
    ("ATHLETE_SAYS_NO", lambda f: f.says_no),
    ("EXPIRED", lambda f: f.expired),
    ("NEW_WORDING", lambda f: f.wording == "material_change"),
    ("GUARDIAN_SAYS_NO", lambda f: f.kind != "C" and f.full & {"no", "withdrawn"}),
    ("NO_GUARDIAN_CONSENT", lambda f: "guardian" in TO_START[f.purpose][f.kind] and "yes" not in f.full),
    ("EVIDENCE_TOO_WEAK", lambda f: f.evidence < EVIDENCE[f.purpose]),
    ("JOINT_NEEDED", lambda f: f.kind == "A" and f.joint_rule and f.athlete == "none"),
    ("NO_CONSENT", lambda f: f.kind == "B" and not f.yes and not ("yes" in f.full and is_number(f))),
    ("JOINT_NEEDED", lambda f: f.kind == "B" and f.athlete == "none" and f.joint_rule),
    ("CONFIRM_OVERDUE", lambda f: f.kind == "B" and not f.yes and f.days_since_digital_age >= 91),
    ("SUSPENDED_AT_18", lambda f: f.kind == "C" and not f.yes and f.turned_18_since_answer and "yes" in f.full),
    ("NO_CONSENT", lambda f: f.kind == "C" and not f.yes),
    ("NOT_A_NAMED_RECIPIENT", lambda f: not f.named_recipient),
    ("CONTINUES_PENDING", lambda f: f.kind == "B" and not f.yes),
    ("CONSENT_OK", always),
]


def us_rule_met(f: View) -> bool:
    return f.full - {"none"} == {"yes"} and f.evidence == 2


def is_number(f: View) -> bool:
    return f.days_since_digital_age is not None


# --- the guardian's view ---------------------------------------------------------------------------------------------
VIEW: list[Rule] = [
    ("GUARDIAN_UNVERIFIED", lambda f: f.first == "unverified"),
    ("GUARDIAN_NO_AUTHORITY", lambda f: f.first == "limited"),
    ("ATHLETE_SHARES", lambda f: f.kind == "C" and f.yes),
    ("ADULT_DECIDES", lambda f: f.kind == "C"),
    ("WITHHELD_FOR_CHILD", lambda f: f.withheld),
    ("CARER_VIEW", lambda f: f.first == "care" and f.purpose in ("plan", "availability", "message")),
    ("GUARDIAN_NO_AUTHORITY", lambda f: f.first == "care"),
    ("ATHLETE_SAYS_NO", lambda f: (f.kind, f.purpose) == ("B", "feedback") and f.says_no),
    ("ATHLETE_MUST_AGREE", lambda f: f.kind == "B" and f.purpose in ("health", "audit") and not f.yes),
    ("PARENTAL_VIEW", always),
]

# --- who speaks, then what -------------------------------------------------------------------------------------------
SPEAKS: list[Rule] = [
    ("OTHER_CONTROLLER", lambda f: f.by == "import" and f.act in ("answer", "withdraw")),
    ("NOT_ENTITLED", lambda f: f.by not in ("athlete", "guardian", "admin")),
    ("NOT_ENTITLED", lambda f: f.by == "admin" and (f.word_of == "none" or f.own_case)),
    ("WRONG_SESSION", lambda f: f.by != "admin" and f.act != "withdraw" and not f.signed_in_as_giver),
    ("GUARDIAN_UNVERIFIED", lambda f: speaker(f) == "guardian" and f.first == "unverified"),
    ("GUARDIAN_NO_AUTHORITY", lambda f: speaker(f) == "guardian" and f.first in ("limited", "care")),
    ("ADULT_DECIDES", lambda f: speaker(f) == "guardian" and f.kind == "C" and f.act != "export"),
]


def is_question(f: View) -> bool:
    """An optional purpose, or a guardian's on record where the US rule bites."""
    return f.purpose in TO_START or (f.purpose == "record" and speaker(f) == "guardian" and f.us)


TABLES: dict[str, list[Rule]] = {
    "use": USE,
    "answer": [
        *SPEAKS,
        ("NOT_ASKED", lambda f: not is_question(f)),
        ("ASSENT_ONLY", lambda f: speaker(f) == "athlete" and f.kind == "A"),
        ("PAPER_RECORDED", lambda f: f.by == "admin"),
        ("ATHLETE_PART", lambda f: f.by == "athlete"),
        ("GUARDIAN_PART", lambda f: f.by == "guardian"),
    ],
    "withdraw": [*SPEAKS, ("OBJECTION_ROUTE", lambda f: not is_question(f)), ("STOP_NOW", always)],
    "view_as_guardian": VIEW,
    "message": [
        ("MEMBERSHIP_ENDED", lambda f: f.membership == "left"),
        ("ASSIGNMENT_ENDED", lambda f: f.by == "coach_ended"),
        ("NOT_NEEDED_FOR_ROLE", lambda f: f.by == "coach_other"),
        ("REPLY_ADDS_COPY", lambda f: f.sender == "minor" and f.by != "coach_minor"),
        ("ADULTS", lambda f: f.kind == "C" and f.by != "coach_minor"),
        ("COPY_AFTERWARDS", lambda f: f.emergency),
        ("OPEN_COPY_NEEDED", lambda f: f.copy_to == "none"),
        ("GUARDIAN_OPTED_OUT", lambda f: f.opted_out),
        ("QUIET_HOURS", lambda f: f.hour is None or f.hour in (21, 22, 23, 0, 1, 2, 3, 4, 5, 6, 7)),
        ("OPEN_COPY", always),
    ],
    "export": [
        *SPEAKS,
        ("OWN_DATA", lambda f: speaker(f) == "athlete"),
        ("ON_BEHALF", lambda f: f.kind == "C" and f.yes),
        ("ADULT_DECIDES", lambda f: f.kind == "C"),
        ("WITHHELD_FOR_CHILD", lambda f: f.withheld),
        ("ON_BEHALF", lambda f: f.kind == "A" or f.yes),
        ("HUMAN_DECIDES", always),
    ],
    "erase": [
        *SPEAKS,
        ("PROOF_KEPT", lambda f: f.purpose in ("consent_evidence", "audit", "message")),
        ("LEGAL_HOLD", lambda f: f.legal_hold),
        ("ATHLETE_MUST_AGREE", lambda f: speaker(f) == "guardian" and f.kind != "A" and not f.yes),
        ("OBJECTION_ROUTE", lambda f: f.membership == "member" and f.purpose in NEEDED_BY_MEMBERS),
        ("ERASE", always),
    ],
    "keep": [
        ("LEGAL_HOLD", lambda f: f.legal_hold and f.purpose not in ("invitation", "export", "backup")),
        ("PERIOD_OVER", lambda f: f.purpose in PERIODS and f.days_kept > period(f)),
        ("PERIOD_OVER", lambda f: f.purpose in ("health", "record") and (f.days_stopped or 0) > 30),
        ("WITHIN_PERIOD", always),
    ],
    "withhold": [
        ("NOT_ENTITLED", lambda f: f.by != "welfare" or f.own_case),
        ("ADULT_DECIDES", lambda f: f.kind == "C"),
        ("WELFARE_LEAD", always),
    ],
}


def period(f: View) -> int:
    """`club_days` replaces a period: a longer one only with its reason, a shorter one not for what is proof."""
    usual = PERIODS[f.purpose]
    own = usual if f.club_days is None else f.club_days
    if own > usual and not f.reason_shown:
        return usual
    if own < usual and f.purpose in ("consent_evidence", "audit", "message"):
        return usual
    return int(own)


def first_code(table: list[Rule], f: View, **changed: Any) -> str:
    if changed:
        f = View({name: f.__dict__[name] for name in ("act", *DEFAULTS)} | changed)
    for code, applies in table:
        if applies(f):
            return code
    raise AssertionError(f"no rule of the contract answers {f.__dict__}")


def answer(row: dict[str, Any]) -> tuple[bool, str]:
    """May it be done, and the code; for a row of plain facts without faults."""
    if row.get("purpose") in NEVER:
        return False, "NEVER"
    code = first_code(TABLES[row["act"]], View(row))
    return code in MAY or (row["act"], code) == ("keep", "LEGAL_HOLD"), code


# --- dated facts -----------------------------------------------------------------------------------------------------
def plain(row: dict[str, Any]) -> dict[str, Any]:
    """The row with its dated facts turned into plain ones, by looking the birthdays up one after the other."""
    row = dict(row)
    now, zone, until = row.pop("now", None), row.pop("zone", "UTC"), row.pop("until", None)
    born, answered = row.pop("born", None), row.pop("answered", None)
    if now is None:
        return row
    wall = datetime.fromisoformat(now).astimezone(ZoneInfo(zone))
    today = wall.date()
    row["hour"] = wall.hour
    if until is not None:
        row["expired"] = datetime.fromisoformat(until) <= datetime.fromisoformat(now)
    if born is not None:
        birthdays = birthdays_until(date.fromisoformat(born), today)
        row["age"] = len(birthdays)
        if answered is not None:
            come = coming_of_age(birthdays, date.fromisoformat(answered))
            reached = come.get(max(row.get("digital_age", [16])))
            row["days_since_digital_age"] = None if reached is None else (today - reached).days
            row["turned_18_since_answer"] = 18 in come
    return row


def birthdays_until(born: date, today: date) -> list[date]:
    """First to last; the day after 28 February is the birthday of those born on the 29th."""
    found = []
    for year in range(born.year + 1, today.year + 1):
        before = date(year, born.month, min(born.day, 28))
        day = before + timedelta(days=born.day - before.day)
        if day <= today:
            found.append(day)
    return found


def coming_of_age(birthdays: list[date], answered: date) -> dict[int, date]:
    """The birthdays after the answer, by the age that they bring."""
    return {age: day for age, day in enumerate(birthdays, start=1) if day > answered}
