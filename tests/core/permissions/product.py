"""Every combination of the facts that an act reads, as slices small enough to walk through whole."""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.sizes import LONG

MOST_ROWS = 2_000_000
LEAST_ROWS = 20_000
SOME_ROWS = 5_000

Row = dict[str, Any]

BOOL = (False, True)
ROLES = (
    "athlete",
    "guardian",
    "coach",
    "coach_ended",
    "coach_minor",
    "coach_other",
    "head_coach",
    "admin",
    "welfare",
    "emergency_access",
    "import",
)
ATHLETE = ("none", "assent", "yes", "no", "withdrawn")
STANCES = ("none", "yes", "no", "withdrawn")
AUTHORITIES = ("full", "care", "limited", "unverified")
PERSONS = tuple({"stance": stance, "authority": authority} for authority in AUTHORITIES for stance in STANCES)
MEMBERSHIP_PURPOSES = ("record", "availability", "feedback", "message")
OPTIONAL_PURPOSES = ("health", "share", "feed")
THE_EIGHT = (*MEMBERSHIP_PURPOSES, *OPTIONAL_PURPOSES, "stats")
ERASED = ("health", "feedback", "record", "plan", "attendance", "log", "availability", "message", "consent_evidence")
# Just under and at the ages that count: 13 for the United States rule, each digital age, 18; and unknown.
AGES = (
    (None, [16]),
    (9, [13]),
    (12, [13]),
    (13, [13]),
    (13, [16]),
    (15, [13, 16]),
    (16, [16, 13]),
    (17, [18]),
    (17, [13]),
    (18, [18]),
)
DAYS_SINCE = (None, 0, 90, 91)
HOURS = (None, 0, 7, 8, 20, 21, 23)
# The days after which each kind goes, and the days before and after.
DAYS_KEPT = (0, 7, 8, 14, 15, 35, 36, 50, 51, 180, 181, 365, 366, 730, 731, 732, 1096, 1097, 2000, 2001)
COUNTS = (0, 4, 5, 9, 10, 1_000_000_000)

EVERY_FACT: dict[str, tuple[Any, ...]] = {
    "by": ROLES,
    "ages": AGES,
    "athlete": ATHLETE,
    "first": (None, *PERSONS),
    "second": (None, *PERSONS),
    "evidence": (1, 2),
    "named_recipient": BOOL,
    "wording": ("same", "minor_change", "material_change"),
    "expired": BOOL,
    "joint_rule": BOOL,
    "us_under_13": BOOL,
    "days_since_digital_age": DAYS_SINCE,
    "turned_18_since_answer": BOOL,
    "membership": ("member", "left"),
    "restricted": BOOL,
    "notice_shown": BOOL,
    "objection": ("none", "upheld"),
    "athlete_incapable": BOOL,
    "withheld": BOOL,
    "signed_in_as_giver": BOOL,
    "own_case": BOOL,
    "word_of": ("none", "athlete", "guardian"),
    "sender": ("adult", "minor"),
    "copy_to": ("none", "guardian", "second_adult"),
    "hour": HOURS,
    "emergency": BOOL,
    "opted_out": BOOL,
    "count": COUNTS,
    "source": ("other", "health"),
    "differencing": BOOL,
    "days_kept": DAYS_KEPT,
    "days_stopped": (None, 0, 30, 31),
    "club_days": (None, 0, 10, 50, 1000, 2000),
    "reason_shown": BOOL,
    "legal_hold": BOOL,
}
CONSENT_FACTS = ("ages", "athlete", "first", "second", "joint_rule", "days_since_digital_age", "named_recipient")
# In making a row, these stand for other fields: one pair of age and digital ages, and up to two guardians.
COMPOSED = {"ages": ("age", "digital_age"), "first": ("guardians",), "second": ("guardians",)}
# One age on each side of each bound that consent knows.
CONSENT_AGES = ("ages", ((None, [16]), (12, [13]), (13, [13]), (15, [13, 16]), (17, [13]), (18, [18])))
STILL_HERE = (("restricted", (False,)), ("membership", ("member",)))


@dataclass(frozen=True)
class Slice:
    """The whole product of `whole` for one act; the other facts are drawn anew for each row from a fixed seed."""

    name: str
    act: str
    purposes: tuple[str | None, ...]
    whole: tuple[str, ...]
    narrowed: tuple[tuple[str, tuple[Any, ...]], ...] = ()
    """Facts of which only some values are combined here, since the others are answered by an earlier rule."""

    @property
    def domains(self) -> dict[str, tuple[Any, ...]]:
        return EVERY_FACT | dict(self.narrowed)

    @property
    def size(self) -> int:
        return len(self.purposes) * math.prod(len(self.domains[fact]) for fact in self.whole)

    @property
    def drawn(self) -> dict[str, tuple[Any, ...]]:
        return {fact: values for fact, values in self.domains.items() if fact not in self.whole}

    def rows(self, most: int = SOME_ROWS) -> Iterator[Row]:
        """Each row with TEAMTRACK_LONG=1, else about so many spread over all, at places drawn from a fixed seed.

        A small slice is walked through several times, so that the drawn facts meet each other.
        """
        step = 1 if LONG else -(-self.size // most)
        for chosen in self.choices(step, LEAST_ROWS if LONG else most):
            yield _row(self.act, chosen)

    def choices(self, step: int, least: int = LEAST_ROWS) -> Iterator[Row]:
        """One of every `step` combinations of values, at least so many, before they are made rows."""
        places = random.Random(self.name)
        rest = _drawn_rows(self.drawn, random.Random(self.name + " drawn"))
        for start in range(0, max(self.size, least * step), step):
            yield self._whole_at((start + places.randrange(step)) % self.size) | next(rest)

    def _whole_at(self, number: int) -> Row:
        number, place = divmod(number, len(self.purposes))
        chosen: Row = {"purpose": self.purposes[place]}
        for fact in self.whole:
            values = self.domains[fact]
            number, place = divmod(number, len(values))
            chosen[fact] = values[place]
        return chosen


def _drawn_rows(domains: dict[str, tuple[Any, ...]], source: random.Random) -> Iterator[Row]:
    """Without end: combinations of the facts that are not walked through whole."""
    pool = [{fact: source.choice(values) for fact, values in domains.items()} for _ in range(4_999)]
    while True:
        yield from pool


def _row(act: str, chosen: Row) -> Row:
    row = {fact: value for fact, value in chosen.items() if fact not in COMPOSED}
    row["act"] = act
    row["age"], row["digital_age"] = chosen["ages"]
    row["guardians"] = [person for person in (chosen["first"], chosen["second"]) if person is not None]
    return {field: value for field, value in row.items() if value is not None or field not in ("purpose", "by")}


SLICES = (
    Slice(
        "use: who and what",
        "use",
        (*THE_EIGHT, "audit"),
        ("by", "ages", "athlete", "first", "restricted", "membership", "notice_shown", "athlete_incapable"),
    ),
    Slice(
        "use on membership",
        "use",
        MEMBERSHIP_PURPOSES,
        ("ages", "us_under_13", "first", "second", "evidence", "notice_shown", "objection"),
        (
            ("by", ("coach", "head_coach", "coach_minor", "admin")),
            *STILL_HERE,
        ),
    ),
    Slice(
        "use of health",
        "use",
        ("health",),
        (*CONSENT_FACTS, "evidence", "turned_18_since_answer"),
        (("by", ("coach",)), CONSENT_AGES, *STILL_HERE, ("expired", (False, False, True))),
    ),
    Slice(
        "use of share",
        "use",
        ("share",),
        (*CONSENT_FACTS, "evidence", "turned_18_since_answer"),
        (("by", ("coach_other", "head_coach")), CONSENT_AGES, *STILL_HERE),
    ),
    Slice(
        "use of a feed",
        "use",
        ("feed",),
        (*CONSENT_FACTS, "by", "withheld"),
        (("by", ("athlete", "guardian")), CONSENT_AGES, *STILL_HERE),
    ),
    Slice(
        "use: what ends an answer",
        "use",
        OPTIONAL_PURPOSES,
        ("by", "ages", "athlete", "first", "wording", "expired", "named_recipient", "evidence"),
        (
            ("by", ("coach", "coach_other", "athlete", "guardian", "emergency_access")),
            ("second", (None,)),
            *STILL_HERE,
        ),
    ),
    Slice(
        "use of stats",
        "use",
        ("stats",),
        ("by", "count", "source", "differencing", "restricted", "membership"),
        (("by", (None, *ROLES)),),
    ),
    Slice(
        "answer",
        "answer",
        THE_EIGHT,
        ("by", "word_of", "own_case", "signed_in_as_giver", "ages", "us_under_13", "first"),
    ),
    Slice(
        "withdraw",
        "withdraw",
        THE_EIGHT,
        ("by", "word_of", "own_case", "signed_in_as_giver", "ages", "us_under_13", "first"),
    ),
    Slice(
        "export",
        "export",
        (None,),
        ("by", "word_of", "own_case", "signed_in_as_giver", "ages", "first", "athlete", "withheld"),
    ),
    Slice(
        "erase",
        "erase",
        (*ERASED, "audit"),
        ("by", "word_of", "own_case", "signed_in_as_giver", "ages", "first", "athlete", "membership", "legal_hold"),
        (("first", (None, *PERSONS[::4])), ("by", ("athlete", "guardian", "admin", "coach", "import"))),
    ),
    Slice(
        "view as guardian",
        "view_as_guardian",
        ("record", "plan", "availability", "message", "feedback", "health", "audit"),
        ("ages", "athlete", "withheld", "first", "second"),
        (("by", (None, *ROLES)),),
    ),
    Slice(
        "message",
        "message",
        (None,),
        ("by", "sender", "copy_to", "hour", "emergency", "opted_out", "membership", "ages"),
        (("by", (None, *ROLES)),),
    ),
    Slice(
        "keep",
        "keep",
        (*ERASED, "audit", "invitation", "export", "sign_in", "backup"),
        ("days_kept", "days_stopped", "club_days", "reason_shown", "legal_hold"),
        (("by", (None, *ROLES)),),
    ),
    Slice("withhold", "withhold", (None,), ("by", "own_case", "ages")),
)
